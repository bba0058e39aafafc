"""Which question next, and whether any is worth a tap.

A question is worth what it saves: the minutes expected from the best plan now, less the minutes
expected once its answer is known, less the trouble of answering. Causes that share a remedy are
never worth telling apart, however uncertain they are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from diagnose.engine.plain import evaluate
from diagnose.knowledge.book import Dough, Reading, Rule, Sign
from diagnose.knowledge.phrases import Interval, Value
from diagnose.knowledge.situation import Situation

from .belief import Prior, chances_of, scores_of
from .likelihood import Table
from .repair import Option, carry_on_loss, quick_course, sort_out
from .words import EFFORT_MINUTES

Loss = tuple[float, str]
"""Minutes expected, and the id of the first remedy they start with."""


@dataclass(frozen=True, slots=True)
class Worth:
    """A question, what asking it saves in minutes, and where each answer would lead."""

    part: Sign | Reading
    saves: float
    leads_to: tuple[tuple[str, str], ...]
    """(answer, first remedy) for each answer."""


@dataclass(frozen=True)
class Known:
    """Everything the question step needs to know about the present."""

    dough: Dough
    situation: Situation
    rules: Sequence[Rule]
    """In level order."""
    tables: Mapping[str, Table]
    facts_of: Callable[[Situation], Mapping[str, Value]]
    facts: Mapping[str, Value]
    before: Prior
    scores: Mapping[str, float]
    findings: frozenset[str]
    options: Sequence[Option]
    start_over: float


def open_questions(known: Known) -> list[Table]:
    """What may be asked at this stage and has neither been told nor passed over."""
    return [
        table
        for table in known.tables.values()
        if isinstance(table.asked.part, Sign | Reading)
        and known.situation.stage in table.asked.part.stages
        and table.asked.id not in known.facts
        and table.asked.id not in known.situation.not_looked
    ]


def loss_of(known: Known, chances: Mapping[str, float], findings: frozenset[str]) -> Loss:
    """Minutes expected under the best quick plan, and the remedy it starts with."""
    free, _ = sort_out(known.options, chances, findings)
    weights = [chances[name] for name in known.before.names]
    course = quick_course(free, weights, known.start_over)
    best = (course.minutes, course.remedies[0].id if course.remedies else "start-over")
    return min(best, (carry_on_loss(known.dough, chances, known.start_over), "carry-on"))


def worth_of(known: Known, table: Table, now: float) -> Worth:
    """What one question would save. ``now`` is the loss without asking."""
    part = table.asked.part
    assert isinstance(part, Sign | Reading)
    names = known.before.names
    discards = {f.id for f in known.dough.findings if f.calls_for is not None}
    shifts: list[dict[str, float]] = []
    found: list[frozenset[str]] = []
    for answer in table.asked.answers:
        facts = facts_if(known, table, answer)
        outcome = evaluate(known.rules, facts)
        scores = scores_of(known.before, known.tables, facts, outcome.spoke)
        shifts.append({name: scores[name] - known.scores[name] for name in names})
        found.append(outcome.findings)
    present = chances_of(known.scores)
    joint: list[dict[str, float]] = [{} for _ in shifts]
    for name in names:
        # P(answer | cause) on what is known, made to add up to one: never a gain out of nothing
        grown = [math.exp(shift[name]) for shift in shifts]
        whole = math.fsum(grown)
        for place, part_of in enumerate(grown):
            joint[place][name] = present[name] * part_of / whole
    after = 0.0
    leads = []
    for answer, weights, findings in zip(table.asked.answers, joint, found, strict=True):
        chance = math.fsum(weights.values())
        if findings & discards:
            loss, first = now, "throw-away"
        else:
            loss, first = loss_of(known, {n: w / chance for n, w in weights.items()}, findings)
        after += chance * loss
        leads.append((answer, first))
    return Worth(part, now - after - EFFORT_MINUTES[part.effort], tuple(leads))


def facts_if(known: Known, table: Table, answer: str) -> Mapping[str, Value]:
    """The facts as they would be with this answer, computed readings included."""
    part = table.asked.part
    if isinstance(part, Sign):
        if part.given_by is None:
            return {**known.facts, part.id: answer}
        told = {**known.situation.signs, part.id: answer}
        return known.facts_of(known.situation.model_copy(update={"signs": told}))
    assert isinstance(part, Reading)
    band = next(b for b in part.bands if b.id == answer)
    assert isinstance(band.phrase, Interval)
    readings = {**known.situation.readings, part.id: middle_of(band.phrase, part.likely)}
    return known.facts_of(known.situation.model_copy(update={"readings": readings}))


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


def rank_questions(known: Known) -> list[Worth]:
    """Every open question with what it saves, the best first."""
    now, _ = loss_of(known, chances_of(known.scores), known.findings)
    worths = [worth_of(known, table, now) for table in open_questions(known)]
    order = {table.asked.id: place for place, table in enumerate(known.tables.values())}
    return sorted(worths, key=lambda w: (-round(w.saves, 9), order[w.part.id]))
