"""Patterns in confirmed cases: which answers go with which causes, by counting.

Everything is a set of cases held as the bits of one integer, so that a count is an ``&`` and a
population count. Only cases in which the look was taken enter a denominator. A pattern is kept if
it lifts its cause by half, at least eight cases support it, and Fisher's exact test with
Benjamini and Hochberg's correction believes it (``exactly``).

Explaining away: per look the strongest pattern is taken, the cases of its cause are set aside,
and the look is tested again on the rest. Without that, once there are many cases, every other
answer looks telling for every other cause.

Nothing here changes a book. What is found is offered to a person as a draft, with its table.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from .cases import ConfirmedCase
from .exactly import TwoByTwo, believed, log_tail

LEAST_LIFT: Final = 1.5
LEAST_SUPPORT: Final = 8
BEATS_BOTH_BY: Final = 1.15
"""A pair must make its cause this much more frequent than either part; house rule."""
PARTS_PER_CAUSE: Final = 12
"""Of the answers that go with a cause, so many of the strongest are tried in pairs."""

MANY_CASES: Final = 10_000
SHOWN_OF_MANY: Final = 30

Item = tuple[str, str]
"""(look, answer)"""


@dataclass(frozen=True, slots=True)
class Pattern:
    """One answer, or two together, that go with a cause; never a rule by itself."""

    when: tuple[Item, ...]
    cause: str
    table: TwoByTwo
    """Over the cases in which all its looks were taken, less those explained away."""
    whole: TwoByTwo
    """The same over all cases in which they were taken: what to show."""
    log_chance: float
    """Logarithm of Fisher's chance of finding this by accident, on ``table``."""

    @property
    def strength(self) -> tuple[float, float]:
        """For ranking: the least likely accident first, then the greater lift."""
        return (self.log_chance, -self.table.lift)


@dataclass(frozen=True)
class Bits:
    """Confirmed cases as sets: bit n stands for the n-th case by id."""

    cases: tuple[ConfirmedCase, ...]
    taken: Mapping[str, int]
    """By look: the cases in which it was taken."""
    items: Mapping[Item, int]
    causes: Mapping[str, int]

    def table(self, seen: int, true: int, among: int) -> TwoByTwo:
        """The counts of a pattern and a cause, among some cases."""
        seen &= among
        true &= among
        both = (seen & true).bit_count()
        only_seen, only_true = seen.bit_count() - both, true.bit_count() - both
        return TwoByTwo(
            both, only_seen, only_true, among.bit_count() - both - only_seen - only_true
        )


def bits_of(cases: Iterable[ConfirmedCase]) -> Bits:
    """The sets of a list of cases; its order makes no difference."""
    listed = tuple(sorted(cases, key=lambda case: case.id))
    columns: dict[str, tuple[bytearray, dict[str, int]]] = {}
    # the highest digit of a number comes first
    for place, case in enumerate(reversed(listed)):
        for look, answer in case.answers.items():
            if look not in columns:
                columns[look] = bytearray(len(listed)), {}
            column, codes = columns[look]
            if answer not in codes:
                codes[answer] = len(codes) + 1  # a byte holds 255, far more than any look has
            column[place] = codes[answer]
    taken: dict[str, int] = {}
    items: dict[Item, int] = {}
    for look in sorted(columns):
        for answer, bits in _digits(*columns[look]):
            items[look, answer] = bits
            taken[look] = taken.get(look, 0) | bits
    true = {name: set[int]() for name in sorted({c for case in listed for c in case.causes})}
    for place, case in enumerate(listed):
        for name in case.causes:
            true[name].add(place)
    return Bits(listed, taken, items, {name: _bits(places) for name, places in true.items()})


def _digits(column: bytearray, codes: Mapping[str, int]) -> Iterator[tuple[str, int]]:
    """Each answer of a look as the number whose binary digits say where it was met.

    Reading digits is done by the interpreter in one go, where setting bits one by one in Python
    would take most of the time of everything here. ``column`` holds a code for each case, 0 for
    a look not taken.
    """
    for answer in sorted(codes):
        digits = bytearray(b"0" * 256)
        digits[codes[answer]] = ord("1")
        yield answer, int(column.translate(bytes(digits)), 2)


def _bits(places: Iterable[int]) -> int:
    row = bytearray()
    for place in sorted(places):
        row.extend(bytes(max((place >> 3) + 1 - len(row), 0)))
        row[place >> 3] |= 1 << (place & 7)
    return int.from_bytes(row, "little")


def patterns(bits: Bits, *, explaining_away: bool = True) -> tuple[Pattern, ...]:
    """Single answers that go with a cause, the strongest first.

    ``explaining_away=False`` keeps every pattern that passes by itself; it is for comparison.
    """
    found, tests = [], 0
    for look, taken in bits.taken.items():
        items = [(item, seen) for item, seen in bits.items.items() if item[0] == look]
        tests += len(items) * len(bits.causes)
        passed = _passing(bits, items, bits.causes, taken, taken)
        if explaining_away:
            passed = _one_by_one(bits, items, taken, passed)
        found += passed
    return _kept(found, tests)


