"""The order in which findings build on each other.

A rule that uses a finding, present or absent, lies one level above every rule that concludes it.
So each finding is settled before anything looks at it. That needs a book without circles, also
without those in which every rule only supports the next.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter

from .book import Rule


class Circular(ValueError):
    """Rules that wait for each other. ``circles``: the names of the rules in each circle."""

    def __init__(self, circles: Sequence[tuple[str, ...]]) -> None:
        self.circles = tuple(circles)
        super().__init__("; ".join(circle_in_words(circle) for circle in circles))


def circle_in_words(circle: Sequence[str]) -> str:
    """One circle as a sentence: which rule waits for which."""
    if len(circle) == 1:
        return f"the rule {circle[0]} uses what it concludes itself"
    return "these rules wait for each other: " + ", ".join(circle)


def findings_used(rule: Rule) -> frozenset[str]:
    """The findings in a rule's ``when`` and ``unless``."""
    conditions = (*rule.when, *rule.unless)
    return frozenset(c.subject for c in conditions if c.kind == "finding")


def levels(rules: Iterable[Rule]) -> dict[str, int]:
    """The level of each rule by name: 0 uses no finding, else one above all that feed it.

    Independent of the order of the rules. Raises Circular, with every circle, if there is one.
    """
    rules = sorted(rules, key=lambda rule: rule.id)
    concluding: dict[str, list[str]] = {}
    for rule in rules:
        if rule.concludes is not None:
            concluding.setdefault(rule.concludes, []).append(rule.id)
    feeds = {
        rule.id: sorted(
            feeder for name in findings_used(rule) for feeder in concluding.get(name, ())
        )
        for rule in rules
    }
    level: dict[str, int] = {}
    for rule_id in _ordered(feeds):
        level[rule_id] = 1 + max((level[feeder] for feeder in feeds[rule_id]), default=-1)
    return level


def _ordered(feeds: Mapping[str, Sequence[str]]) -> list[str]:
    """Rules with their feeders before them; raises Circular naming every circle."""
    remaining = {name: list(feeders) for name, feeders in feeds.items()}
    circles: list[tuple[str, ...]] = []
    while True:
        try:
            order = list(TopologicalSorter(remaining).static_order())
        except CycleError as error:
            circle = tuple(dict.fromkeys(error.args[1]))
            first = circle.index(min(circle))
            circles.append(circle[first:] + circle[:first])
            # Taken apart at its first rule, so that the next circle can be found.
            remaining[min(circle)] = []
        else:
            break
    if circles:
        raise Circular(circles)
    return order
