"""Levels of rules: findings are settled before anything looks at them; circles are refused."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.book import Condition, Rule, Source
from diagnose.knowledge.phrases import Presence
from diagnose.knowledge.strata import Circular, levels


def rule(name: str, uses: dict[str, bool], concludes: str | None, unless: str = "") -> Rule:
    def condition(finding: str, present: bool) -> Condition:
        return Condition(subject=finding, kind="finding", phrase=Presence(present))

    return Rule(
        id=name,
        says=name,
        when=tuple(condition(finding, present) for finding, present in uses.items()),
        unless=(condition(unless, True),) if unless else (),
        concludes=concludes,
        points_to=None if concludes else "cause",
        strength=None if concludes else "strong",
        why="made up",
        source=Source(see="common-practice"),
        standing="draft",
        cases=(),
    )


def test_a_rule_lies_above_every_rule_that_feeds_it() -> None:
    chain = [
        rule("held", {}, "warm"),
        rule("cooked", {"warm": True}, "cooked"),
        rule("also-cooked", {}, "cooked"),
        rule("real", {"cooked": True}, "real"),
        rule("slack", {"real": True, "warm": True}, None),
    ]
    assert levels(chain) == {"held": 0, "cooked": 1, "also-cooked": 0, "real": 2, "slack": 3}


def test_absent_and_unless_count_as_use() -> None:
    found = levels(
        [
            rule("hot", {}, "hot"),
            rule("not-hot", {"hot": False}, "cold"),
            rule("spoken", {}, None, unless="cold"),
        ]
    )
    assert found == {"hot": 0, "not-hot": 1, "spoken": 2}


def test_a_finding_that_nobody_concludes_lifts_nothing() -> None:
    assert levels([rule("alone", {"told": True}, None)]) == {"alone": 0}


def test_a_rule_that_feeds_itself_is_refused() -> None:
    with pytest.raises(Circular) as refused:
        levels([rule("own", {"hot": True}, "hot")])
    assert refused.value.circles == (("own",),)


def test_every_circle_is_named_with_its_rules() -> None:
    rules = [
        rule("a", {"two": True}, "one"),
        rule("b", {"one": False}, "two"),
        rule("c", {"four": True}, "three"),
        rule("d", {}, "four", unless="five"),
        rule("e", {"three": True}, "five"),
        rule("innocent", {"one": True}, None),
    ]
    with pytest.raises(Circular) as refused:
        levels(rules)
    assert {frozenset(circle) for circle in refused.value.circles} == {
        frozenset("ab"),
        frozenset("cde"),
    }


@given(st.integers(0, 10_000), st.integers(2, 25))
def test_levels_satisfy_their_definition_in_any_order(seed: int, size: int) -> None:
    """Findings are numbered and only lower ones used, so there is no circle."""
    choose = random.Random(seed)
    rules = [
        rule(
            f"r{n}",
            {f"f{k}": choose.random() < 0.5 for k in range(n // 2) if choose.random() < 0.3},
            f"f{n // 2}",
        )
        for n in range(size)
    ]
    found = levels(rules)
    shuffled = rules[:]
    choose.shuffle(shuffled)
    assert levels(shuffled) == found
    for each in rules:
        used = {condition.subject for condition in each.when}
        feeding = [found[other.id] for other in rules if other.concludes in used]
        assert found[each.id] == (1 + max(feeding) if feeding else 0)
