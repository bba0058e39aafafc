"""The questions that several lints ask about the rules of a dough, each answered once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from enum import Enum
from typing import Final

from diagnose.knowledge.book import Dough, Rule
from diagnose.knowledge.phrases import Value
from diagnose.reasoning.posterior import about

from .chaining import BUDGET, Chains, NotDecided


class Undecided(Enum):
    """What stands for an answer when a search gave up."""

    GAVE_UP = "gave up"


GAVE_UP: Final = Undecided.GAVE_UP
Told = Mapping[str, Value]
Answer = Told | None | Undecided
"""Facts that show it, None if there are none, or that nobody knows."""


class Audit:
    """One dough under examination. Retired rules are left out."""

    def __init__(
        self, dough: Dough, budget: int = BUDGET, rules: Iterable[Rule] | None = None
    ) -> None:
        """``rules``: only these, as ``chaining.Chains`` takes them."""
        self.dough = dough
        self.chains = Chains(dough, budget, rules)
        self.rules = self.chains.rules
        self._asked: dict[tuple[tuple[str, ...], tuple[str, ...]], Answer] = {}

    def speak(self, *rules: Rule) -> Answer:
        """Facts under which all of these speak together."""
        return self._ask(rules, ())

    def alone(self, rule: Rule, others: Sequence[Rule]) -> Answer:
        """Facts under which a rule speaks while none of the others does."""
        return self._ask((rule,), others)

    def inside(self, rule: Rule, others: Sequence[Rule]) -> bool:
        """True if the rule can speak, and whenever it does one of the others does too."""
        return isinstance(self.speak(rule), Mapping) and self.alone(rule, others) is None

    def example(self, *rules: Rule) -> str:
        """Facts on which these speak together, as an author writes them in a case."""
        told = self.speak(*rules)
        return self.in_words(told) if isinstance(told, Mapping) else "nothing that is known"

    def in_words(self, told: Told) -> str:
        """Facts as an author writes them in a case."""
        return self.chains.space.in_words(told)

    def pairs(self) -> Iterator[tuple[Rule, Rule]]:
        """Every two rules about one cause, in the book's order."""
        for number, one in enumerate(self.rules):
            if about(one) is not None:
                for other in self.rules[number + 1 :]:
                    if about(other) == about(one):
                        yield one, other

    def undecided(self) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
        """The questions that were given up so far: these rules speak, and those do not."""
        return (question for question, answer in self._asked.items() if answer is GAVE_UP)

    def _ask(self, speak: Sequence[Rule], silent: Sequence[Rule]) -> Answer:
        question = tuple(r.id for r in speak), tuple(r.id for r in silent)
        if question not in self._asked:
            try:
                self._asked[question] = self.chains.facts_for(speak, silent)
            except NotDecided:
                self._asked[question] = GAVE_UP
        return self._asked[question]


class Audits:
    """The audit of the dough that was asked for last; lints of one list share it."""

    def __init__(self, budget: int = BUDGET) -> None:
        self._budget = budget
        self._last: Audit | None = None

    def of(self, dough: Dough) -> Audit:
        """The audit of a dough."""
        if self._last is None or self._last.dough is not dough:
            self._last = Audit(dough, self._budget)
        return self._last
