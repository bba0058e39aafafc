"""What the question step knows of the present, and what an answer would change in it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from diagnose.engine.net import Net
from diagnose.knowledge.book import Dough, Reading, Remedy, Sign
from diagnose.knowledge.phrases import PRESENT, Interval, Value
from diagnose.knowledge.situation import Situation

from .belief import Prior
from .likelihood import Table
from .limits import NO_LIMITS, Limits
from .options import Option
from .posterior import Weighed


@dataclass(frozen=True)
class Known:
    """Everything the question step needs to know about the present."""

    dough: Dough
    situation: Situation
    net: Net
    tables: Mapping[str, Table]
    facts_of: Callable[[Situation], Mapping[str, Value]]
    facts: Mapping[str, Value]
    before: Prior
    weights: Sequence[Weighed]
    scores: Mapping[str, float]
    findings: frozenset[str]
    options: Sequence[Option]
    start_over: float
    limits: Limits = NO_LIMITS


def after(remedy: Remedy) -> dict[str, Value | None]:
    """What is known once a remedy has been done: what it establishes; old looks are out of date."""
    gone: dict[str, Value | None] = dict.fromkeys(remedy.changes)
    return {**gone, **dict.fromkeys(remedy.establishes, PRESENT)}


def open_questions(known: Known) -> list[Table]:
    """What may be asked at this stage, has not been told, and the cook can answer.

    A cook who could not measure one thing is not sent to another with the same tool.
    """
    passed = known.situation.not_looked
    lacking = {reading.tool for reading in known.dough.readings if reading.id in passed} - {None}
    return [
        table
        for table in known.tables.values()
        if isinstance(part := table.asked.part, Sign | Reading)
        and known.situation.stage in part.stages
        and part.id not in known.facts
        and part.id not in passed
        and not (isinstance(part, Reading) and part.tool in lacking)
    ]


def change_if(known: Known, table: Table, answer: str) -> dict[str, Value | None]:
    """What would differ with this answer, computed readings included."""
    part = table.asked.part
    if isinstance(part, Sign):
        if part.given_by is None:
            return {part.id: answer}
        told: dict[str, object] = {"signs": {**known.situation.signs, part.id: answer}}
        return _differing(known, told)
    assert isinstance(part, Reading)
    if part.judged_by is not None:
        # no number of grams is imagined: what it would mean for this batch is
        return {part.id: math.fsum(part.likely) / 2, part.judged_by: _middle(known, part, answer)}
    number = _middle(known, part, answer)
    return _differing(known, {"readings": {**known.situation.readings, part.id: number}})


def _differing(known: Known, told: dict[str, object]) -> dict[str, Value | None]:
    facts = known.facts_of(known.situation.model_copy(update=told))
    names = sorted({*facts, *known.facts})
    return {n: facts.get(n) for n in names if facts.get(n) != known.facts.get(n)}


def _middle(known: Known, reading: Reading, answer: str) -> float:
    """The middle of the band, of the reading or of what it is judged by, that is an answer."""
    judges = {computed.id: computed.bands for computed in known.dough.computed}
    own = reading.judged_by is None
    bands = reading.bands if reading.judged_by is None else judges[reading.judged_by]
    phrase = next(band for band in bands if band.id == answer).phrase
    assert isinstance(phrase, Interval)
    limits = [x for b in bands for x in (b.phrase.low, b.phrase.high) if x is not None]  # type: ignore[union-attr]  # bands are intervals
    span = reading.likely if own else (min(limits) / 2, max(limits) * 1.2)
    return middle_of(phrase, span)


def middle_of(band: Interval, likely: tuple[float, float]) -> float:
    """A number that stands for a band: its middle within the likely range.

    >>> middle_of(Interval(None, 75.0, False, False, "below 75 °C"), (55.0, 99.0))
    65.0
    """
    low = likely[0] if band.low is None else max(band.low, likely[0])
    high = likely[1] if band.high is None else min(band.high, likely[1])
    if low < high:
        return (low + high) / 2
    edge = band.low if band.low is not None else band.high
    assert edge is not None
    return edge + 1.0 if band.low is not None else edge - 1.0
