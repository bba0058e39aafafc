"""Which question next, and whether any is worth a tap.

A question is worth what it saves: the minutes expected from the best plan now, less the minutes
expected once its answer is known, less the trouble of answering. Causes that share a remedy are
never worth telling apart, however uncertain they are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from diagnose.engine.net import Net
from diagnose.engine.worlds import Spoken, evaluate_worlds
from diagnose.knowledge.book import Dough, Reading, Remedy, Sign
from diagnose.knowledge.phrases import PRESENT, Interval, Value
from diagnose.knowledge.situation import Situation

from .belief import Prior, chances_of
from .likelihood import Table
from .posterior import Weighed, about, counts, group_of, grouped, weight_of
from .repair import NO_LIMITS, Limits, Opened, Option, carry_on_loss, quick_course
from .words import EFFORT_MINUTES

WELL_EXPECTED = 0.05
"""A question must have at least this chance of changing the first remedy, to be worth a tap."""

Loss = tuple[float, str]
"""Minutes expected, and the id of the first remedy they start with."""


@dataclass(frozen=True, slots=True)
class Worth:
    """A question, what asking it saves in minutes, and where each answer would lead."""

    part: Sign | Reading
    saves: float
    leads_to: tuple[tuple[str, str], ...]
    """(answer, first remedy) for each answer."""
    changes_first: bool
    """Whether some answer that can well be expected would change what to do first."""


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


@dataclass(frozen=True, slots=True)
class _World:
    """One answer that might be given."""

    table: Table
    answer: str
    change: Mapping[str, Value | None]


class Ahead:
    """Every world that might be next: each answer to each open question, and what acting opens."""

    def __init__(self, known: Known) -> None:
        self._known = known
        self._asked = open_questions(known)
        self._openers = [o.remedy for o in known.options if o.remedy.establishes]
        answers = [
            _World(table, answer, change_if(known, table, answer))
            for table in self._asked
            for answer in table.asked.answers
        ]
        self._worlds = answers
        changes: list[Mapping[str, Value | None]] = [world.change for world in answers]
        self._count = len(changes)
        for remedy in self._openers:
            done = after(remedy)
            changes.append(done)
            changes.extend({**world.change, **done} for world in answers)
        self._spoken = evaluate_worlds(known.net, known.facts, changes)
        self._shifts = _Shifts(known, self._spoken)
        self._discards = {f.id for f in known.dough.findings if f.calls_for is not None}
        self._present = chances_of(known.scores)
        self.now = self._loss(self._present, 0)

    def opened(self, world: int = 0) -> Opened:
        """What each remedy that establishes something would open, in a world (0: the present)."""
        found: dict[str, frozenset[str]] = {}
        for place, remedy in enumerate(self._openers):
            twin = self._count + 1 + place * (self._count + 1) + world
            found[remedy.id] = self._spoken.findings_in(twin)
        return found

    def questions(self) -> list[Worth]:
        """Every open question with what it saves, the best first."""
        worths = []
        place = 0
        for table in self._asked:
            numbered = list(
                enumerate(self._worlds[place : place + len(table.asked.answers)], place + 1)
            )
            place += len(numbered)
            worths.append(self._worth_of(table, numbered))
        order = {table.asked.id: place for place, table in enumerate(self._known.tables.values())}
        return sorted(worths, key=lambda w: (-round(w.saves, 9), order[w.part.id]))

    def _loss(self, chances: Mapping[str, float], world: int) -> Loss:
        """Minutes expected under the best quick plan, and the remedy it starts with."""
        known = self._known
        findings = self._spoken.findings_in(world)
        weights = [chances[name] for name in known.before.names]
        course = quick_course(
            known.options, weights, known.start_over, findings, self.opened(world), known.limits
        )
        best = (course.minutes, course.remedies[0].id if course.remedies else "start-over")
        return min(best, (carry_on_loss(known.dough, chances, known.start_over), "carry-on"))

    def _worth_of(self, table: Table, worlds: Sequence[tuple[int, _World]]) -> Worth:
        part = table.asked.part
        assert isinstance(part, Sign | Reading)
        moved = [self._shifts.in_world(number, world) for number, world in worlds]
        joint: list[dict[str, float]] = [{} for _ in worlds]
        for name in self._known.before.names:
            # P(answer | cause) on what is known, made to add up to one: no gain out of nothing
            grown = [
                math.exp(shift.get(name, 0.0) + table.log_usual(world.answer))
                for shift, (_, world) in zip(moved, worlds, strict=True)
            ]
            whole = math.fsum(grown)
            for place, part_of in enumerate(grown):
                joint[place][name] = self._present[name] * part_of / whole
        after_asking = 0.0
        leads = []
        changing = 0.0
        for (number, world), weights in zip(worlds, joint, strict=True):
            chance = math.fsum(weights.values())
            if self._spoken.findings_in(number) & self._discards:
                # a safety question is asked by its complaint, never to save minutes
                loss, first = self.now
            else:
                loss, first = self._loss({n: w / chance for n, w in weights.items()}, number)
            after_asking += chance * loss
            changing += chance if first != self.now[1] else 0.0
            leads.append((world.answer, first))
        saves = self.now[0] - after_asking - EFFORT_MINUTES[part.effort]
        return Worth(part, saves, tuple(leads), changing >= WELL_EXPECTED)


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


class _Shifts:
    """How far each hypothetical answer moves the score of each cause."""

    def __init__(self, known: Known, spoken: Spoken) -> None:
        self._known = known
        self._groups = grouped(known.weights)
        names = set(known.before.names)
        self._bearing = [
            (rule, bits, target)
            for rule, bits in zip(known.net.rules, spoken.rules, strict=True)
            if (target := about(rule)) in names and target is not None
        ]

    def in_world(self, number: int, world: _World) -> dict[str, float]:
        """The change of score by cause; causes that do not move are left out."""
        changed: dict[tuple[str, str], dict[str, float]] = {}

        def group(key: tuple[str, str]) -> dict[str, float]:
            if key not in changed:
                changed[key] = dict(self._groups.get(key, {}))
            return changed[key]

        for subject, value in world.change.items():
            table = self._known.tables.get(subject)
            if table is None:
                continue
            answer = table.asked.answer_for(value)
            for cause in self._known.before.causes:
                row = table.rows.get(cause.id)
                if row is None:
                    continue
                held = group((cause.id, group_of(row)))
                held.pop(row.id, None)
                if answer is not None:
                    held[row.id] = table.shift(cause.id, answer)
        for rule, bits, target in self._bearing:
            speaks = bits >> number & 1
            if speaks != bits & 1:
                held = group((target, group_of(rule)))
                if speaks:
                    held[rule.id] = weight_of(rule)
                else:
                    held.pop(rule.id, None)
        moved: dict[str, float] = {}
        for key, held in changed.items():
            shift = counts(held) - counts(self._groups.get(key, {}))
            moved[key[0]] = moved.get(key[0], 0.0) + shift
        return moved


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
