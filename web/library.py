"""Pages to browse without a pan on the stove: what right looks like, cases, and the rules."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from diagnose.explaining import Speaker
from diagnose.knowledge.book import Condition, Dough, Rule, Stage, WholeCase
from diagnose.knowledge.situations import read_situation

from . import wording
from .site import Site, has_picture, stage_named
from .situation import questions

PAGE_LENGTH = 25
"""Entries on one page of a list: keeps a page within its budget of bytes."""

Thing = TypeVar("Thing")


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
        shown, pages = _paged(site.dough.whole_cases, page)
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

    @router.get("/rules")
    def rules(request: Request, page: int = 1) -> Response:
        dough = site.dough
        shown, pages = _paged(dough.rules, page)
        standings = {word: sum(r.standing == word for r in dough.rules)
                     for word in ("draft", "tried", "trusted", "retired")}  # fmt: skip
        return site.page(
            request,
            "rules.html",
            rules=shown,
            at=page,
            pages=pages,
            standings={word: n for word, n in standings.items() if n},
            total=len(dough.rules),
            version=site.book.version,
        )

    @router.get("/rules/{name}")
    def rule(request: Request, name: str) -> Response:
        dough = site.dough
        found = next((r for r in dough.rules if r.id == name), None)
        if found is None:
            raise HTTPException(404, "There is no such rule in this book.")
        speaker = Speaker(site.book, dough)
        return site.page(
            request,
            "rule.html",
            rule=found,
            when=[condition_in_words(dough, c) for c in found.when],
            unless=[condition_in_words(dough, c) for c in found.unless],
            follows=consequence_in_words(dough, found),
            cases=[
                ("; ".join(speaker.fact(k, v) for k, v in c.told.items()), c.speaks)
                for c in found.cases
            ],
            source=speaker.source(found.source),
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


def condition_in_words(dough: Dough, condition: Condition) -> tuple[str, str]:
    """What a condition looks at, and the phrase it is compared with, as written."""
    question = questions(dough).get(condition.subject)
    if question is not None:
        return question.ask, str(condition.phrase).replace("-", " ")
    means = {f.id: f.means for f in dough.findings} | {c.id: c.means for c in dough.computed}
    return means.get(condition.subject, condition.subject.capitalize()), str(condition.phrase)


def consequence_in_words(dough: Dough, rule: Rule) -> str:
    """What follows from a rule, as a sentence."""
    means = {f.id: f.means for f in dough.findings} | {c.id: c.say for c in dough.causes}
    if rule.concludes:
        return f"Concludes: {means[rule.concludes]}"
    if rule.points_to:
        return f"Points to, {rule.strength}: {means[rule.points_to]}"
    if rule.points_away_from:
        return f"Points away, {rule.strength}, from: {means[rule.points_away_from]}"
    return f"Rules out: {means[rule.rules_out or '']}"


def _paged(things: Sequence[Thing], page: int) -> tuple[Sequence[Thing], int]:
    pages = max(1, -(-len(things) // PAGE_LENGTH))
    if not 1 <= page <= pages:
        raise HTTPException(404, f"There are {pages} pages of these.")
    return things[(page - 1) * PAGE_LENGTH : page * PAGE_LENGTH], pages
