"""The first remedy in many worlds at once, by the quick order: where to look for a change."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from diagnose.engine.worlds import evaluate_worlds
from diagnose.knowledge.book import Dough
from diagnose.knowledge.phrases import Value

from .known import Known, after
from .limits import NO_LIMITS
from .moving import Moves
from .options import Opened, Option, may_follow
from .quick_order import QuickOrder, help_per_minute

SURE_NOTHING_IS_WRONG: Final = 0.6
"""From this chance that nothing is wrong the cook is told to carry on."""


def opened_now(known: Known) -> dict[str, frozenset[str]]:
    """What each remedy that establishes something would open in the present."""
    openers = [o.remedy for o in known.options if o.remedy.establishes]
    if not openers:
        return {}
    spoken = evaluate_worlds(known.net, known.facts, [after(remedy) for remedy in openers])
    return {r.id: spoken.findings_in(world) for world, r in enumerate(openers, start=1)}


class Guesses:
    """The first remedy in many worlds at once, by the quick order; world 0 is the present."""

    def __init__(self, known: Known, changes: Sequence[Mapping[str, Value | None]]) -> None:
        self._known = known
        self._names = known.before.names
        self._moves = Moves(known, evaluate_worlds(known.net, known.facts, changes), changes)
        self._order = QuickOrder(known.options, known.start_over, known.limits)
        self._gate = _gates(known.dough)
        self._opened = opened_now(known)
        self._end = known.limits.end(known.start_over)
        self._firsts: dict[int, str] = {}
        self.now = self.first_in(0)

    def first_in(self, world: int) -> str:
        """The remedy that would come first."""
        if world not in self._firsts:
            self._firsts[world] = self._find(world)
        return self._firsts[world]

    def _find(self, world: int) -> str:
        known = self._known
        tried = known.situation.tried
        if not (self._moves.touched(world) or world == 0):
            return self.now
        findings = self._moves.findings(world)
        for finding, remedy in self._gate:
            if finding in findings:
                return remedy
        if tried and tried[-1].result == "worked":
            return _only(known.dough, "none")
        weights = self._weights(world)
        if known.dough.carry_on in self._names:
            sound = weights[self._names.index(known.dough.carry_on)]
            if sound >= SURE_NOTHING_IS_WRONG * math.fsum(weights):
                return _only(known.dough, "none")
        limits = known.limits
        pick = self._at_once(weights, findings) if limits == NO_LIMITS else None
        if pick is not None:
            return pick
        opened = self._opened_in(findings)
        goes, _ = self._order.goes(weights, findings, opened)
        return goes[0].remedy.id if goes else _only(known.dough, "restart")

    def _at_once(self, weights: Sequence[float], findings: frozenset[str]) -> str | None:
        """What ``quick_course`` starts with, where already its first step beats starting over."""
        bad = math.fsum(weights)
        best: tuple[float, Option] | None = None
        for option in self._known.options:
            if may_follow(option, weights, bad, findings):
                rate = help_per_minute(option, weights, bad, self._end)
                if best is None or rate > best[0] * _BARELY:
                    best = rate, option
        # help per minute times the minutes of starting over: above one, a step pays by itself
        if best is None or best[0] * self._known.start_over <= _BARELY:
            return None
        return best[1].remedy.id

    def margin(self, world: int) -> float:
        """How far the quick first remedy of now is ahead of the next in help per minute.

        As a difference of logarithms; negative where another is ahead.
        """
        weights, findings = self._weights(world), self._moves.findings(world)
        bad = math.fsum(weights)
        rates = {
            option.remedy.id: help_per_minute(option, weights, bad, self._end)
            for option in self._known.options
            if may_follow(option, weights, bad, findings)
        }
        own = rates.pop(self.now, _NO_HELP)
        return math.log(own) - math.log(max(rates.values(), default=_NO_HELP))

    def moves(self, world: int) -> set[tuple[str, ...]]:
        """The rules and findings that differ from the present."""
        rules = {(target, name) for target, _, name, _ in self._moves.turned(world)}
        return rules | {(finding,) for finding in self._moves.moved(world)}

    def _opened_in(self, findings: frozenset[str]) -> Opened:
        # what a remedy opens is taken from the present: near enough for a guess
        present = self._moves.findings(0)
        return {name: findings | (more - present) for name, more in self._opened.items()}

    def _weights(self, world: int) -> list[float]:
        """Chances of the causes, not yet adding up to one; quick orders do not mind."""
        shifts = self._moves.shifts(world) if world else {}
        scores = [self._known.scores[name] + shifts.get(name, 0.0) for name in self._names]
        top = max(scores)
        return [math.exp(score - top) for score in scores]


_NO_HELP: Final = 1e-6
_BARELY: Final = 1.0 + 1e-9
"""A factor no larger is a tie."""


def _gates(dough: Dough) -> list[tuple[str, str]]:
    return [(f.id, f.calls_for) for f in dough.findings if f.calls_for is not None]


def _only(dough: Dough, kind: str) -> str:
    return next(remedy.id for remedy in dough.remedies if remedy.kind == kind)
