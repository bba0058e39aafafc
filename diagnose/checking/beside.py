"""One rule beside all the others: whether it repeats, contradicts or swallows one, and where.

What the lints say of a whole book, for one rule alone, so that an author can be told while
writing. Exact; each answer comes with facts that show it. Mere overlap is not reported.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from diagnose.knowledge.book import Rule
from diagnose.knowledge.phrases import Value
from diagnose.reasoning.posterior import about

from .audit import GAVE_UP, Audit

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
