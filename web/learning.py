"""What confirmed cases teach, for everybody to read: beside each cause and each row or rule."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from diagnose.knowledge.book import Dough, EvidenceRow, Rule
from diagnose.learning.recalibrating import (
    PSEUDO_CASES,
    PSEUDO_CASES_COMMON,
    Cell,
    Common,
    Learned,
    Row,
    factor_says,
)
from diagnose.reasoning.likelihood import Asked, asked_parts
from diagnose.reasoning.words import FACTOR, SAYS_NOTHING

from .lesson_words import answer_of, ask_of, between, working
from .lessons import Lesson, Lessons
from .paging import PAGE_LENGTH
from .reports import reports
from .rulebook import consequence_in_words
from .site import Site
from .switching import switching

ROWS = 10
"""Rows of the table on one page about a cause."""
BANDS = {"any elevation": "everywhere", "low": "below 900 m", "high": "from 900 m up"}
"""Where a kitchen is, in words."""


@dataclass(frozen=True, slots=True)
class Line:
    """One answer: written, seen, used now, and what all cases together would make of it."""

    answer: str
    written: str
    seen: int
    now: str
    would: str
    moved: bool


def learning(site: Site) -> APIRouter:
    """Everything about learning: these pages, the reports, and the switch on the desk."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)
    lessons = Lessons(site.store)
    router.include_router(reports(site, lessons))
    router.include_router(switching(site, lessons))

    @router.get("/learning")
    def overview(request: Request, page: int = 1) -> Response:
        work = lessons.lesson(site.book, site.dough)
        if not work.wait():
            return working(site, request, work)
        lesson = work.found
        met = lesson.met
        says = {cause.id: cause.say for cause in site.dough.causes}
        counts = [(c.id, c.say, met.get(c.id, 0)) for c in site.dough.causes]
        counts += [(name, name, many) for name, many in met.items() if name not in says]
        counts.sort(key=lambda one: -one[2])
        pages = max(1, -(-len(counts) // PAGE_LENGTH))
        if not 1 <= page <= pages:
            raise HTTPException(404, f"There are {pages} pages of these.")
        return site.page(
            request,
            "learning.html",
            lesson=lesson,
            causes=counts[(page - 1) * PAGE_LENGTH : page * PAGE_LENGTH],
            known=says,
            at=page,
            pages=pages,
            weight=int(PSEUDO_CASES),
        )

    @router.get("/learning/causes/{name}")
    def cause(request: Request, name: str, page: int = 1) -> Response:
        dough = site.dough
        found = next((c for c in dough.causes if c.id == name), None)
        if found is None:
            raise HTTPException(404, "This book has no such cause.")
        work = lessons.lesson(site.book, dough)
        if not work.wait():
            return working(site, request, work)
        lesson = work.found
        rows = sorted(
            (row for row in lesson.learned.rows.values() if row.cause == name),
            key=lambda row: -row.cases,
        )
        pages = max(1, -(-len(rows) // ROWS))
        if not 1 <= page <= pages:
            raise HTTPException(404, f"There are {pages} pages of these.")
        looks = {asked.id: asked for asked in asked_parts(dough)}
        shown = rows[(page - 1) * ROWS : page * ROWS]
        first = page == 1
        speaking = [
            rule
            for rule in dough.rules
            if name in (rule.points_to, rule.points_away_from, rule.rules_out)
        ]
        return site.page(
            request,
            "learning_cause.html",
            cause=found,
            lesson=lesson,
            cases=lesson.met.get(name, 0),
            common=common_of(lesson, dough, name) if first else [],
            rows=[(r.id, ask_of(looks[r.look]), r.cases, moved_of(r, looks)) for r in shown],
            rules=speaking if first else [],
            at=page,
            pages=pages,
            weight=int(PSEUDO_CASES_COMMON),
        )

    @router.get("/learning/rules/{name:path}")
    def rule(request: Request, name: str) -> Response:
        dough = site.dough
        work = lessons.lesson(site.book, dough)
        if not work.wait():
            return working(site, request, work)
        lesson = work.found
        row = next((r for r in dough.evidence if r.id == name), None)
        if row is not None:
            return row_page(request, row, lesson)
        written = next((r for r in dough.rules if r.id == name), None)
        if written is None:
            raise HTTPException(404, "This book has no such rule or row.")
        return rule_page(request, written, lesson)

    def row_page(request: Request, row: EvidenceRow, lesson: Lesson) -> Response:
        dough = site.dough
        asked = next(one for one in asked_parts(dough) if one.id == row.of)
        learned = lesson.learned.rows.get(row.id)
        return site.page(
            request,
            "learning_row.html",
            row=row,
            ask=ask_of(asked),
            cause=next((c for c in dough.causes if c.id == row.about), None),
            lesson=lesson,
            cases=learned.cases if learned else 0,
            lines=[] if learned is None else lines_of(learned, asked, lesson.used),
            counted=learned is not None,
            weight=int(PSEUDO_CASES),
        )

    def rule_page(request: Request, rule: Rule, lesson: Lesson) -> Response:
        work = lessons.report(site.book, site.dough, lesson)
        if not work.wait():
            return working(site, request, work)
        found = work.found
        spoken = next((one.rightly for one in found.rules if one.rule == rule.id), None)
        return site.page(
            request,
            "learning_rule.html",
            rule=rule,
            follows=consequence_in_words(site.dough, rule),
            spoken=spoken,
            between=between(spoken),
            judged=found.judged,
        )

    return router


def weighed(word: str, factor: float) -> str:
    """A word with its factor.

    >>> weighed("moderate for", 3.0)
    'moderate for (× 3)'
    """
    return word if word == SAYS_NOTHING else f"{word} (× {factor_says(factor)})"


def lines_of(row: Row, asked: Asked, used: Learned | None) -> list[Line]:
    """Every answer of a row. ``used`` is what is in use; None for the words alone."""
    now = {} if used is None else {c.answer: c for c in used.rows[row.id].cells}
    return [_line(cell, asked, now.get(cell.answer)) for cell in row.cells]


def _line(cell: Cell, asked: Asked, now: Cell | None) -> Line:
    word = cell.written or SAYS_NOTHING
    written = weighed(word, FACTOR[cell.written] if cell.written else 1.0)  # type: ignore[index]  # a word of the book
    return Line(
        answer_of(asked, cell.answer),
        written,
        cell.seen,
        written if now is None else weighed(now.word, now.factor),
        weighed(cell.word, cell.factor),
        cell.word != word,
    )


def moved_of(row: Row, looks: dict[str, Asked]) -> list[str]:
    """What the cases make of the words of a row, where that is another word."""
    return [
        f"{answer_of(looks[row.look], cell.answer)}: {row.says(cell)}"
        for cell in row.cells
        if cell.word != (cell.written or SAYS_NOTHING) and row.cases
    ]


def common_of(lesson: Lesson, dough: Dough, cause: str) -> list[tuple[str, str, Common, Common]]:
    """(stage, where, what all cases make of it, what is used now), where there are cases."""
    titles = {stage.id: stage.title for stage in dough.stages}
    by = lesson.used
    found = []
    for stage in dough.stages:
        for band, where in BANDS.items():
            for one in lesson.learned.common(stage.id, band):
                if one.cause == cause and one.of:
                    now = one
                    if by is not None:
                        now = next(c for c in by.common(stage.id, band) if c.cause == cause)
                    found.append((titles[stage.id], where, one, now))
    return found
