"""The same rules, evaluated plainly and in level order, without experta.

It judges every phrase of every rule anew and looks nothing up: slow, and plain enough to read. It
is the second opinion on the engine in the tests, and judges single conditions for the trace. The
engine stays the authority on what was really told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnose.knowledge.book import Condition, Rule
from diagnose.knowledge.phrases import PRESENT, Presence, Truth, Value

from .session import Outcome


def judge(condition: Condition, facts: Mapping[str, Value], findings: set[str]) -> Truth:
    """Judge one condition on the facts and the findings so far."""
    if isinstance(condition.phrase, Presence):
        return condition.phrase.judge(PRESENT if condition.subject in findings else None)
    return condition.phrase.judge(facts.get(condition.subject))


def evaluate(rules: Sequence[Rule], facts: Mapping[str, Value]) -> Outcome:
    """Run ``rules``, which must stand in level order, over ``facts``."""
    findings: set[str] = {name for name, value in facts.items() if value == PRESENT}
    spoke = []
    for rule in rules:
        if all(judge(c, facts, findings) is Truth.YES for c in rule.when) and not any(
            judge(c, facts, findings) is Truth.YES for c in rule.unless
        ):
            spoke.append(rule)
            if rule.concludes is not None:
                findings.add(rule.concludes)
    return Outcome(tuple(spoke), frozenset(findings))
