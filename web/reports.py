"""How well the book does, from confirmed cases: for everybody to read, with a table beside each."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from casebook.judged import TOO_FEW, Report
from diagnose.knowledge.book import Dough
from diagnose.learning.reporting import FEW_CASES, Share
from diagnose.reasoning.words import SOMETHING_ELSE

from . import summary
from .lesson_words import between, working
from .lessons import Lessons
from .site import Site
from .situation import questions

MOST_SHOWN = 12
"""Lines of a list on this page."""


def reports(site: Site, lessons: Lessons) -> APIRouter:
    """The page of reports."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/reports")
    def page(request: Request) -> Response:
        first = lessons.lesson(site.book, site.dough)
        if not first.wait():
            return working(site, request, first)
        lesson = first.found
        work = lessons.report(site.book, site.dough, lesson)
        if not work.wait():
            return working(site, request, work)
        found = work.found
        return site.page(
            request,
            "reports.html",
            lesson=lesson,
            report=found,
            few=found.cases < TOO_FEW,
            shares=shares(found),
            confused=confused(site.dough, found),
            questions=never_helped(site.dough, found),
            remedies=disappointing(site.dough, found),
            thin=thin(site.dough, found),
            few_cases=FEW_CASES,
        )

    return router


def shares(found: Report) -> list[tuple[str, int, int, str]]:
    """The four shares as bars: label, right, of, where the true share may lie."""
    rows = [
        ("First cause right, judged now", found.cause),
        ("First cause right, as thought then", found.cause_then),
        ("First remedy right, judged now", found.remedy),
        ("First remedy right, as advised then", found.remedy_then),
    ]
    return [(label, share.right, share.of, _note(share)) for label, share in rows]


def confused(dough: Dough, found: Report) -> list[tuple[str, str, int]]:
    """What was taken for what, most often first: (true, put first, cases)."""
    says = {cause.id: cause.say for cause in dough.causes}
    says[SOMETHING_ELSE] = "Something else"
    wrong = [one for one in found.confusion if one.true != one.first]
    return [
        (says.get(one.true, one.true), says.get(one.first, one.first), one.cases)
        for one in wrong[:MOST_SHOWN]
    ]


def never_helped(dough: Dough, found: Report) -> list[tuple[str, int, int, str]]:
    """Questions that were asked and never decided the first remedy."""
    asks = {name: question.ask for name, question in questions(dough).items()}
    unhelpful = [q for q in found.questions if not q.decided]
    return [
        (asks.get(q.look, q.look), q.answered, q.asked, "answered") for q in unhelpful[:MOST_SHOWN]
    ]


def disappointing(dough: Dough, found: Report) -> list[tuple[str, int, int, str]]:
    """Remedies that were tried, those furthest below what the book promises first."""
    by_id = {remedy.id: remedy for remedy in dough.remedies}
    rows = []
    for one in found.worked[:MOST_SHOWN]:
        note = []
        if one.expected is not None:
            note.append(f"the book promises {round(one.expected * 100)} in 100")
        if one.worse:
            note.append("made it worse " + ("once" if one.worse == 1 else f"{one.worse} times"))
        if one.disappoints:
            note.append("clearly less than promised")
        name = summary.remedy_in_words(by_id.get(one.remedy), one.remedy)
        rows.append((name[:1].upper() + name[1:], one.worked, one.tried, "; ".join(note)))
    return rows


def thin(dough: Dough, found: Report) -> list[tuple[str, str, int]]:
    """The causes with too few cases: id, in words, how many."""
    says = {cause.id: cause.say for cause in dough.causes}
    return [(name, says[name], many) for name, many in found.thin]


def _note(share: Share) -> str:
    return f"the true share lies between {between(share)}" if share.of else "no cases"
