"""Pages to browse without a pan on the stove: what right looks like, and cases."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from diagnose.explaining import Speaker
from diagnose.knowledge.book import Dough, Stage, WholeCase
from diagnose.knowledge.situations import read_situation

from . import wording
from .paging import paged
from .site import Site, has_picture, stage_named
from .situation import questions


def library(site: Site) -> APIRouter:
    """The reading room."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/right")
    def right(request: Request) -> Response:
        return site.page(request, "right.html", dough=site.dough)

    @router.get("/right/{name}")
    def right_stage(request: Request, name: str) -> Response:
        dough = site.dough
        stage = stage_named(dough, name)
        place = dough.stages.index(stage)
        looks = right_looks(dough, stage)
        return site.page(
            request,
            "right_stage.html",
            stage=stage,
            following=dough.stages[place + 1] if place + 1 < len(dough.stages) else None,
            looks=looks,
        )

    @router.get("/cases")
    def cases(request: Request, page: int = 1) -> Response:
        shown, pages = paged(site.dough.whole_cases, page)
        return site.page(request, "cases.html", cases=shown, at=page, pages=pages)

    @router.get("/cases/{name}")
    def case(request: Request, name: str) -> Response:
        dough = site.dough
        found = next((c for c in dough.whole_cases if c.id == name), None)
        if found is None:
            raise HTTPException(404, "There is no such case in this book.")
        situation, problems = read_situation({"dough": dough.id, **found.situation}, site.book)
        if situation is None:
            raise HTTPException(500, f"This case cannot be read: {problems[0]}")
        return site.page(
            request,
            "case.html",
            case=found,
            told=told_in_words(dough, found),
            diagnosis=site.consultant.diagnose(situation),
            source=Speaker(site.book, dough).source(found.source),
        )

    return router


def right_looks(dough: Dough, stage: Stage) -> list[tuple[str, str, str]]:
    """(sign, answer, words) of the drawn answers that speak for "nothing is wrong" at a stage."""
    signs = {s.id: s for s in dough.signs if stage.id in s.stages or "all" in s.stages}
    return [
        (row.of, answer.id, answer.say)
        for row in dough.evidence
        if row.about == dough.carry_on and row.of in signs
        for answer in signs[row.of].answers
        if row.answers.get(answer.id, "").endswith(" for") and has_picture(row.of, answer.id)
    ]


def told_in_words(dough: Dough, case: WholeCase) -> list[tuple[str, str]]:
    """What was told in a case, as the cook would read it."""
    asked = questions(dough)
    told: list[tuple[str, str]] = []
    for part, entries in case.situation.items():
        if part == "stage":
            told.append(("Stage", next(s.title for s in dough.stages if s.id == entries)))
        elif part == "tried" and isinstance(entries, list | tuple):
            told += [
                (f"Tried: {str(t['remedy']).replace('-', ' ')}", wording.RESULTS[t["result"]])
                for t in entries
            ]
        elif isinstance(entries, dict):
            for name, value in entries.items():
                question = asked.get(name)
                what = question.ask if question else wording.FIELDS.get(name, name)
                told.append((what, _value_in_words(question, value)))
    return told


def _value_in_words(question: object, value: object) -> str:
    answers = {a.id: a.say for a in getattr(question, "answers", ())}
    if isinstance(value, dict):
        return wording.with_unit(float(value["value"]), str(value["unit"]))
    if isinstance(value, float | int):
        return wording.number(value)
    return answers.get(str(value)) or wording.FLOUR_MEASURED.get(str(value), str(value))
