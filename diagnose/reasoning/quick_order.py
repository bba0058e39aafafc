"""Which remedy first, and whether to rescue or to start over: a good order at once.

A plan is an order of remedies with a point at which to give up and start over. Its loss is the
minutes it can be expected to cost: the remedies until one helps, what a wrong remedy spoils, being
late, and starting over if none helps. "Start over" is always in the race: it is the empty plan.

**The hour of serving.** Minutes of remedies and of putting right run on the clock, cause by cause;
if the food is right, or a fresh batch is back at this stage, later than the hour allows, a late
dinner is paid for once.

A plan is one fixed order. What a cook sees on the way (that it got worse, that time flies) is not
foreseen here; every report makes a new plan. The order here serves the many hypothetical answers;
``exact_order`` has the exact one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from operator import mul
from types import MappingProxyType

from diagnose.knowledge.book import Remedy

from .limits import GO_WITHOUT, LATE_DINNER, NO_LIMITS, End, Limits
from .options import HARM_HELD_BACK, JUST, LEAST_HELP, Chances, Opened, Option

LONGEST_QUICK = 8
"""Goes; not more than the exact order's options, which take in all that this order names."""


@dataclass(frozen=True, slots=True)
class Course:
    """Remedies in order, up to where it is better to give up, and the minutes expected."""

    remedies: tuple[Remedy, ...]
    """Each is named once, where its first go comes."""
    minutes: float
    goes: tuple[Remedy, ...] = ()
    """The same, go by go."""
    ends: End = "start-over"


def course_of(goes: Iterable[Option], minutes: float, limits: Limits) -> Course:
    """A course from its goes."""
    named = tuple(option.remedy for option in goes)
    once = {remedy.id: remedy for remedy in reversed(named)}
    first = tuple(once[name] for name in dict.fromkeys(remedy.id for remedy in named))
    return Course(first, minutes, named, limits.way_out)


@dataclass(frozen=True, slots=True)
class _Row:
    """One option with everything the loop reads, worked out once for a situation."""

    option: Option
    gates: frozenset[str]
    name: str
    hopes: tuple[Chances, ...]
    runs: tuple[tuple[float, float, Chances], ...]
    spoils: Chances
    """Minutes that a go is expected to spoil, ruin included, where it does."""
    danger: tuple[int, ...]
    stays: Chances
    keeps: float
    """What stays of a cause that this option treats like most."""
    took: tuple[float, ...]
    """Minutes of each go."""
    longest: float


class QuickOrder:
    """The quick order over the options of one situation, for any beliefs about it."""

    def __init__(
        self, options: Sequence[Option], start_over: float, limits: Limits = NO_LIMITS
    ) -> None:
        self._options, self._start_over, self._limits = options, start_over, limits
        self._end = limits.end(start_over)
        self._rows = [_row(option, self._end) for option in options]

    def course(
        self,
        weights: Sequence[float],
        findings: frozenset[str] = frozenset(),
        opened: Opened = MappingProxyType({}),
    ) -> Course:
        """Help per minute, ranked anew after each step, cut where it pays to give up.

        ``weights`` are the chances of the causes, in the order of the options' tuples. The minutes
        are those of the order it gives, so it never promises less than the best order takes.
        """
        goes, minutes = self.goes(weights, findings, opened)
        return course_of(goes, minutes, self._limits)

    def surely_first(
        self, weights: Sequence[float], findings: frozenset[str], opened: Opened
    ) -> str | None:
        """The remedy that the course begins with, where one look tells; None where it does not.

        That is where no hour of serving is set and the first go alone beats giving up, so that
        however the course goes on, it begins so. ``weights`` must add up to one.
        """
        if self._limits.minutes_left is not None:
            return None
        reach = findings.union(*opened.values()) if opened else findings
        pool = [n for n, row in enumerate(self._rows) if row.gates <= reach]
        pick = self._next(pool, weights, 1.0, [0] * len(self._rows), findings)
        if pick < 0:
            return None
        row = self._rows[pick]
        spoilt = math.fsum(weights[place] * worse for place, worse in row.spoils)
        stays = dict(row.stays)
        after = row.keeps * math.fsum(w * stays.get(p, 1.0) for p, w in enumerate(weights))
        total = row.took[0] + spoilt + after * self._end
        return row.name if total < self._end * (1 - 1e-9) else None

    def goes(
        self, weights: Sequence[float], findings: frozenset[str], opened: Opened
    ) -> tuple[list[Option], float]:
        """The goes of that course, and its minutes."""
        rows, end = self._rows, self._end
        # what is left is scale x part: a go then changes only the causes it is about
        part, scale = list(weights), 1.0
        bad = math.fsum(part)
        gone = [0] * len(rows)
        reach = findings.union(*opened.values()) if opened else findings
        pool = [n for n, row in enumerate(rows) if row.gates <= reach]
        least = min((rows[n].took[-1] for n in pool), default=0.0)
        order: list[int] = []
        spent, best, length = 0.0, end * bad, 0
        while len(order) < LONGEST_QUICK and spent + scale * bad * least < best:
            pick = self._next(pool, part, bad, gone, findings)
            if pick < 0:
                break
            row = rows[pick]
            order.append(pick)
            spoilt = 0.0
            for place, worse in row.spoils:
                spoilt += part[place] * worse
            spent += scale * (row.took[gone[pick]] * bad + spoilt)
            gone[pick] += 1
            if gone[pick] == len(row.took):
                pool.remove(pick)
            scale *= row.keeps
            for place, stays in row.stays:
                part[place] *= stays
            bad = sum(part)
            if row.name in opened:
                findings = findings | opened[row.name]
            total = spent + scale * bad * end
            if total < best - 1e-12:
                best, length = total, len(order)
        goes = [rows[n].option for n in order]
        if self._may_turn_late(order):
            losses = prefix_losses(goes, weights, self._start_over, self._limits)
            best = min(losses)
            length = losses.index(best)
        return goes[:length], best

    def _next(
        self,
        pool: Sequence[int],
        part: Sequence[float],
        bad: float,
        gone: Sequence[int],
        findings: frozenset[str],
    ) -> int:
        """The option that helps most per minute of those that may be done now; -1 for none.

        ``may_follow`` and ``help_per_minute`` in one, because this is where the time goes.
        """
        fair, danger = LEAST_HELP * bad * JUST, HARM_HELD_BACK * bad * JUST
        pick, top = -1, 0.0
        for n in pool:
            row = self._rows[n]
            helped = 0.0
            for place, hope in row.hopes[gone[n]]:
                helped += part[place] * hope
            if helped < fair or not row.gates <= findings:
                continue
            for place in row.danger:
                if part[place] >= danger:
                    break
            else:
                minutes, even, beyond = row.runs[gone[n]]
                gain = even * bad
                for place, more in beyond:
                    gain += part[place] * more
                cost = minutes * bad
                for place, worse in row.spoils:
                    cost += part[place] * worse
                if gain > top * cost:
                    pick, top = n, gain / cost
        return pick

    def _may_turn_late(self, order: Sequence[int]) -> bool:
        """Whether something that would be in time now could be late after these goes."""
        limits = self._limits
        if limits.minutes_left is None:
            return False
        worst = sum(self._rows[n].longest for n in order)
        return limits.late(worst) > 0 or limits.end(self._start_over, worst) > self._end


