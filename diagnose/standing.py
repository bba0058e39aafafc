"""The life of a rule: draft, tried, trusted, retired; what each step asks for. Never by age.

A draft is one person's claim with a named source; it counts half. It is tried once it has spoken
in at least three recorded cases that turned out as it said and in none that did not. It is
trusted once it is tried and a second person has checked its source. Retired is the end: taken out,
with the date, the reason and what replaced it. House rule. The program counts and a person decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from .knowledge.book import Rule, Standing
from .learning.reporting import Judged
from .reasoning.posterior import about

CASES_TO_BE_TRIED: Final = 3
STEPS: Final[tuple[Standing, ...]] = ("draft", "tried", "trusted", "retired")


@dataclass(frozen=True, slots=True)
class Evidence:
    """The recorded cases in which a rule spoke, by their ids."""

    rightly: tuple[str, ...] = ()
    wrongly: tuple[str, ...] = ()


def evidence(rules: Iterable[Rule], judged: Iterable[Judged]) -> Mapping[str, Evidence]:
    """By rule about a cause, the cases in which it spoke; a case nobody put to the rules is none.

    A rule that points away from a cause, or rules it out, was right if the cause was not there.
    """
    bearing = {rule.id: rule for rule in rules if about(rule) is not None}
    right: dict[str, list[str]] = {name: [] for name in bearing}
    wrong: dict[str, list[str]] = {name: [] for name in bearing}
    for one in judged:
        for name in sorted(one.spoke or ()):
            rule = bearing.get(name)
            if rule is not None:
                true = (about(rule) in one.case.causes) is (rule.points_to is not None)
                (right if true else wrong)[name].append(one.case.id)
    return {name: Evidence(tuple(right[name]), tuple(wrong[name])) for name in bearing}


def not_allowed(
    rule: Rule,
    wanted: Standing,
    found: Evidence,
    *,
    wrote: str | None,
    asks: str,
    read_the_source: bool,
) -> str | None:
    """Why a rule may not have a standing yet, as a sentence; None if it may.

    Args:
        found: the recorded cases in which the rule spoke.
        wrote: who wrote the rule as it stands; None if it came with the program.
        asks: who wants to change its standing.
        read_the_source: whether that person says to have checked the source.
    """
    now = rule.standing
    if wanted == now:
        return f"It is {now} already."
    if now == "retired":
        return "A retired rule stays out, and so does its name. Write a new rule in its place."
    if wanted in ("draft", "retired") or (now == "trusted" and wanted == "tried"):
        return None
    if now == "draft" and wanted == "trusted":
        return "A draft must be tried first, and then a second person checks its source."
    if found.wrongly:
        many = _cases(len(found.wrongly))
        return f"It spoke wrongly in {many}. Look at them: perhaps it asks for too little."
    if wanted == "tried":
        return _not_tried(rule, found)
    if wrote is not None and wrote.casefold() == asks.casefold():
        return f"{wrote} wrote it. A second person has to check its source."
    if not read_the_source:
        return "Open its source, read the place it names, and say here that you did."
    return None


def _not_tried(rule: Rule, found: Evidence) -> str | None:
    if about(rule) is None:
        return (
            "It concludes a finding, and no case tells whether that was so. What it leads to is "
            "tried by the rules that use the finding."
        )
    if len(found.rightly) < CASES_TO_BE_TRIED:
        return (
            f"It has spoken rightly in {_cases(len(found.rightly))} so far; it takes "
            f"{CASES_TO_BE_TRIED} confirmed cases that turned out as it says, and none that did "
            "not."
        )
    return None


def _cases(count: int) -> str:
    return "one confirmed case" if count == 1 else f"{count} confirmed cases"
