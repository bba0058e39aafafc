"""The exact best order of remedies, and the point of giving up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from operator import add, mul
from types import MappingProxyType

from .limits import NO_LIMITS, Limits
from .options import HARM_HELD_BACK, JUST, LEAST_HELP, Chances, Opened, Option
from .quick_order import Course, course_of, dot, quick_course

MOST_OPTIONS = 8
"""The options that the exact search takes; those of the quick order are always among them."""


def best_course(
    options: Sequence[Option],
    weights: Sequence[float],
    start_over: float,
    findings: frozenset[str] = frozenset(),
    opened: Opened = MappingProxyType({}),
    limits: Limits = NO_LIMITS,
) -> Course:
    """The exact best order and cut, by dynamic programming over the goes made in vain.

    Takes at most eight options: those of the quick order (so that it is never worse), those that
    open others, then those that help most per minute. Agrees with trying every order (see the
    tests).
    """
    quick = quick_course(options, weights, start_over, findings, opened, limits)
    at_hand = {remedy.id for remedy in quick.remedies}
    reach = findings.union(*opened.values())
    ranked = sorted(
        (option for option in options if option.gates <= reach),
        key=lambda o: (
            o.remedy.id not in at_hand,
            o.remedy.id not in opened,
            -dot(weights, o.helps) / o.minutes,
            o.remedy.id,
        ),
    )[:MOST_OPTIONS]
    search = _Search(ranked, weights, start_over, opened, limits)
    return course_of(*search.course(findings), limits)


Vector = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Go:
    """An option over the classes of causes that all the options treat alike."""

    option: Option
    helps: Vector
    worse: Vector
    lost: Vector
    """Chance that a go neither helps nor leaves anything to help."""
    stays: Vector
    dangers: tuple[int, ...]
    hopes: tuple[Chances, ...]

    @property
    def least(self) -> float:
        """Minutes of its shortest go."""
        return self.option.minutes - self.option.saved


@dataclass(frozen=True, slots=True)
class _State:
    """Goes made in vain, and what follows from them whatever their order was."""

    key: int
    gone: tuple[int, ...]
    left: Vector
    known: frozenset[str]
    clock: float
    behind: Vector
    """Minutes of putting right on top of the clock."""


class _Search:
    """Least loss by the set of goes made in vain; branches that cannot win are not followed.

    The bound is what each cause would cost a cook who knew it: goes by help per minute, and a
    point of giving up (the best order for one cause; see e.g. Gluss, Operations Research 7, 1959,
    468-477, from memory). No plan does better, whatever has been tried.
    """

    def __init__(
        self,
        ranked: Sequence[Option],
        weights: Sequence[float],
        start_over: float,
        opened: Opened,
        limits: Limits,
    ) -> None:
        self._start_over, self._opened, self._limits = start_over, opened, limits
        self._end = limits.end(start_over)
        classes = _classes(ranked, len(weights))
        self._weights = tuple(math.fsum(weights[p] for p in places) for places in classes)
        self._goes = [_go(option, classes) for option in ranked]
        self._strides: list[int] = []
        stride = 1
        for option in ranked:
            self._strides.append(stride)
            stride *= option.goes + 1
        self._least = tuple(
            _if_known(
                [(g.least + g.worse[c], g.helps[c], g.option.goes) for g in self._goes], self._end
            )
            for c in range(len(classes))
        )
        self._found: dict[int, tuple[float, int | None]] = {}
        longest = sum((g.option.minutes + max(g.worse)) * g.option.goes for g in self._goes)
        self._never_late = limits.minutes_left is None or (
            limits.late(longest) == 0 and limits.end(start_over, longest) == self._end
        )

    def course(self, findings: frozenset[str]) -> tuple[list[Option], float]:
        """The best goes in order, and the loss of it all."""
        nothing = (0.0,) * len(self._weights)
        state = _State(0, (0,) * len(self._goes), self._weights, findings, 0.0, nothing)
        value = self._value(state)
        order: list[Option] = []
        while (step := self._found[state.key][1]) is not None:
            order.append(self._goes[step].option)
            state = self._after(state, step)
        return order, value

    def _value(self, state: _State) -> float:
        found = self._found.get(state.key)
        if found is not None:
            return found[0]
        bad = sum(state.left)
        best, choice = self._give_up(state, bad), None
        branches = []
        for n, go in enumerate(self._goes):
            gone = state.gone[n]
            if gone < go.option.goes and self._may(go, state, bad, gone):
                now = self._cost(go, state, bad, gone)
                bound = now + dot(map(mul, state.left, go.stays), self._least)
                branches.append((bound, n, now))
        branches.sort()
        for bound, n, now in branches:
            if bound >= best - 1e-12:
                break
            cost = now + self._value(self._after(state, n))
            if cost < best - 1e-12:
                best, choice = cost, n
        self._found[state.key] = best, choice
        return best

    def _may(self, go: _Go, state: _State, bad: float, gone: int) -> bool:
        """``may_follow``, over the classes."""
        if not go.option.gates <= state.known:
            return False
        most = HARM_HELD_BACK * bad * JUST
        for place in go.dangers:
            if state.left[place] >= most:
                return False
        helped = 0.0
        for place, hope in go.hopes[gone]:
            helped += state.left[place] * hope
        return helped >= LEAST_HELP * bad * JUST

    def _cost(self, go: _Go, state: _State, bad: float, gone: int) -> float:
        """Of one go: minutes, what is spoilt or ruined, and being late although it helps."""
        left = state.left
        cost = go.option.took(gone) * bad + dot(left, go.worse)
        if self._never_late:
            return cost + self._end * dot(left, go.lost)
        limits, clock = self._limits, state.clock + go.option.took(gone)
        for c, (weight, behind) in enumerate(zip(left, state.behind, strict=True)):
            then = clock + behind + go.worse[c]
            cost += weight * go.helps[c] * limits.late(then)
            cost += weight * go.lost[c] * limits.end(self._start_over, then)
        return cost

    def _give_up(self, state: _State, bad: float) -> float:
        if self._never_late:
            return self._end * bad
        ends = (self._limits.end(self._start_over, state.clock + b) for b in state.behind)
        return dot(state.left, ends)

    def _after(self, state: _State, n: int) -> _State:
        go = self._goes[n]
        remedy = go.option.remedy.id
        return _State(
            key=state.key + self._strides[n],
            gone=(*state.gone[:n], state.gone[n] + 1, *state.gone[n + 1 :]),
            left=tuple(map(mul, state.left, go.stays)),
            known=state.known | self._opened[remedy] if remedy in self._opened else state.known,
            clock=state.clock + go.option.took(state.gone[n]),
            behind=state.behind if self._never_late else tuple(map(add, state.behind, go.worse)),
        )


def _classes(ranked: Sequence[Option], count: int) -> list[list[int]]:
    """Places that every option treats alike, together; a place it can harm stands alone."""
    harmed = {place for option in ranked for place, _ in (*option.harm, *option.ruins)}
    hoped = [dict(option.cured) for option in ranked]
    classes: dict[object, list[int]] = {}
    for place in range(count):
        alike = tuple(
            (option.helps[place], place in cured)
            for option, cured in zip(ranked, hoped, strict=True)
        )
        key: object = place if place in harmed else alike
        classes.setdefault(key, []).append(place)
    return list(classes.values())


def _go(option: Option, classes: Sequence[Sequence[int]]) -> _Go:
    worse, lost = dict(option.harm), dict(option.ruins)
    # the places of a class are alike: its first speaks for all
    firsts = [places[0] for places in classes]
    of = {place: c for c, place in enumerate(firsts)}
    helped = tuple(option.helps[p] for p in firsts)
    ruined = tuple((1 - option.helps[p]) * lost.get(p, 0.0) for p in firsts)
    return _Go(
        option=option,
        helps=helped,
        worse=tuple(worse.get(p, 0.0) for p in firsts),
        lost=ruined,
        stays=tuple(1 - h - r for h, r in zip(helped, ruined, strict=True)),
        dangers=tuple(of[p] for p in option.danger),
        hopes=tuple(tuple((of[p], hope) for p, hope in by if p in of) for by in option.hopes),
    )


def _if_known(goes: Sequence[tuple[float, float, int]], end: float) -> float:
    """Least minutes under one known cause; goes are (minutes, chance to help, how often).

    >>> _if_known([(10.0, 0.5, 1), (4.0, 0.5, 1)], 100.0)
    34.0
    """
    value = end
    for cost, helped, often in sorted(goes, key=lambda g: g[1] / g[0]):
        for _ in range(often):
            value = min(value, cost + (1 - helped) * value)
    return value
