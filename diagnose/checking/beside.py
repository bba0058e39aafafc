"""One rule beside all the others: whether it repeats, contradicts or swallows one, and where.

What the lints say of a whole book, for one rule alone, so that an author can be told while
writing. Exact; each answer comes with facts that show it. Mere overlap is not reported.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from diagnose.knowledge.book import Dough, Rule
from diagnose.knowledge.phrases import Value
from diagnose.reasoning.posterior import about

from .audit import GAVE_UP, Audit
from .boxes import conditions

Relation = Literal[
    "repeats",
    "contradicts",
    "swallows",
    "is swallowed by",
    "is an exception to",
    "has an exception",
    "never speaks",
    "not decided",
]


@dataclass(frozen=True, slots=True)
class Beside:
    """How a rule stands to another; ``other`` is None where it concerns the rule alone."""

    relation: Relation
    other: str | None
    facts: Mapping[str, Value]
    """Facts on which both speak; empty where there are none."""


def audit_around(dough: Dough, rule: Rule) -> Audit:
    """An audit of a rule, the rules about the same cause or finding, and those behind them all.

    It answers ``beside`` as an audit of the whole dough does, and is set up in less time.
    """
    concluding: dict[str, list[Rule]] = {}
    for other in dough.rules:
        if other.concludes is not None:
            concluding.setdefault(other.concludes, []).append(other)
    near = {r.id: r for r in dough.rules if r.id == rule.id or _one_subject(rule, r)}
    waiting = list(near.values())
    while waiting:
        one = waiting.pop()
        for condition, _ in conditions(one):
            for behind in concluding.pop(condition.subject, ()):
                if behind.id not in near:
                    near[behind.id] = behind
                    waiting.append(behind)
    return Audit(dough, rules=(r for r in dough.rules if r.id in near))


def beside(audit: Audit, rule: Rule) -> Iterator[Beside]:
    """How a rule of the audited dough stands to the others about the same cause or finding."""
    speaks = audit.speak(rule)
    if speaks is None:
        yield Beside("never speaks", None, {})
        return
    if speaks is GAVE_UP:
        yield Beside("not decided", None, {})
        return
    for other in audit.rules:
        if other.id != rule.id and _one_subject(rule, other):
            yield from _two(audit, rule, other)


def _one_subject(rule: Rule, other: Rule) -> bool:
    if rule.concludes is not None:
        return rule.concludes == other.concludes
    return about(rule) == about(other)


def _two(audit: Audit, rule: Rule, other: Rule) -> Iterator[Beside]:
    inner, outer = audit.inside(rule, [other]), audit.inside(other, [rule])
    opposed = rule.concludes is None and (rule.points_to is None) is not (other.points_to is None)
    relation: Relation
    if inner and outer:
        relation = "contradicts" if opposed else "repeats"
    elif inner:
        relation = "is an exception to" if opposed else "is swallowed by"
    elif outer:
        relation = "has an exception" if opposed else "swallows"
    elif GAVE_UP in (audit.alone(rule, [other]), audit.alone(other, [rule])):
        relation = "not decided"
    else:
        return
    facts = audit.speak(rule, other)
    yield Beside(relation, other.id, facts if isinstance(facts, Mapping) else {})
