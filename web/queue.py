"""The instructor's queue: one case a page, confirmed or corrected, with the keyboard alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.alike import alike
from casebook.cases import Case, Mark, UnknownCase, case, mark, marks, photos, queue
from casebook.problems import NotStorable
from diagnose.knowledge.book import Dough
from diagnose.knowledge.case import Verdict
from diagnose.reasoning.words import SOMETHING_ELSE

from . import wording
from .forms import FieldProblem, Fields, Form
from .signing_in import desk_page, require_instructor
from .site import Site, see_other
from .summary import OUTCOMES, remedy_in_words
from .told import form_key

OFFERED = 4
"""How many of the causes that the tool thought of are offered by themselves."""
NOT_IN_BOOK = "Something that the book does not have"
VERDICTS = {"confirmed": "Confirmed", "doubtful": "Doubtful", "same-as": "The same as another"}
NONE_CHOSEN = "Choose what it really was, or that it cannot be told."


@dataclass(frozen=True, slots=True)
class Saying:
    """What an instructor sent about a case."""

    verdict: Verdict
    causes: tuple[str, ...] = ()
    first_remedy: str | None = None
    other: str | None = None


def queue_pages(site: Site) -> APIRouter:
    """The queue on the desk."""
    router = APIRouter(
        prefix="/desk/queue", include_in_schema=False, default_response_class=HTMLResponse
    )

    def found_case(name: str) -> Case:
        try:
            return case(site.store, name)
        except UnknownCase as unknown:
            raise HTTPException(404, str(unknown)) from None

    @router.get("")
    def first(request: Request, after: str = "", marked: str = "") -> Response:
        require_instructor(site, request)
        try:
            heads = queue(site.store, after or None, count=1)
        except UnknownCase as unknown:
            raise HTTPException(404, str(unknown)) from None
        said = f"?{urlencode({'marked': marked})}" if marked else ""
        if heads:
            return see_other(f"/desk/queue/{heads[0].id}{said}")
        left = queue(site.store, None, count=1)
        return desk_page(site, request, "queue_empty.html", skipped=bool(left),
                         before=line_about(marked) if marked else None)  # fmt: skip

    @router.get("/{name}")
    def show(request: Request, name: str, marked: str = "", more: bool = False) -> Response:
        require_instructor(site, request)
        return page(request, found_case(name), marked, more)

    @router.post("/{name}")
    def say(request: Request, name: str, form: Form, more: bool = False) -> Response:
        who = require_instructor(site, request)
        kept = found_case(name)
        saying = read_saying(form, site.book.dough(kept.dough))
        if isinstance(saying, FieldProblem):
            return page(request, kept, "", more, form, [saying])
        try:
            mark(
                site.store,
                name,
                form_key(form["key"]),
                by=who,
                verdict=saying.verdict,
                causes=saying.causes,
                first_remedy=saying.first_remedy,
                other=saying.other,
            )
        except NotStorable as problem:
            return page(request, kept, "", more, form, [FieldProblem("other", str(problem))])
        # The next one behind this, so that a case that was skipped does not come back at once.
        return see_other(f"/desk/queue?{urlencode({'after': name, 'marked': name})}")

    def page(
        request: Request,
        kept: Case,
        marked: str,
        more: bool,
        form: Fields | None = None,
        problems: Sequence[FieldProblem] = (),
    ) -> Response:
        dough = site.book.dough(kept.dough)
        said = marks(site.store, kept.id)
        return desk_page(
            site,
            request,
            "queue.html",
            status=422 if problems else 200,
            case=kept,
            stage=stage_words(kept, dough),
            lines=told_lines(kept, dough),
            tried=tried_lines(kept, dough),
            outcome=OUTCOMES.get(kept.outcome or "", "Not told"),
            pictures=len(photos(site.store, kept.id)),
            offered=offered(kept, dough),
            causes=causes_of(kept, dough, more),
            more=more,
            remedies=remedies_of(kept, dough),
            advised=_advised(kept, dough),
            doubles=alike(site.store, kept.id),
            marks=[mark_line(one, dough) for one in said],
            before=line_about(marked) if marked else None,
            form=form or Fields(),
            problems=tuple(problems),
            not_in_book=NOT_IN_BOOK,
            unsure=SOMETHING_ELSE,
        )

    def line_about(name: str) -> tuple[str, str, str] | None:
        """(id, title, what was said) of a case that was just marked."""
        try:
            kept = case(site.store, name)
            last = marks(site.store, name)
        except UnknownCase:
            return None
        if not last:
            return None
        return kept.id, kept.title, mark_line(last[-1], site.book.dough(kept.dough))

    return router


def read_saying(form: Fields, dough: Dough | None) -> Saying | FieldProblem:
    """What a form says, or what is wrong with it."""
    # A cause chosen from the list says enough.
    kind, _, name = (form["say"] or ("another" if form["another"] else "")).partition(":")
    if kind == "doubtful":
        return Saying("doubtful")
    if kind == "same":
        other = name or form["other"]
        if not other:
            return FieldProblem("other", "Give the name of the case that stays, as in its address.")
        return Saying("same-as", other=other)
    if kind not in ("cause", "another"):
        return FieldProblem("say", NONE_CHOSEN)
    first = name if kind == "cause" else form["another"]
    if not first:
        return FieldProblem("another", "Choose the cause from the list.")
    known = {SOMETHING_ELSE, *(cause.id for cause in dough.causes)} if dough else set()
    second = form["second"]
    for field, cause in (("another", first), ("second", second)):
        if cause and cause not in known:
            return FieldProblem(field, f'The book has no cause "{cause}"; choose one of the list.')
    if second == first:
        return FieldProblem("second", "The second cause is the same as the first; leave it empty.")
    remedy = form["remedy"] or None
    if remedy is not None and (dough is None or all(r.id != remedy for r in dough.remedies)):
        return FieldProblem("remedy", f'The book has no remedy "{remedy}"; choose one of the list.')
    causes = (first, second) if second else (first,)
    return Saying("confirmed", causes, remedy)


def offered(kept: Case, dough: Dough | None) -> list[tuple[str, str, str]]:
    """The causes that the tool thought of: id, in words, how likely it found them."""
    says = cause_words(dough)
    thought = kept.thought.causes if kept.thought else ()
    return [
        (name, says[name], f"{round(chance * 100)} in 100")
        for name, chance in thought
        if name in says and name != SOMETHING_ELSE
    ][:OFFERED]


def cause_words(dough: Dough | None) -> dict[str, str]:
    """Causes in words, by id."""
    says = {cause.id: cause.say for cause in dough.causes} if dough else {}
    return {**says, SOMETHING_ELSE: NOT_IN_BOOK}


def stage_words(kept: Case, dough: Dough | None) -> str:
    """The stage of a case, in the book's words if it still has it."""
    titles = {stage.id: stage.title for stage in dough.stages} if dough else {}
    return titles.get(kept.stage, kept.stage.replace("-", " ")).lower()


