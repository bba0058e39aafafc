"""Which rules are satisfied, by counting, through experta's matcher extension point.

experta's own network is right but asks every rule for news after each firing, and each engine
builds it anew. Here the net is built once per book and shared; a session only keeps, per rule, how
many of its literals are still unmet, and a fact moves the counts of the few rules it bears on. The
rules stay real experta rules, and the tests run them under experta's own network too.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from . import repair  # noqa: F401  (experta can only be imported after the repair)
from .net import Net

from experta.abstract import Matcher  # isort: skip
from experta.activation import Activation  # isort: skip
from experta.fact import InitialFact  # isort: skip


class CountingMatcher(Matcher):  # type: ignore[misc]  # experta carries no types
    """Keeps the number of unmet literals of every rule.

    Of each subject at most one fact may stand; the session sees to that.
    """

    def __init__(self, engine: Any) -> None:
        # Not handed on: a matcher that knew its engine would keep it alive until the next
        # collection of cycles, and there is one engine per request.
        super().__init__(None)
        self._net: Net = engine.compiled.net
        self._rules: tuple[Any, ...] = engine.compiled.engine_rules
        self.reset()

    def reset(self) -> None:
        """Forget every fact."""
        self._unmet = list(self._net.unmet)
        self._held: dict[str, Any] = {}
        self._active: dict[int, Any] = {}
        self._initial: Any = None

    def changes(
        self, adding: Iterable[Any] | None = None, deleting: Iterable[Any] | None = None
    ) -> tuple[list[Any], list[Any]]:
        """The activations that facts coming and going add and remove.

        What goes is settled before what comes, so that no activation names a dead fact.
        """
        removed: list[Any] = []
        ready: list[int] = []
        if deleting:
            self._take(deleting, ready, removed)
        if adding:
            self._give(adding, ready, removed)
        active, unmet = self._active, self._unmet
        added = []
        for place in ready:
            if not unmet[place] and place not in active:
                active[place] = activation = self._activation(place)
                added.append(activation)
        return added, removed

    def _take(self, facts: Iterable[Any], ready: list[int], removed: list[Any]) -> None:
        unmet, active, held = self._unmet, self._active, self._held
        meaning = self._net.meaning
        for fact in facts:
            subject = fact.subject
            del held[subject]
            meant = meaning(subject, fact["value"])
            for place in meant.helps:
                unmet[place] += 1
                if place in active:
                    removed.append(active.pop(place))
            for place in meant.hinders:
                unmet[place] -= 1
                if not unmet[place]:
                    ready.append(place)

    def _give(self, facts: Iterable[Any], ready: list[int], removed: list[Any]) -> None:
        unmet, active, held = self._unmet, self._active, self._held
        meaning = self._net.meaning
        for fact in facts:
            if isinstance(fact, InitialFact):
                self._initial = fact
                ready.extend(self._net.unconditional)
                continue
            subject = fact.subject
            held[subject] = fact
            meant = meaning(subject, fact["value"])
            for place in meant.helps:
                unmet[place] -= 1
                if not unmet[place]:
                    ready.append(place)
            for place in meant.hinders:
                unmet[place] += 1
                if place in active:
                    removed.append(active.pop(place))

    def _activation(self, place: int) -> Any:
        held = self._held
        facts = [held[subject] for subject in self._net.literals[place].subjects]
        return Activation(self._rules[place], facts or [self._initial])
