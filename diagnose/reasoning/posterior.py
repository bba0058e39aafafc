"""The chances of the causes: softmax over one cause at a time, with "something else".

Weights are collected, never counted by firings; within an evidence group only the heaviest counts,
so that one look entered through three rules is still one look. Sums run in the book's order and
are exact, so the result does not depend on the order in which things were told.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diagnose.knowledge.book import Cause, Dough, EvidenceRow, Remedy, Rule
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.situation import Tried

from .likelihood import Table
from .words import PRIOR, PRIOR_SOMETHING_ELSE, SOMETHING_ELSE, WORKS, nats, nats_for

FLOOR = 0.02
"""Chance that a remedy helps against a cause it is not listed for."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """One weight that counted, or was outweighed within its group."""

    cause: str
    group: str
    nats: float
    by: str


def weight_of(rule: Rule) -> float:
    """The nats of a rule that bears on a cause; a draft speaks at half strength."""
    if rule.rules_out is not None:
        weight = nats("rules out")
    elif rule.strength is None:
        weight = 0.0
    else:
        weight = nats_for(rule.strength) * (-1 if rule.points_away_from is not None else 1)
    return weight / 2 if rule.standing == "draft" else weight


def about(rule: Rule) -> str | None:
    """The cause a rule bears on, or None for a rule that concludes a finding."""
    return rule.points_to or rule.points_away_from or rule.rules_out


def group_of(evidence: Rule | EvidenceRow) -> str:
    """The evidence group: the author's, or one of its own (every look is one)."""
    if evidence.group is not None:
        return evidence.group
    return f"look at {evidence.of}" if isinstance(evidence, EvidenceRow) else f"rule {evidence.id}"


def in_play(dough: Dough, stage: str) -> tuple[Cause, ...]:
    """The causes that can show at a stage, in the book's order."""
    return tuple(cause for cause in dough.causes if stage in cause.shows_at)


def weigh(
    causes: Iterable[Cause],
    tables: Mapping[str, Table],
    facts: Mapping[str, Value],
    spoke: Iterable[Rule],
) -> list[Weighed]:
    """Every weight that bears on the causes, in the book's order; see ``total``."""
    names = [cause.id for cause in causes]
    weights = []
    for table in tables.values():
        answer = table.asked.answer_for(facts.get(table.asked.id))
        if answer is None:
            continue
        for name in names:
            row = table.rows.get(name)
            if row is not None:
                weights.append(Weighed(name, group_of(row), table.shift(name, answer), row.id))
    for rule in spoke:
        target = about(rule)
        if target is not None and target in names:
            weights.append(Weighed(target, group_of(rule), weight_of(rule), rule.id))
    return weights


Groups = dict[tuple[str, str], dict[str, float]]
"""(cause, group) -> by whom -> nats."""


def grouped(weights: Iterable[Weighed]) -> Groups:
    """The weights by cause and group, to be changed one by one."""
    groups: Groups = {}
    for weight in weights:
        groups.setdefault((weight.cause, weight.group), {})[weight.by] = weight.nats
    return groups


def counts(group: Mapping[str, float]) -> float:
    """The weight of a group: its heaviest; of two equals the one in favour; 0 if it is empty."""
    return max(group.values(), key=lambda nats: (abs(nats), nats), default=0.0)


def heaviest(weights: Iterable[Weighed]) -> list[Weighed]:
    """The one weight of each group and cause that counts; of two equals the one in favour."""
    best: dict[tuple[str, str], Weighed] = {}
    for weight in weights:
        key = (weight.cause, weight.group)
        held = best.get(key)
        if held is None or (abs(weight.nats), weight.nats) > (abs(held.nats), held.nats):
            best[key] = weight
    return list(best.values())


def total(weights: Iterable[Weighed]) -> dict[str, float]:
    """Sum of the weights that count, by cause."""
    sums: dict[str, list[float]] = {}
    for weight in heaviest(weights):
        sums.setdefault(weight.cause, []).append(weight.nats)
    return {cause: math.fsum(parts) for cause, parts in sums.items()}


def log_priors(causes: Iterable[Cause]) -> dict[str, float]:
    """Log weight of each cause before anything is told, "something else" last."""
    priors = {cause.id: math.log(PRIOR[cause.how_common]) for cause in causes}
    priors[SOMETHING_ELSE] = math.log(PRIOR_SOMETHING_ELSE)
    return priors


def helps(remedy: str, cause: Cause | None) -> float:
    """Chance that a remedy helps if this is the cause."""
    if cause is not None:
        for attempt in cause.tries:
            if attempt.remedy == remedy:
                return WORKS[attempt.works]
    return FLOOR


def log_of_attempt(tried: Tried, remedy: Remedy, cause: Cause | None) -> float:
    """How the outcome of a remedy speaks about a cause: log P(outcome | cause).

    A remedy given in several small doses is expected not to be enough at once, so each failed
    dose counts for its share only. A go of heat or cold is whole each time, as it is in the plan.
    """
    works = helps(tried.remedy, cause)
    doses = remedy.may_repeat if remedy.amounts else 1
    failed = math.log(1 - works) / doses
    if tried.result == "cannot":
        return 0.0
    if tried.result == "worked":
        return math.log(works)
    if tried.result == "no-change":
        return failed
    harmed = cause is not None and any(name == cause.id for name, _ in remedy.harm_under)
    return failed + math.log(0.7 if harmed else 0.15)


def softmax(scores: Mapping[str, float]) -> dict[str, float]:
    """Chances in proportion to exp(score), adding up to one.

    >>> softmax({"a": 0.0, "b": 0.0})
    {'a': 0.5, 'b': 0.5}
    """
    top = max(scores.values())
    grown = {name: math.exp(score - top) for name, score in scores.items()}
    whole = math.fsum(grown.values())
    return {name: part / whole for name, part in grown.items()}
