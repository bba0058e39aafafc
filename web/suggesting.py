"""What the confirmed cases suggest, for an instructor to make a rule of, or to dismiss."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.judged import MOST_JUDGED, readable, spread
from casebook.listing import listing
from casebook.problems import NotStorable
from casebook.progress import Progress
from casebook.suggestions import LONGEST_WHY, all_said, dismissed, say
from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Dough
from diagnose.learning.offering import Offers, Suggestion, offers
from diagnose.learning.suggesting import Draft
from diagnose.rejudging import rejudge

from .forms import FieldProblem, Fields, Form
from .lesson_words import working
from .lessons import Lesson, Lessons
from .paging import PAGE_LENGTH
from .signing_in import desk_page, require_instructor
from .site import Site, see_other
from .suggestion_words import headline, shown, text_of
from .told import form_key
from .works import Work, Works

VERDICTS = {"dismiss": "dismissed", "bring back": "brought back"}
GONE = "The cases do not suggest this any more. Look at what they suggest now."
ASK_WHY = f"Say why, in 1 to {LONGEST_WHY} characters, so that nobody has to ask again."


class Offering:
    """What the cases suggest, worked out once for a list of cases and a book."""

    def __init__(self, site: Site) -> None:
        self._site = site
        self._lessons = Lessons(site.store)
        self._works = Works()

    def work(self) -> Work[Offers] | Work[Lesson]:
        """The work, or the reading of the cases that it waits for."""
        book, dough = self._site.book, self._site.dough
        lesson = self._lessons.lesson(book, dough)
        if not lesson.wait():
            return lesson
        found = lesson.found

        def run(progress: Progress) -> Offers:
            ready = OpenBook(book).ready(dough.id)
            some = spread(readable(dough, found.records.cases), MOST_JUDGED)
            spoke: dict[str, frozenset[str]] = {}
            for done, one in enumerate(rejudge(ready, some, remedies=False)):
                progress("cases looked at", done, len(some))
                spoke[one.case.id] = one.spoke or frozenset()
            progress("patterns looked for", 0, 0)
            return offers(dough, ready.tables, found.learned, found.records.cases, spoke)

        return self._works.work((book.version, found.now.digest, "offers"), run)

    def rule_text(self, name: str) -> str | None:
        """The draft rule of a suggestion as an author would write it; None for no such pattern."""
        work = self.work()
        while not work.wait() or not isinstance(work.found, Offers):
            if work.failed:
                return None
            work = self.work()
        found = work.found.named(name)
        if found is None or not isinstance(found.about, Draft):
            return None
        return text_of(self._site.dough, found.about)


def suggesting(site: Site) -> APIRouter:
    """The pages of suggestions on the desk."""
    router = APIRouter(
        prefix="/desk/suggestions", include_in_schema=False, default_response_class=HTMLResponse
    )
    offering = Offering(site)

    def found(request: Request) -> Offers | Response:
        work = offering.work()
        if not work.wait() or not isinstance(work.found, Offers):
            return working(site, request, work)
        return work.found

    @router.get("")
    def every(request: Request, page: int = 1) -> Response:
        require_instructor(site, request)
        offers = found(request)
        if isinstance(offers, Response):
            return offers
        gone = dismissed(site.store, site.dough.id)
        open_ = [one for one in offers.suggestions if one.id not in gone]
        pages = max(1, -(-len(open_) // PAGE_LENGTH))
        if not 1 <= page <= pages:
            raise HTTPException(404, f"There are {pages} pages of these.")
        part = open_[(page - 1) * PAGE_LENGTH : page * PAGE_LENGTH]
        return desk_page(
            site,
            request,
            "suggestions.html",
            offers=offers,
            shipped=listing(site.store, site.dough.id).shipped,
            groups=grouped(site.dough, part),
            folded=[
                (one.id, headline(site.dough, one), gone[one.id], gone[one.id].digest != one.digest)
                for one in offers.suggestions
                if one.id in gone
            ]
            if page == 1
            else [],
            at=page,
            pages=pages,
        )

    @router.get("/{name}")
    def one(request: Request, name: str) -> Response:
        require_instructor(site, request)
        offers = found(request)
        if isinstance(offers, Response):
            return offers
        return whole(request, named(offers, name))

    @router.post("/{name}")
    def answer(request: Request, name: str, form: Form) -> Response:
        who = require_instructor(site, request)
        offers = found(request)
        if isinstance(offers, Response):
            return offers
        suggestion = named(offers, name)
        verdict = VERDICTS.get(form["say"])
        if verdict is None:
            raise HTTPException(422, "A suggestion can be dismissed, or brought back.")
        try:
            say(
                site.store,
                form_key(form["key"]),
                who,
                site.dough.id,
                suggestion.id,
                "dismissed" if verdict == "dismissed" else "brought back",
                form["why"],
                suggestion.digest,
                at=site.now(),
            )
        except NotStorable:
            return whole(request, suggestion, form, FieldProblem("why", ASK_WHY))
        return see_other("/desk/suggestions")

    def whole(
        request: Request,
        suggestion: Suggestion,
        form: Fields | None = None,
        problem: FieldProblem | None = None,
    ) -> Response:
        said = all_said(site.store, site.dough.id, suggestion.id)
        return desk_page(
            site,
            request,
            "suggestion.html",
            status=200 if problem is None else 422,
            shown=shown(site.dough, suggestion),
            said=said,
            gone=bool(said) and said[-1].verdict == "dismissed",
            more=bool(said) and said[-1].digest != suggestion.digest,
            why=(form or Fields())["why"],
            problems=() if problem is None else (problem,),
        )

    return router


def named(offers: Offers, name: str) -> Suggestion:
    """The suggestion of this name, or 404."""
    found = offers.named(name)
    if found is None:
        raise HTTPException(404, GONE)
    return found


def grouped(dough: Dough, some: list[Suggestion]) -> Mapping[str, list[tuple[str, str]]]:
    """Suggestions by kind, each with its headline."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for one in some:
        groups.setdefault(one.kind, []).append((one.id, headline(dough, one)))
    return groups
