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


class Telling:
    """Which rules an answer speaks of: those that spoke, and those one known fact short.

    Indexed by what their conditions look at, so that only what was told is judged.
    """

    def __init__(self, rules: Sequence[Rule]) -> None:
        self._rules = tuple(rules)
        self._looks: dict[str, list[tuple[int, Condition]]] = {}
        self._met_when_absent: list[tuple[int, Condition]] = []
        for place, rule in enumerate(self._rules):
            for condition in rule.when:
                if judge(condition, {}, set()) is Truth.UNKNOWN:
                    self._looks.setdefault(condition.subject, []).append((place, condition))
                else:
                    # "absent" holds until the finding is there
                    self._met_when_absent.append((place, condition))

    def of(self, facts: Mapping[str, Value], outcome: Outcome) -> tuple[Rule, ...]:
        """The rules, in their order."""
        findings = set(outcome.findings)
        met: dict[int, int] = {}
        unmet: set[int] = set()
        looks = [
            look for name in {*facts, *findings} for look in self._looks.get(name, ())
        ] + self._met_when_absent
        for place, condition in looks:
            truth = judge(condition, facts, findings)
            if truth is Truth.YES:
                met[place] = met.get(place, 0) + 1
            elif truth is Truth.NO:
                unmet.add(place)
        spoke = {rule.id for rule in outcome.spoke}
        return tuple(
            rule
            for place, rule in enumerate(self._rules)
            if rule.id in spoke or (place not in unmet and met.get(place, 0) == len(rule.when) - 1)
        )


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
