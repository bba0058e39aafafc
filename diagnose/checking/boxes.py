"""What rules ask for, as boxes: exact answers to "can both speak?" and "does one cover the other?".

Every sign, reading, computed reading, finding and the stage gets a small set of cells: one for
"not answered", then one for each answer, or for each limit that any rule compares with and each
gap between two limits. No rule can tell two numbers of one cell apart, so nothing is lost. A
condition is then a set of cells, kept as the bits of an integer, and a rule is a *box*: one such
set for each subject it names. Two boxes overlap if all their sets meet; that a box is covered by
others is found by cutting them out of it, piece by piece, until nothing or a witness is left.

Findings are ordinary subjects here. What they mean once other rules conclude them is worked out
in ``chaining``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from diagnose.knowledge.book import Condition, Dough, Rule
from diagnose.knowledge.measures import sign as unit_sign
from diagnose.knowledge.phrases import PRESENT, Interval, Phrase, Truth, Value

Box = Mapping[int, int]
"""Subject's place in the space -> the bits of the cells it may be in; a subject left out is free.
No set is empty."""


@dataclass(frozen=True, slots=True)
class Subject:
    """A sign, reading, computed reading, finding or the stage, and its cells."""

    name: str
    cells: tuple[Value | None, ...]
    """A value out of each cell; None stands for "not answered" (a finding: absent)."""
    unit: str | None = None
    choice: tuple[int, ...] = ()
    """The cells in the order in which a witness prefers them."""

    @property
    def full(self) -> int:
        """The bits of all cells."""
        return (1 << len(self.cells)) - 1

    def bits(self, phrase: Phrase) -> int:
        """The cells in which a phrase is known to hold."""
        return sum(
            1 << place for place, value in enumerate(self.cells) if phrase.judge(value) is Truth.YES
        )

    def value_in(self, bits: int) -> Value | None:
        """A value out of these cells: none if it may be left unanswered."""
        return next(self.cells[place] for place in self.choice if bits >> place & 1)

    def told(self, value: Value) -> str:
        """``name: value`` as an author writes it in a case."""
        if self.unit is None or isinstance(value, str):
            return f"{self.name}: {value}"
        # All its digits, unlike numbers for a cook: the case has to come out the same.
        return f"{self.name}: {value:.10g} {unit_sign(self.unit)}"


@dataclass(frozen=True)
class Space:
    """The subjects that a set of rules names."""

    subjects: tuple[Subject, ...]
    place: Mapping[str, int] = field(repr=False)

    def box(self, rule: Rule) -> dict[int, int] | None:
        """What a rule asks for, with findings as subjects; None if it contradicts itself."""
        box: dict[int, int] = {}
        for condition, wanted in conditions(rule):
            place = self.place[condition.subject]
            subject = self.subjects[place]
            bits = subject.bits(condition.phrase)
            bits = box.get(place, subject.full) & (bits if wanted else subject.full & ~bits)
            if not bits:
                return None
            box[place] = bits
        return box

    def uncovered(self, box: Box, others: Iterable[Box]) -> dict[int, int] | None:
        """A part of the box outside all others; None if they cover it."""
        return _uncovered(dict(box), list(others), [each.full for each in self.subjects])

    def witness(self, box: Box) -> dict[str, Value]:
        """Facts out of the box that can be told in a case, as few as will do."""
        told = {}
        for place in sorted(box):
            value = self.subjects[place].value_in(box[place])
            if value is not None:
                told[self.subjects[place].name] = value
        return told

    def in_words(self, told: Mapping[str, Value]) -> str:
        """Facts as an author writes them in a case: ``paste-body: slumps, stage: temper``."""
        named = [self.subjects[self.place[name]].told(value) for name, value in told.items()]
        return ", ".join(named) if named else "nothing at all"


def conditions(rule: Rule) -> Iterator[tuple[Condition, bool]]:
    """The conditions of a rule, and whether each must be known to hold, or must not."""
    yield from ((condition, True) for condition in rule.when)
    yield from ((condition, False) for condition in rule.unless)


def meet(one: Box, other: Box) -> dict[int, int] | None:
    """Where both hold; None if they never do together."""
    both = dict(one)
    for place, bits in other.items():
        common = both.get(place, bits) & bits
        if not common:
            return None
        both[place] = common
    return both


def inside(one: Box, other: Box, full: Sequence[int]) -> bool:
    """True if wherever the one box holds, the other does too."""
    return all(not one.get(place, full[place]) & ~bits for place, bits in other.items())


def _uncovered(
    box: dict[int, int], others: Sequence[Box], full: Sequence[int]
) -> dict[int, int] | None:
    for number, other in enumerate(others):
        if meet(box, other) is None:
            continue
        rest = others[number + 1 :]
        box = dict(box)
        for place, bits in other.items():
            here = box.get(place, full[place])
            if outside := here & ~bits:
                left = _uncovered({**box, place: outside}, rest, full)
                if left is not None:
                    return left
            box[place] = here & bits
        return None
    return box


def space_of(dough: Dough, rules: Iterable[Rule]) -> Space:
    """The space of everything that these rules of a dough name."""
    named: dict[str, list[Phrase]] = {}
    for rule in rules:
        if rule.concludes is not None:
            named.setdefault(rule.concludes, [])
        for condition, _ in conditions(rule):
            named.setdefault(condition.subject, []).append(condition.phrase)
    subjects = tuple(each for each in _subjects(dough, named) if each.name in named)
    return Space(subjects, {each.name: place for place, each in enumerate(subjects)})


def _subjects(dough: Dough, named: Mapping[str, Sequence[Phrase]]) -> Iterator[Subject]:
    if "stage" in named:
        # There is always a stage: it is what the page is about.
        yield _listed("stage", tuple(stage.id for stage in dough.stages))
    for sign in dough.signs:
        yield _listed(sign.id, (None, *(answer.id for answer in sign.answers)))
    for finding in dough.findings:
        yield _listed(finding.id, (None, PRESENT))
    for reading in dough.readings:
        phrases = named.get(reading.id, ())
        yield _measured(reading.id, reading.unit, phrases, reading.possible, reading.likely)
    for computed in dough.computed:
        yield _measured(computed.id, computed.unit, named.get(computed.id, ()))


def _listed(name: str, cells: tuple[Value | None, ...]) -> Subject:
    return Subject(name, cells, choice=tuple(range(len(cells))))


_EVERYTHING = (-math.inf, math.inf)


def _measured(
    name: str,
    unit: str,
    phrases: Sequence[Phrase],
    possible: tuple[float, float] = _EVERYTHING,
    likely: tuple[float, float] = _EVERYTHING,
) -> Subject:
    """A number's cells: each limit that a rule compares with, and each gap between two."""
    # The likely range is cut out as well, so that witnesses are numbers a cook could read off.
    limits = {float(each) for each in (*possible, *likely)}
    for phrase in phrases:
        if isinstance(phrase, Interval):
            limits |= {float(each) for each in (phrase.low, phrase.high) if each is not None}
    inner = sorted(each for each in limits if possible[0] <= each <= possible[1])
    numbers: list[float] = []
    for number, limit in enumerate(inner):
        if math.isfinite(limit):
            numbers.append(limit)
        if number + 1 < len(inner):
            middle = plain_number_between(limit, inner[number + 1])
            if middle is not None:
                numbers.append(middle)
    cells = (None, *numbers)
    at_a_limit = set(inner)

    def least_odd(place: int) -> tuple[bool, bool, int]:
        value = numbers[place - 1]
        return (not likely[0] <= value <= likely[1], value in at_a_limit, place)

    choice = (0, *sorted(range(1, len(cells)), key=least_odd))
    return Subject(name, cells, unit, choice)


def plain_number_between(low: float, high: float) -> float | None:
    """A number strictly between two others with as few digits as will do; None if there is none.

    >>> plain_number_between(72, 85), plain_number_between(0.1, 0.12)
    (80.0, 0.11)
    >>> plain_number_between(-math.inf, 40), plain_number_between(40, math.inf)
    (30.0, 50.0)
    """
    low, high = _bounded(low, high)
    middle = (low + high) / 2
    if not low < middle < high:
        return None
    digits = -math.floor(math.log10(high - low)) - 1
    for decimals in range(digits, digits + 3):
        for step in (5, 2, 1):
            scale = 10.0**decimals
            number = round(round(middle * scale / step) * step / scale, decimals)
            if low < number < high:
                return number + 0.0  # never minus nought
    return middle


def _bounded(low: float, high: float) -> tuple[float, float]:
    """An unbounded gap is looked at near its one limit."""
    if math.isinf(low) and math.isinf(high):
        return 0.0, 2.0
    if math.isinf(low):
        return (high / 2 if high > 0 else 2 * high - 1), high
    if math.isinf(high):
        return low, (2 * low if low > 0 else low / 2 + 1)
    return low, high
