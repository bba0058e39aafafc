"""CLIPS as an independent oracle: the same rules, the same facts, the same rules fire.

CLIPS Reference Manual, volume I: Basic Programming Guide, version 6.4 (sections 5.1.5 on salience
and 5.4.6 on "not").
"""

from __future__ import annotations

import random

import pytest

from clips_book import ClipsBook
from diagnose.engine import session
from diagnose.engine.compiling import compile_rules
from diagnose.engine.session import Session, run
from diagnose.knowledge.book import Dough
from diagnose.knowledge.phrases import OneOf, Presence
from rulebooks import (
    generated_facts,
    generated_rulebook,
    random_facts,
    random_rulebook,
    random_steps,
    rule,
    rulebook,
    when,
)

from experta.matchers import ReteMatcher  # isort: skip  # only after the repair
from experta.strategies import DepthStrategy  # isort: skip


class OwnNetwork(session._Run):
    """Our rules and firing order on experta's own network."""

    __matcher__ = ReteMatcher


class StockDepth(DepthStrategy):  # type: ignore[misc]  # experta carries no types
    """experta's stock order, which has no account of what was undone."""

    undone = ()


class Stock(OwnNetwork):
    """Our rules on stock experta: its own network and its own firing order."""

    __strategy__ = StockDepth


def absent_only(seed: int) -> Dough:
    """Rules that need nothing but absences, beside rules that make some of those findings."""
    dice = random.Random(seed)
    makers = [
        rule(
            f"makes-{n}",
            when(f"sign-{dice.randrange(8)}", OneOf((dice.choice("abc"),))),
            concludes=f"finding-{n}",
        )
        for n in range(12)
    ]
    askers = [
        rule(
            f"asks-{n}",
            *(when(f"finding-{dice.randrange(14)}", Presence(False)) for _ in range(1 + n % 2)),
            unless=(when(f"sign-{dice.randrange(8)}", OneOf(("a",))),) if n % 3 == 0 else (),
            points_to="cause",
        )
        for n in range(20)
    ]
    rules = [*askers, *makers]
    dice.shuffle(rules)
    return rulebook(*rules)


def test_clips_and_the_engine_fire_the_same_rules() -> None:
    pairs = ours = network = stock = negation_only = 0
    for seed in range(120):
        compiled = compile_rules(absent_only(seed) if seed % 3 == 0 else random_rulebook(seed))
        peer = ClipsBook(compiled)
        dice = random.Random(1000 + seed)
        for number in range(6):
            facts = random_facts(dice)
            expected = peer.run(facts)
            pairs += 1
            negation_only += any(
                all(c.phrase == Presence(False) for c in spoken.when) for spoken in expected.spoke
            )
            ours += run(compiled, facts) != expected
            if number == 0 and seed % 2 == 0:
                network += run(compiled, facts, OwnNetwork) != expected
                stock += run(compiled, facts, Stock) != expected
    print(
        f"{pairs} books and facts, {negation_only} with a rule that spoke on absences alone; "
        f"differ from CLIPS: ours {ours}, experta's network in our order {network} of 60, "
        f"stock experta {stock} of 60"
    )
    assert pairs >= 500
    assert negation_only > 100
    assert (ours, network) == (0, 0)
    assert stock > 0


@pytest.mark.parametrize("seed", range(20))
def test_clips_and_a_live_session_agree_after_every_step(seed: int) -> None:
    compiled = compile_rules(random_rulebook(seed))
    peer = ClipsBook(compiled)
    live = Session(compiled)
    for name, value in random_steps(random.Random(seed), 20):
        if value is None:
            live.unanswer(name)
        else:
            live.answer(name, value)
        assert live.settle() == peer.run(live.told)


def test_clips_and_the_engine_agree_on_a_large_book() -> None:
    compiled = compile_rules(generated_rulebook(300))
    peer = ClipsBook(compiled)
    dice = random.Random(300)
    for _ in range(100):
        facts = generated_facts(dice)
        assert run(compiled, facts) == peer.run(facts)
