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
    """Keeps the number of unmet literals of every rule."""

    def __init__(self, engine: Any) -> None:
        super().__init__(engine)
        self._net: Net = engine.compiled.net
        self._rules: tuple[Any, ...] = engine.compiled.engine_rules
        self.reset()

    def reset(self) -> None:
        """Forget every fact."""
        self._unmet = [len(literals.needs) for literals in self._net.literals]
        self._held_by: dict[int, Any] = {}
        self._active: dict[int, Any] = {}
        self._initial: Any = None

    def changes(
        self, adding: Iterable[Any] | None = None, deleting: Iterable[Any] | None = None
    ) -> tuple[list[Any], list[Any]]:
        """The activations that facts coming and going add and remove.

        What goes is settled before what comes, so that no activation names a dead fact.
        """
        touched: set[int] = set()
        removed = []
        for fact in deleting or ():
            touched |= self._move(fact, -1)
        for place in sorted(touched):
            if self._unmet[place] and place in self._active:
                removed.append(self._active.pop(place))
        for fact in adding or ():
            if isinstance(fact, InitialFact):
                self._initial = fact
                touched.update(
                    p for p, literals in enumerate(self._net.literals) if not literals.needs
                )
            else:
                touched |= self._move(fact, 1)
        added = []
        for place in sorted(touched):
            if self._unmet[place] == 0:
                if place not in self._active:
                    self._active[place] = self._activation(place)
                    added.append(self._active[place])
            elif place in self._active:
                removed.append(self._active.pop(place))
        return added, removed

    def _move(self, fact: Any, step: int) -> set[int]:
        touched = set()
        for atom in self._net.true_atoms(type(fact).subject, fact["value"]):
            if step > 0:
                self._held_by[atom] = fact
            else:
                del self._held_by[atom]
            for place in self._net.needed_by[atom]:
                self._unmet[place] -= step
                touched.add(place)
            for place in self._net.forbidden_by[atom]:
                self._unmet[place] += step
                touched.add(place)
        return touched

    def _activation(self, place: int) -> Any:
        facts = [self._held_by[atom] for atom in self._net.literals[place].needs]
        return Activation(self._rules[place], facts or [self._initial])