def _row(option: Option, end: float) -> _Row:
    spoils = dict(option.harm)
    for place, lost in option.ruins:
        ruin = (1 - option.helps[place]) * lost * end
        spoils[place] = spoils.get(place, 0.0) + ruin
    return _Row(
        option=option,
        gates=option.gates,
        name=option.remedy.id,
        hopes=option.hopes,
        runs=option.runs,
        spoils=tuple(spoils.items()),
        danger=option.danger,
        stays=option.stays,
        keeps=1 - option.even,
        took=tuple(option.took(gone) for gone in range(option.goes)),
        longest=option.minutes + sum(m for _, m in option.harm),
    )


def quick_course(
    options: Sequence[Option],
    weights: Sequence[float],
    start_over: float,
    findings: frozenset[str] = frozenset(),
    opened: Opened = MappingProxyType({}),
    limits: Limits = NO_LIMITS,
) -> Course:
    """The quick order for one belief."""
    return QuickOrder(options, start_over, limits).course(weights, findings, opened)


def help_per_minute(
    option: Option, left: Sequence[float], bad: float, end: float, gone: int = 0
) -> float:
    """What the quick order ranks by: chance to help over minutes, doses taken together.

    ``left`` need not add up to one, ``bad`` is its sum; ``end`` is what giving up costs.
    """
    minutes, even, beyond = option.runs[gone]
    gain = even * bad
    for place, more in beyond:
        gain += left[place] * more
    return gain / (minutes * bad + _harm(option, left, end))


def _harm(option: Option, left: Sequence[float], end: float) -> float:
    """Minutes a go is expected to spoil."""
    cost = 0.0
    for place, worse in option.harm:
        cost += left[place] * worse
    for place, lost in option.ruins:
        cost += left[place] * (1 - option.helps[place]) * lost * end
    return cost


def prefix_losses(
    goes: Sequence[Option], weights: Sequence[float], start_over: float, limits: Limits = NO_LIMITS
) -> list[float]:
    """The minutes expected of giving up after none, one, two ... of these goes."""
    # Causes that every go treats like most run on one clock, so they are taken together.
    apart = sorted({p for o in goes for p, _ in (*o.stays, *o.harm, *o.ruins)})
    left = [weights[p] for p in apart]
    left.append(math.fsum(weights) - math.fsum(left))
    clock = [0.0] * len(left)
    last = math.inf if limits.minutes_left is None else limits.minutes_left + 1e-9
    if limits.can_start_over:
        ending, late_end, last_end = start_over, start_over + LATE_DINNER, last - start_over
    else:
        ending, late_end, last_end = start_over + GO_WITHOUT, 0.0, math.inf
    spent = 0.0
    done: set[str] = set()
    losses = [(ending if last_end >= 0.0 else late_end) * math.fsum(left)]
    for option in goes:
        worse, lost = dict(option.harm), dict(option.ruins)
        took = option.took(option.remedy.id in done)
        done.add(option.remedy.id)
        given_up = 0.0
        for n, place in enumerate((*apart, -1)):
            helped = option.even if place < 0 else option.helps[place]
            here = took + worse.get(place, 0.0)
            at = clock[n] = clock[n] + here
            weight = left[n]
            stays = weight * (1 - helped)
            ruined = stays * lost.get(place, 0.0)
            ends = ending if at <= last_end else late_end
            spent += weight * (here if at <= last else here + helped * LATE_DINNER) + ruined * ends
            left[n] = stays - ruined
            given_up += left[n] * ends
        losses.append(spent + given_up)
    return losses


def dot(left: Iterable[float], right: Iterable[float]) -> float:
    """The sum of the products."""
    total: float = sum(map(mul, left, right))
    return total
