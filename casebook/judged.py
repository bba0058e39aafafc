"""How well the house does on confirmed cases, each judged by what the other cases taught.

Worked out from plain records; long for many cases, so it tells how far it has come. Of very many
cases an even spread is judged, and how many is said with the figures.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from diagnose.deciding import Ready
from diagnose.knowledge.book import Dough
from diagnose.learning import reporting
from diagnose.learning.cases import ConfirmedCase
from diagnose.learning.recalibrating import Cell, Common, Learned, Row
from diagnose.learning.reporting import Asked, Bin, Confused, Judged, Share, Spoken, Worked
from diagnose.reasoning.likelihood import tables
from diagnose.rejudging import rejudge

from .progress import Progress, silent

MOST_JUDGED = 2_000
"""Cases whose causes are judged anew; house rule. A share of so many is known to 2 in 100."""
MOST_FOLLOWED = 200
"""Cases whose first remedy, and what decided it, is worked out anew: each takes some diagnoses."""
TOO_FEW = 20
"""Below so many confirmed cases shares say next to nothing, and the pages say so; house rule."""


@dataclass(frozen=True, slots=True)
class Score:
    """How well one way of judging did on the same cases."""

    right: Share
    """How often the likeliest cause was a true one."""
    log_loss: float | None
    """Mean surprise at the true cause, in nats; cases with one true cause."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """The written words beside what confirmed cases make of them."""

    judged: int
    words: Score
    taught: Score
    moved: tuple[tuple[Row, Cell], ...]
    """The answers whose word would be another, by how many cases, most first."""
    common: tuple[Common, ...]
    """The causes that would be more or less common at a stage, over all elevations."""


@dataclass(frozen=True, slots=True)
class Report:
    """How well the house does."""

    cases: int
    """All confirmed cases that this book can read."""
    judged: int
    followed: int
    """Of how many the first remedy was worked out anew."""
    cause: Share
    remedy: Share
    cause_then: Share
    """As thought when the case was kept."""
    remedy_then: Share
    log_loss: float | None
    bins: tuple[Bin, ...]
    confusion: tuple[Confused, ...]
    questions: tuple[Asked, ...]
    worked: tuple[Worked, ...]
    thin: tuple[tuple[str, int], ...]
    rules: tuple[Spoken, ...]


def with_lessons(ready: Ready, learned: Learned | None) -> Ready:
    """A compiled dough that judges by what was learned about its words, or by these alone."""
    if learned is None:
        return replace(ready, learned=None, tables=tables(ready.dough))
    return replace(ready, learned=learned, tables=tables(ready.dough, learned.taught))


def compare(
    ready: Ready, learned: Learned, cases: Sequence[ConfirmedCase], progress: Progress = silent
) -> Comparison:
    """What the book would say with and without the lessons of these cases."""
    some = spread(readable(ready.dough, cases), MOST_JUDGED)
    words = _judge(with_lessons(ready, None), some, "judged by the words", progress)
    taught = _judge(with_lessons(ready, learned), some, "judged without itself", progress)
    moved = [
        (row, cell)
        for row in learned.rows.values()
        for cell in row.cells
        if row.cases and cell.word != (cell.written or "says nothing")
    ]
    common = [
        one
        for stage in ready.dough.stages
        for one in learned.common(stage.id)
        if one.word != one.written
    ]
    return Comparison(
        len(some),
        _score(words),
        _score(taught),
        tuple(sorted(moved, key=lambda pair: -pair[0].cases)),
        tuple(common),
    )


def report(
    ready: Ready,
    learned: Learned | None,
    cases: Sequence[ConfirmedCase],
    progress: Progress = silent,
) -> Report:
    """How well the house does as it judges now: by ``learned``, or by the words alone."""
    dough = ready.dough
    known = readable(dough, cases)
    some = spread(known, MOST_JUDGED)
    followed = spread(known, MOST_FOLLOWED)
    by = with_lessons(ready, learned)
    judged = _judge(by, some, "cases judged", progress)
    remedied = []
    for done, one in enumerate(rejudge(by, followed, rests_on=True)):
        progress("cases followed to the remedy", done, len(followed))
        remedied.append(one)
    then = reporting.as_thought(known)
    return Report(
        cases=len(known),
        judged=len(some),
        followed=len(followed),
        cause=reporting.first_cause_right(judged),
        remedy=reporting.first_remedy_right(dough, remedied),
        cause_then=reporting.first_cause_right(then),
        remedy_then=reporting.first_remedy_right(dough, then),
        log_loss=reporting.log_loss(judged),
        bins=reporting.calibration(judged),
        confusion=reporting.confusion(judged),
        questions=reporting.questions(remedied),
        worked=reporting.remedies(dough, known),
        thin=reporting.thin(dough, known),
        rules=reporting.rules(dough, judged),
    )


def readable(dough: Dough, cases: Iterable[ConfirmedCase]) -> list[ConfirmedCase]:
    """The cases at a stage of this book; others cannot be put to it again."""
    stages = {stage.id for stage in dough.stages}
    return [case for case in cases if case.stage in stages]


def spread(cases: Sequence[ConfirmedCase], most: int) -> list[ConfirmedCase]:
    """At most so many, evenly spread over all in the order of their ids: the same every time.

    >>> made = [ConfirmedCase(f"case-{n}", "d", "s", {}, ("c",)) for n in range(4)]
    >>> [case.id for case in spread(made, 2)]
    ['case-0', 'case-2']
    """
    ordered = sorted(cases, key=lambda case: case.id)
    if len(ordered) <= most:
        return ordered
    return [ordered[n * len(ordered) // most] for n in range(most)]


def _judge(
    ready: Ready, cases: Sequence[ConfirmedCase], what: str, progress: Progress
) -> list[Judged]:
    found = []
    for done, one in enumerate(rejudge(ready, cases, remedies=False)):
        progress(what, done, len(cases))
        found.append(one)
    return found


def _score(judged: Sequence[Judged]) -> Score:
    return Score(reporting.first_cause_right(judged), reporting.log_loss(judged))
