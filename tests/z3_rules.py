"""The rules of a dough as z3 formulas, written straight from what the phrases mean.

Nothing here knows of cells or boxes: an answer is an integer with 0 for "not answered", a
reading a real number beside whether it was taken.
"""

from __future__ import annotations

from typing import Any

import z3

from diagnose.knowledge.book import Condition, Dough, Rule
from diagnose.knowledge.phrases import Interval, OneOf, Presence


class Formulas:
    """What a dough's rules ask for; findings are free unless ``chained``."""

    def __init__(self, dough: Dough, chained: bool = False) -> None:
        self.always: list[Any] = []
        self._answers = {s.id: [answer.id for answer in s.answers] for s in dough.signs}
        self._answer = {s.id: z3.Int(f"answer {s.id}") for s in dough.signs}
        self._taken = {r.id: z3.Bool(f"taken {r.id}") for r in dough.readings}
        self._number = {r.id: z3.Real(f"number {r.id}") for r in dough.readings}
        self._there = {f.id: z3.Bool(f"there {f.id}") for f in dough.findings}
        for name, answers in self._answers.items():
            self.always += [self._answer[name] >= 0, self._answer[name] <= len(answers)]
        for reading in dough.readings:
            low, high = reading.possible
            self.always += [self._number[reading.id] >= low, self._number[reading.id] <= high]
        if chained:
            for name, there in self._there.items():
                ways = [self.speaks(r) for r in dough.rules if r.concludes == name]
                self.always.append(there == z3.Or(ways))

    def solver(self) -> Any:
        solver = z3.Solver()
        solver.add(self.always)
        return solver

    def speaks(self, rule: Rule) -> Any:
        met = [self._known(condition) for condition in rule.when]
        stopped = [self._known(condition) for condition in rule.unless]
        return z3.And(*met, *(z3.Not(each) for each in stopped))

    def _known(self, condition: Condition) -> Any:
        name, phrase = condition.subject, condition.phrase
        if isinstance(phrase, Presence):
            return self._there[name] if phrase.present else z3.Not(self._there[name])
        if isinstance(phrase, OneOf):
            answer = self._answer[name]
            listed = z3.Or([answer == 1 + self._answers[name].index(a) for a in phrase.answers])
            return z3.And(answer > 0, z3.Not(listed)) if phrase.negated else listed
        return z3.And(self._taken[name], *_limits(self._number[name], phrase))


def _limits(number: Any, phrase: Interval) -> list[Any]:
    limits = []
    if phrase.low is not None:
        limits.append(number >= phrase.low if phrase.low_inside else number > phrase.low)
    if phrase.high is not None:
        limits.append(number <= phrase.high if phrase.high_inside else number < phrase.high)
    return limits


def can_be(solver: Any, *formulas: Any) -> bool:
    """Whether all of these can be so at once."""
    result = solver.check(*formulas)
    assert result != z3.unknown
    return bool(result == z3.sat)
