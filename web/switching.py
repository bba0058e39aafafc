"""The switch on the desk: what learning would change, shown first; then used, or stopped."""

from __future__ import annotations

import math

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.acts import acts, stop, use
from casebook.judged import TOO_FEW
from casebook.listing import listing
from diagnose.knowledge.book import Dough
from diagnose.learning.recalibrating import Common
from diagnose.reasoning.likelihood import asked_parts
from diagnose.reasoning.words import SOMETHING_ELSE

from .forms import Form
from .lesson_words import answer_of, ask_of, working
from .lessons import Lesson, Lessons
from .signing_in import desk_page, require_instructor
from .site import Site, see_other
from .told import form_key

MOST_SHOWN = 10
"""Changed words on one page; how many more there are is said."""
ACTS_SHOWN = 10


def switching(site: Site, lessons: Lessons) -> APIRouter:
    """The page of the switch."""
    router = APIRouter(
        prefix="/desk/learning", include_in_schema=False, default_response_class=HTMLResponse
    )

    @router.get("")
    def show(request: Request) -> Response:
        require_instructor(site, request)
        opening = lessons.opening()
        if opening is not None and not opening.wait():
            return working(site, request, opening)
        first = lessons.lesson(site.book, site.dough)
        if not first.wait():
            return working(site, request, first)
        lesson = first.found
        work = lessons.comparison(site.book, site.dough, lesson)
        if not work.wait():
            return working(site, request, work)
        found = work.found
        looks = {asked.id: asked for asked in asked_parts(site.dough)}
        says = {cause.id: cause.say for cause in site.dough.causes}
        return desk_page(
            site,
            request,
            "switching.html",
            lesson=lesson,
            found=found,
            few=lesson.learned.cases < TOO_FEW,
            same=lesson.act is not None and lesson.act.digest == lesson.now.digest,
            moved=[
                (row.id, says[row.cause], ask_of(looks[row.look]),
                 answer_of(looks[row.look], cell.answer), row.says(cell))
                for row, cell in found.moved[:MOST_SHOWN]
            ],
            more=len(found.moved) - min(len(found.moved), MOST_SHOWN),
            common=[_common(site.dough, one) for one in found.common[:MOST_SHOWN]],
            more_common=len(found.common) - min(len(found.common), MOST_SHOWN),
            surprise=surprise,
            acts=list(reversed(acts(site.store, site.dough.id)))[:ACTS_SHOWN],
        )  # fmt: skip

    @router.post("/use")
    def put_in_use(request: Request, form: Form) -> Response:
        who = require_instructor(site, request)
        press_needed(site)
        now = listing(site.store, site.dough.id)
        work = lessons.lesson(site.book, site.dough)
        if form["digest"] != now.digest or not work.wait() or work.found.now.digest != now.digest:
            raise HTTPException(
                409, "Cases were marked meanwhile, so nothing was changed. Look at it again."
            )
        if not work.found.learned.cases:
            raise HTTPException(409, "No case can be counted yet, so there is nothing to use.")
        use(site.store, form_key(form["key"]), who, now, work.found.learned.cases)
        return reopened(work.found)

    @router.post("/stop")
    def go_by_words(request: Request, form: Form) -> Response:
        who = require_instructor(site, request)
        press_needed(site)
        stop(site.store, form_key(form["key"]), who, site.dough.id)
        return reopened(None)

    def reopened(lesson: Lesson | None) -> Response:
        """Whoever comes next is answered by the book with what is in use from now on."""
        assert site.press is not None, "asked before the act"
        lessons.reopen(site.press, lesson).wait()
        return see_other("/desk/learning")

    return router


def surprise(loss: float | None) -> str:
    """A log loss with the share it amounts to.

    >>> surprise(0.6931)
    '0.69, as if it gave the truth 50 in 100'
    """
    if loss is None or math.isinf(loss):
        return "not to be said"
    return f"{loss:.2f}, as if it gave the truth {round(100 * math.exp(-loss))} in 100"


def press_needed(site: Site) -> None:
    """Raise 409 where the running book is one that nobody can change."""
    if site.press is None:
        raise HTTPException(409, "The book that is served here cannot be changed from the desk.")


def _common(dough: Dough, one: Common) -> tuple[str, str, str, str, int, int]:
    stage = next(stage.title for stage in dough.stages if stage.id == one.stage)
    says = {cause.id: cause.say for cause in dough.causes}
    says[SOMETHING_ELSE] = "Something else"
    return stage, says[one.cause], one.written, one.word, one.seen, one.of
