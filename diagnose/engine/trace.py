"""Why each rule spoke or stayed silent: every condition met, unmet or unknown.

All explanations are written from this; nothing that a rule saw is hidden, also when the rule only
fed another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from diagnose.knowledge.book import Condition, Rule
from diagnose.knowledge.phrases import PRESENT, Truth, Value

from .plain import judge
from .session import Outcome


@dataclass(frozen=True, slots=True)
class Judged:
    """One condition, with the verdict and the value it was judged on."""

    condition: Condition
    truth: Truth
    value: Value | None


@dataclass(frozen=True, slots=True)
class RuleTrace:
    """One rule: did it speak, and what of each of its conditions."""

    rule: Rule
    status: Literal["spoke", "stopped", "unmet", "unknown"]
    when: tuple[Judged, ...]
    unless: tuple[Judged, ...]

    @property
    def missing(self) -> tuple[Judged, ...]:
        """The conditions that nobody has looked at."""
        return tuple(j for j in self.when if j.truth is Truth.UNKNOWN)

    @property
    def would_be_stopped_by(self) -> tuple[Judged, ...]:
        """Exceptions that are not known to hold, on which the rule therefore rests."""
        return tuple(j for j in self.unless if j.truth is Truth.UNKNOWN)


def telling(
    rules: Sequence[Rule], facts: Mapping[str, Value], outcome: Outcome
) -> tuple[Rule, ...]:
    """The rules that spoke, and those that would if one more thing were known."""
    findings = set(outcome.findings)
    spoke = {rule.id for rule in outcome.spoke}
    return tuple(r for r in rules if r.id in spoke or _lacks_one(r, facts, findings))


def _lacks_one(rule: Rule, facts: Mapping[str, Value], findings: set[str]) -> bool:
    lacking = 0
    for condition in rule.when:
        truth = judge(condition, facts, findings)
        if truth is Truth.YES:
            continue
        lacking += 1
        if truth is Truth.NO or lacking > 1:
            return False
    return lacking == 1


def trace_of(
    rules: Sequence[Rule], facts: Mapping[str, Value], outcome: Outcome
) -> tuple[RuleTrace, ...]:
    """One trace per rule, in the order given. ``outcome`` is what the engine really did."""
    findings = set(outcome.findings)
    spoke = {rule.id for rule in outcome.spoke}

    def judged(condition: Condition) -> Judged:
        value = (
            PRESENT
            if condition.kind == "finding" and condition.subject in findings
            else facts.get(condition.subject)
        )
        return Judged(condition, judge(condition, facts, findings), value)

    traces = []
    for rule in rules:
        when = tuple(judged(c) for c in rule.when)
        unless = tuple(judged(c) for c in rule.unless)
        status: Literal["spoke", "stopped", "unmet", "unknown"]
        if rule.id in spoke:
            status = "spoke"
        elif any(j.truth is Truth.NO for j in when):
            status = "unmet"
        elif any(j.truth is Truth.UNKNOWN for j in when):
            status = "unknown"
        else:
            status = "stopped"
        traces.append(RuleTrace(rule, status, when, unless))
    return tuple(traces)