def causes_of(kept: Case, dough: Dough | None, every: bool) -> list[tuple[str, str]]:
    """The causes that can show at the stage of a case, or every one: id and words, by words."""
    causes = dough.causes if dough else ()
    here = (c for c in causes if every or kept.stage in c.shows_at)
    return sorted(((cause.id, cause.say) for cause in here), key=lambda one: one[1])


def remedies_of(kept: Case, dough: Dough | None) -> list[tuple[str, str]]:
    """Remedies that may have been right to do first: id, in words; all that fit the stage."""
    if dough is None:
        return []
    here = {t.remedy for c in dough.causes if kept.stage in c.shows_at for t in c.tries}
    found = [(r.id, remedy_in_words(r, r.id)) for r in dough.remedies if r.id in here]
    return sorted(((name, says[:1].upper() + says[1:]) for name, says in found), key=lambda r: r[1])


def _advised(kept: Case, dough: Dough | None) -> str | None:
    name = kept.thought.first_remedy if kept.thought else None
    if name is None:
        return None
    remedy = next((r for r in dough.remedies if r.id == name), None) if dough else None
    return remedy_in_words(remedy, name)


def told_lines(kept: Case, dough: Dough | None) -> list[str]:
    """What was told, in the sentences of the day; of a case without any, in the book's words."""
    if kept.said or dough is None:
        return list(kept.said)
    signs = kept.situation.get("signs")
    told = signs if isinstance(signs, dict) else {}
    return [
        answer.say
        for sign in dough.signs
        for answer in sign.answers
        if told.get(sign.id) == answer.id
    ]


def tried_lines(kept: Case, dough: Dough | None) -> list[tuple[str, str]]:
    """What was done, and how it went."""
    values = [one.value for one in kept.told if one.kind == "tried"]
    if not values:
        for key in ("settled", "tried"):
            listed = kept.situation.get(key)
            values += listed if isinstance(listed, list) else []
    by_id = {remedy.id: remedy for remedy in dough.remedies} if dough else {}
    lines = []
    for value in values:
        if isinstance(value, dict):
            name, result = str(value.get("remedy")), str(value.get("result"))
            done = remedy_in_words(by_id.get(name), name)
            lines.append((done[:1].upper() + done[1:], wording.RESULTS.get(result, result)))
    return lines


def mark_line(one: Mark, dough: Dough | None) -> str:
    """A mark in words, without who and when."""
    if one.verdict == "confirmed":
        says = cause_words(dough)
        return "; ".join(says.get(name, name) for name in one.causes)
    if one.verdict == "same-as":
        return f"The same as {one.other}"
    return "Cannot be told"
