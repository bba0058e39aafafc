"""Which facts make some rules speak and keep others silent, findings and all: exact, with a budget.

A rule that asks for a finding speaks only if another rule concludes it, and one that asks for its
absence only if every rule that concludes it is silent. The search starts from everything that can
be told, narrows it by what must hold, and takes up the choices (which rule concludes? which
condition of a silent rule fails?) with the fewest ways first. Each way is tried with the earlier
ways excluded, so that no part is looked at twice.

What it finds is a box of plain facts: every situation in it is an example. Because any number of
choices can depend on each other, a search may take too long; it then says so and decides nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Final, NamedTuple

from diagnose.knowledge.book import Condition, Dough, Rule
from diagnose.knowledge.phrases import Value

from .boxes import Box, Space, conditions, space_of

BUDGET: Final = 2_000
"""Steps after which a search gives up: a few tenths of a second."""

_ABSENT: Final = 1
_TOLD: Final = 2
"""The cells of a finding among the facts: it is only told when a remedy establishes it."""


class NotDecided(Exception):
    """The search gave up before it had an answer."""


CELLS: Final = 0
PRESENT: Final = 1
SPEAKS: Final = 2


class _Literal(NamedTuple):
    """One thing that has to be so: a subject within some cells, a finding there, a rule speaking.

    ``value`` holds the bits of the cells, or 1 for yes and 0 for no.
    """

    kind: int
    about: int
    value: int


@dataclass
class _State:
    """What one line of the search has settled, and the choices it has still to make."""

    box: dict[int, int]
    settled: dict[tuple[int, int], int]
    choices: list[tuple[_Literal, ...]]
    """Of each, at least one literal must be so."""

    def copy(self) -> _State:
        return _State(dict(self.box), dict(self.settled), list(self.choices))


class Chains:
    """The rules of a dough that are not retired, ready to be asked what can happen."""

    def __init__(
        self, dough: Dough, budget: int = BUDGET, rules: Iterable[Rule] | None = None
    ) -> None:
        """``rules``: only these; every rule that concludes a finding they name must be there."""
        some = dough.rules if rules is None else rules
        self.rules = tuple(rule for rule in some if rule.standing != "retired")
        self.space: Space = space_of(dough, self.rules)
        self.budget = budget
        self._full = [subject.full for subject in self.space.subjects]
        place = self.space.place
        findings = [finding.id for finding in dough.findings if finding.id in place]
        self._findings = {place[name] for name in findings}
        self._parts = [
            tuple(self._literal(condition, holds) for condition, holds in conditions(rule))
            for rule in self.rules
        ]
        self._number = {rule.id: number for number, rule in enumerate(self.rules)}
        self.concluding = {
            name: tuple(rule for rule in self.rules if rule.concludes == name) for name in findings
        }
        self._ways = {
            place[name]: tuple(self._number[rule.id] for rule in rules)
            for name, rules in self.concluding.items()
        }
        by_remedy = {name for remedy in dough.remedies for name in remedy.establishes}
        self._start = {place[name]: _ABSENT for name in findings if name not in by_remedy}
        self._steps = 0

    def facts_for(
        self, speak: Iterable[Rule], silent: Iterable[Rule] = (), within: Box | None = None
    ) -> dict[str, Value] | None:
        """Facts under which all of ``speak`` speak and none of ``silent``, or None.

        None says that there are no such facts. ``within`` narrows what may be told, by the place
        of a subject in ``space``.

        Raises:
            NotDecided: the budget of steps ran out.
        """
        wanted = [_Literal(SPEAKS, self._number[rule.id], 1) for rule in speak]
        wanted += [_Literal(SPEAKS, self._number[rule.id], 0) for rule in silent]
        wanted += [_Literal(CELLS, place, bits) for place, bits in (within or {}).items()]
        return self._facts(wanted)

    def facts_meeting(self, rule: Rule, kept: Collection[int]) -> dict[str, Value] | None:
        """Facts that meet some conditions of a rule: those at these places of ``conditions``.

        Raises:
            NotDecided: the budget of steps ran out.
        """
        parts = self._parts[self._number[rule.id]]
        return self._facts([part for number, part in enumerate(parts) if number in kept])

    def _facts(self, wanted: list[_Literal]) -> dict[str, Value] | None:
        self._steps = 0
        found = self._search(_State(dict(self._start), {}, []), wanted)
        return None if found is None else self.space.witness(found)

    def _literal(self, condition: Condition, holds: bool) -> _Literal:
        place = self.space.place[condition.subject]
        subject = self.space.subjects[place]
        bits = subject.bits(condition.phrase)
        if not holds:
            bits = subject.full & ~bits
        if place in self._findings:
            return _Literal(PRESENT, place, int(bits == _TOLD))
        return _Literal(CELLS, place, bits)

    def _opposite(self, literal: _Literal) -> _Literal:
        kind, about, value = literal
        return _Literal(kind, about, self._full[about] & ~value if kind == CELLS else 1 - value)

    def _search(self, state: _State, wanted: list[_Literal]) -> dict[int, int] | None:
        self._steps += 1
        if self._steps > self.budget:
            raise NotDecided
        if not self._settle(state, wanted):
            return None
        while True:
            fewest: tuple[_Literal, ...] | None = None
            left = []
            certain: list[_Literal] = []
            for choice in state.choices:
                ways = self._ways_left(state, choice)
                if ways is None:
                    continue
                if not ways:
                    return None
                if len(ways) == 1:
                    certain.append(ways[0])
                    continue
                left.append(ways)
                if fewest is None or len(ways) < len(fewest):
                    fewest = ways
            state.choices = left
            if not certain:
                break
            if not self._settle(state, certain):
                return None
        if fewest is None:
            return state.box
        excluded: list[_Literal] = []
        for way in fewest:
            found = self._search(state.copy(), [way, *excluded])
            if found is not None:
                return found
            excluded.append(self._opposite(way))
        return None

    def _settle(self, state: _State, wanted: list[_Literal]) -> bool:
        """Take in what must be so, with all that follows; False if that cannot be."""
        waiting = list(wanted)
        while waiting:
            kind, about, value = waiting.pop()
            if kind == CELLS:
                bits = state.box.get(about, self._full[about]) & value
                if not bits:
                    return False
                state.box[about] = bits
                continue
            known = state.settled.get((kind, about))
            if known is not None:
                if known != value:
                    return False
                continue
            state.settled[kind, about] = value
            if kind == PRESENT:
                ways = [_Literal(SPEAKS, rule, value) for rule in self._ways[about]]
                ways.append(_Literal(CELLS, about, _TOLD if value else _ABSENT))
                both = not value
            else:
                parts = self._parts[about]
                both = bool(value)
                ways = list(parts) if value else [self._opposite(part) for part in parts]
            if both:
                waiting += ways
            else:
                state.choices.append(tuple(ways))
        return True

    def _ways_left(
        self, state: _State, choice: tuple[_Literal, ...]
    ) -> tuple[_Literal, ...] | None:
        """The ways of a choice that are still open; None if one of them is so anyway."""
        left = []
        for literal in choice:
            truth = self._judge(state, literal)
            if truth is True:
                return None
            if truth is None:
                left.append(literal)
        return tuple(left)

    def _judge(self, state: _State, literal: _Literal) -> bool | None:
        """Whether something is so, is not, or may still be either."""
        kind, about, value = literal
        if kind == CELLS:
            here = state.box.get(about, self._full[about])
            if not here & value:
                return False
            return None if here & ~value else True
        known = state.settled.get((kind, about))
        if known is None and kind == SPEAKS:
            known = self._speaks(state, about)
        return None if known is None else known == value

    def _speaks(self, state: _State, rule: int) -> bool | None:
        """Whether a rule speaks, as far as that can be seen without following its findings."""
        truths = [self._judge(state, part) for part in self._parts[rule]]
        if False in truths:
            return False
        return None if None in truths else True