def pairs(bits: Bits) -> tuple[Pattern, ...]:
    """Two answers that together go with a cause, clearly better than either alone.

    And better than both added up, as the chances add up separate looks. The test is whether the
    two keep company among the cases of the cause, and whether the pair goes with the cause at all;
    the less certain of the two counts.

    Tried are the strongest answers of each cause, whether or not they were kept as patterns, so
    that two halves that say little apart can be found.
    """
    found, tests = [], 0
    for cause, true in bits.causes.items():
        parts = _parts(bits, cause, true)
        for (one, first), (other, second) in itertools.combinations(parts, 2):
            if one[0] == other[0]:
                continue
            tests += 1
            among = bits.taken[one[0]] & bits.taken[other[0]]
            table = bits.table(first & second, true, among)
            if table.both < LEAST_SUPPORT or table.lift < LEAST_LIFT:
                continue
            apart = [bits.table(part, true, among) for part in (first, second)]
            if table.share < BEATS_BOTH_BY * max(part.share for part in apart):
                continue
            # what each answer says by itself is added up anyway: only more than that is news
            if table.factor < BEATS_BOTH_BY * apart[0].factor * apart[1].factor:
                continue
            # whether they keep company where the cause is at work; how they were picked has no
            # bearing on that, so chance company stays as rare as the test says
            company = log_tail(bits.table(first, second, among & true))
            accident = max(company, log_tail(table))
            in_order = min(one, other), max(one, other)
            found.append(Pattern(in_order, cause, table, table, accident))
    kept = _kept(found, tests)
    return _without_echoes(bits, kept)


def shortlist(found: Sequence[Pattern], cases: int) -> tuple[Pattern, ...]:
    """What to show a person: all of it, but of very many cases the 30 with the greatest lift.

    With many cases much is real and too small to act on.
    """
    if cases <= MANY_CASES:
        return tuple(found)
    ranked = sorted(found, key=lambda p: (-p.whole.lift, p.strength, p.when, p.cause))
    return tuple(ranked[:SHOWN_OF_MANY])


def _parts(bits: Bits, cause: str, true: int) -> list[tuple[Item, int]]:
    ranked = []
    for item, seen in bits.items.items():
        table = bits.table(seen, true, bits.taken[item[0]])
        if table.both >= LEAST_SUPPORT and table.lift > 1:
            ranked.append((-(table.lift - 1) * table.both**0.5, item, seen))
    ranked.sort(key=lambda part: part[:2])
    return [(item, seen) for _, item, seen in ranked[:PARTS_PER_CAUSE]]


def _passing(
    bits: Bits,
    items: Iterable[tuple[Item, int]],
    causes: Mapping[str, int],
    taken: int,
    among: int,
) -> list[Pattern]:
    """Everything that passes the first two gates, with the chance of it as an accident."""
    found = []
    whole = among.bit_count()
    trues = [(cause, bits_, (bits_ & among).bit_count()) for cause, bits_ in causes.items()]
    for item, everywhere in items:
        seen = everywhere & among
        count = seen.bit_count()
        if count < LEAST_SUPPORT:
            continue
        for cause, true, met in trues:
            if met < LEAST_SUPPORT:
                continue
            both = (seen & true).bit_count()
            # the gate without making a table first: lift = both * whole / (count * met)
            if both < LEAST_SUPPORT or both * whole < LEAST_LIFT * count * met:
                continue
            table = TwoByTwo(both, count - both, met - both, whole - count - met + both)
            all_of_it = table if among == taken else bits.table(everywhere, true, taken)
            found.append(Pattern((item,), cause, table, all_of_it, log_tail(table)))
    return found


def _one_by_one(
    bits: Bits, items: Sequence[tuple[Item, int]], taken: int, passed: list[Pattern]
) -> list[Pattern]:
    """The strongest of a look, again and again, each time without the cases already explained."""
    found = []
    left, among = dict(bits.causes), taken
    while passed:
        best = min(passed, key=lambda p: (p.strength, p.when, p.cause))
        found.append(best)
        among &= ~left.pop(best.cause)
        passed = _passing(bits, items, left, taken, among)
    return found


def _kept(found: list[Pattern], tests: int) -> tuple[Pattern, ...]:
    limit = believed((p.log_chance for p in found), tests) if tests else 0.0
    kept = [p for p in found if p.log_chance <= limit]
    return tuple(sorted(kept, key=lambda p: (p.strength, p.when, p.cause)))


def _without_echoes(bits: Bits, kept: Sequence[Pattern]) -> tuple[Pattern, ...]:
    """Of pairs with one cause, those that the better ones already found do not account for."""
    found: list[Pattern] = []
    covered: dict[str, int] = {}
    for pair in kept:
        one, other = pair.when
        both = bits.items[one] & bits.items[other] & bits.causes[pair.cause]
        fresh = both & ~covered.get(pair.cause, 0)
        # a pair most of whose cases stand under a better one is the same story again
        if 2 * fresh.bit_count() >= both.bit_count():
            found.append(pair)
            covered[pair.cause] = covered.get(pair.cause, 0) | both
    return tuple(found)
