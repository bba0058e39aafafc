"""The rules of a book said in CLIPS, so that an independent engine can judge the same facts.

CLIPS is the forward-chaining language of NASA's Johnson Space Center (Basic Programming Guide,
version 6.4); clipspy carries its engine. Each subject is an ordered fact ``(sign-3 a)``. A variable
that stands in two patterns would be a join, so every variable name is used once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import count
from typing import Any

import clips

from diagnose.engine.compiling import CompiledRules, salience_of
from diagnose.engine.session import Outcome
from diagnose.knowledge.book import Condition, Rule
from diagnose.knowledge.phrases import PRESENT, Interval, OneOf, Presence, Value


def pattern(condition: Condition, names: Iterator[int]) -> str:
    """One condition as a CLIPS pattern."""
    subject, phrase = condition.subject, condition.phrase
    if isinstance(phrase, Presence):
        said = f"({subject} {PRESENT})"
        return said if phrase.present else f"(not {said})"
    if isinstance(phrase, OneOf):
        if phrase.negated:
            return f"({subject} {'&'.join('~' + answer for answer in phrase.answers)})"
        return f"({subject} {'|'.join(phrase.answers)})"
    name = f"?v{next(names)}"
    return f"({subject} {name}&:(and {' '.join(_limits(phrase, name))}))"


def _limits(phrase: Interval, name: str) -> list[str]:
    tests = ["TRUE"]
    if phrase.low is not None:
        tests.append(f"({'>=' if phrase.low_inside else '>'} {name} {float(phrase.low)!r})")
    if phrase.high is not None:
        tests.append(f"({'<=' if phrase.high_inside else '<'} {name} {float(phrase.high)!r})")
    return tests


def defrule(rule: Rule, level: int, names: Iterator[int], logical: bool = False) -> str:
    """A rule as a CLIPS rule; with ``logical`` CLIPS itself takes conclusions back."""
    conditions = [pattern(c, names) for c in rule.when]
    conditions += [f"(not {pattern(c, names)})" for c in rule.unless]
    left = " ".join(conditions)
    if logical:
        left = f"(logical {left})"
    right = f"(spoke {rule.id})"
    if logical:
        right += f" (assert (said {rule.id}))"
    if rule.concludes is not None:
        right += f" (assert ({rule.concludes} {PRESENT}))"
    return f"(defrule {rule.id} (declare (salience {salience_of(level)})) {left} => {right})"


def fact(subject: str, value: Value) -> str:
    """A fact as CLIPS reads it."""
    return f"({subject} {value if isinstance(value, str) else repr(float(value))})"


class ClipsBook:
    """The compiled rules of a book in a CLIPS environment of its own."""

    def __init__(self, compiled: CompiledRules, logical: bool = False) -> None:
        self.compiled = compiled
        self.fired: list[str] = []
        self.environment = clips.Environment()
        self.environment.define_function(self.fired.append, name="spoke")
        names = count()
        for rule in compiled.rules:
            self.environment.build(defrule(rule, compiled.level[rule.id], names, logical))

    def tell(self, subject: str, value: Value) -> Any:
        """Assert one fact; what comes back can be retracted."""
        return self.environment.assert_string(fact(subject, value))

    def tell_all(self, facts: Mapping[str, Value]) -> None:
        """Assert many facts in one call, which is a little quicker."""
        if facts:
            self.environment.load_facts(" ".join(fact(*item) for item in facts.items()))

    def run(self, facts: Mapping[str, Value]) -> Outcome:
        """A fresh run over these facts."""
        self.environment.reset()
        self.fired.clear()
        self.tell_all(facts)
        self.environment.run()
        spoke = set(self.fired)
        rules = tuple(rule for rule in self.compiled.rules if rule.id in spoke)
        concluded = {rule.concludes for rule in rules if rule.concludes is not None}
        told = {name for name, value in facts.items() if value == PRESENT}
        return Outcome(rules, frozenset(concluded | told))
