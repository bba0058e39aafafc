"""Two things at once: what a pair shows, what it weighs, and when it may be spoken of."""

from __future__ import annotations

import itertools
import math
import random
from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

import faultbooks
from diagnose.consulting import OpenBook, open_book
from diagnose.knowledge.book import Dough
from diagnose.knowledge.situation import Tried
from diagnose.reasoning.belief import prior
from diagnose.reasoning.likelihood import tables
from diagnose.reasoning.pairs import Pairs, Shows, noisy_or, of_factor, shows, two_causes
from diagnose.reasoning.words import FACTOR, PRIOR, SOMETHING_ELSE
from faultbooks import NONE, cause, points, random_faultbook, row, sign

chance = st.floats(0.01, 1.0)


def asked(dough: Dough, facts: dict[str, Any], *spoke: Any, **more: Any) -> Pairs:
    return two_causes(prior(dough, "now", ()), tables(dough), facts, spoke, dough, **more)


def odds(pairs: Pairs, one: str, other: str, than: str) -> float:
    return pairs.together[one, other] / pairs.alone[than]


@st.composite
def three_rows(draw: st.DrawFn) -> tuple[dict[str, float], ...]:
    """Two rows and what nothing wrong shows, over two to five answers."""
    answers = "abcde"[: draw(st.integers(2, 5))]
    made = []
    for _ in range(3):
        raw = [draw(chance) for _ in answers]
        made.append({a: r / sum(raw) for a, r in zip(answers, raw, strict=True)})
    return tuple(made)


def both(
    one: dict[str, float], other: dict[str, float], base: dict[str, float]
) -> dict[str, float]:
    """P(answer) under a pair."""
    logs = [{a: math.log(p) for a, p in row.items()} for row in (one, other, base)]
    return {
        a: noisy_or(base[a], shows(logs[0], logs[2], a), shows(logs[1], logs[2], a)) for a in base
    }


@given(three_rows())
def test_what_a_pair_shows_adds_up_to_one_over_the_answers(rows: Any) -> None:
    assert math.fsum(both(*rows).values()) == pytest.approx(1.0, abs=1e-12)


@given(three_rows())
def test_it_does_not_matter_which_cause_of_a_pair_comes_first(rows: Any) -> None:
    one, other, base = rows
    assert both(one, other, base) == pytest.approx(both(other, one, base), abs=1e-12)


@given(three_rows())
def test_a_cause_that_shows_what_nothing_wrong_shows_leaves_the_look_to_the_other(
    rows: Any,
) -> None:
    one, _, base = rows
    assert both(one, base, base) == pytest.approx(one, abs=1e-12)


@given(three_rows())
def test_an_answer_both_causes_make_likelier_is_likelier_under_the_pair_than_on_their_mean(
    rows: Any,
) -> None:
    """So it never lowers the pair against the one that makes it less likely."""
    one, other, base = rows
    for answer, shown in both(one, other, base).items():
        if min(one[answer], other[answer]) >= base[answer]:
            assert shown >= (one[answer] + other[answer]) / 2 - 1e-12


@given(st.floats(0.01, 0.9), chance, chance)
def test_the_only_answer_both_causes_make_likelier_is_likelier_under_the_pair_than_under_either(
    leak: float, first: float, second: float
) -> None:
    """Noisy-OR with a leak: P(no | a, b) P(no | none) = P(no | a) P(no | b), Pearl 1988, 4.3.2."""
    one, other = (leak + (1 - leak) * share * 0.99 for share in (first, second))
    pair = both(*({"yes": p, "no": 1 - p} for p in (one, other, leak)))
    assert pair["no"] * (1 - leak) == pytest.approx((1 - one) * (1 - other), abs=1e-12)
    assert pair["yes"] >= max(one, other) - 1e-12


@given(three_rows())
def test_the_formula_tells_the_same_as_the_story_outcome_by_outcome(rows: Any) -> None:
    one, other, base = rows
    logs = {
        name: {a: math.log(p) for a, p in r.items()}
        for name, r in zip(("c", "d", NONE), rows, strict=True)
    }
    table = SimpleNamespace(
        rows=logs, log_for=lambda c, a: logs[c][a], asked=SimpleNamespace(answers=tuple(base))
    )
    told = faultbooks.under_two(cast(Any, table), "c", "d")
    assert both(one, other, base) == pytest.approx(told, abs=1e-12)


@pytest.mark.parametrize("factor", FACTOR.values())
def test_a_bare_factor_beside_a_silent_cause_is_worth_itself(factor: float) -> None:
    assert noisy_or(1.0, of_factor(factor), Shows(1.0, 0.0)) == pytest.approx(factor)


@pytest.mark.parametrize("seed", range(20))
def test_all_chances_add_up_to_one(seed: int) -> None:
    dice = random.Random(seed)
    dough = random_faultbook(dice)
    pairs = asked(dough, faultbooks.some_looks(dice, dough), points("c1", "strong"))
    assert len(pairs.together) == math.comb(6, 2)
    every = [*pairs.alone.values(), *pairs.together.values()]
    assert min(every) > 0
    assert math.fsum(every) == pytest.approx(1.0, abs=1e-12)


def test_before_any_look_a_pair_weighs_the_product_of_its_words_times_the_house_factor() -> None:
    dough = faultbooks.faultbook(
        [cause("c", "very common"), cause("d", "rare"), cause("e")], [sign("s", "ab")], []
    )
    pairs = asked(dough, {}, together=0.5)
    everything = PRIOR["common"] + 8 + 0.5 + 2 + PRIOR["occasional"]
    assert odds(pairs, "c", "d", "c") == pytest.approx(0.5 * 0.5 / everything)
    assert odds(pairs, "d", "e", NONE) == pytest.approx(0.5 * 0.5 * 2 / 4 / everything)


@pytest.mark.parametrize("seed", range(10))
def test_the_order_of_facts_and_rules_does_not_matter(seed: int) -> None:
    dice = random.Random(seed)
    dough = random_faultbook(dice)
    facts = faultbooks.some_looks(dice, dough)
    rules = [
        points(f"c{n}", dice.choice(["strong", "moderate", "slight"]), group, f"{group}{n}")
        for n in range(4)
        for group in "ghij"
    ]
    first = asked(dough, facts, *rules)
    names = list(facts)
    dice.shuffle(names)
    dice.shuffle(rules)
    assert asked(dough, {n: facts[n] for n in names}, *rules) == first


@pytest.mark.parametrize("seed", range(10))
def test_a_look_nobody_took_and_one_the_book_does_not_know_change_nothing(seed: int) -> None:
    dice = random.Random(seed)
    dough = random_faultbook(dice)
    facts = faultbooks.some_looks(dice, dough, 0.5)
    more = {s.id: "not an answer" for s in dough.signs if s.id not in facts}
    assert asked(dough, {**facts, **more, "elsewhere": "a"}) == asked(dough, facts)


def test_a_cause_without_a_row_leaves_the_look_to_the_other() -> None:
    rows = [row("s", "c", yes="strong for"), row("s", NONE, no="moderate for")]
    dough = faultbooks.faultbook(
        [cause("c"), cause("d"), cause("e")], [sign("s", ["yes", "no"])], rows
    )
    before, after = asked(dough, {}), asked(dough, {"s": "yes"})
    assert odds(after, "c", "d", "c") == pytest.approx(odds(before, "c", "d", "c"))
    assert odds(after, "d", "e", NONE) == pytest.approx(odds(before, "d", "e", NONE))
    assert odds(after, "c", "d", NONE) == pytest.approx(odds(before, "c", "d", NONE) * 32 / 9)


def test_two_marked_signs_of_two_causes_lift_their_pair_above_either() -> None:
    usual: Any = {"no": "very common", "yes": "rare"}
    rows = [
        row("s", "c", yes="decisive for"),
        row("t", "d", yes="decisive for"),
        *(row(look, NONE, no="strong for") for look in "st"),
    ]
    looks = [sign(look, ["yes", "no"], usual) for look in "st"]
    dough = faultbooks.faultbook([cause("c"), cause("d"), cause("e")], looks, rows)
    assert asked(dough, {"s": "yes"}).named is None
    pairs = asked(dough, {"s": "yes", "t": "yes"})
    assert pairs.named == ("c", "d")
    assert pairs.together["c", "d"] > 0.5


def test_two_things_are_spoken_of_only_if_likelier_than_not() -> None:
    assert Pairs({}, {}, 0.5, ("c", "d")).named is None
    assert Pairs({}, {}, 0.51, ("c", "d")).named == ("c", "d")


def test_causes_with_the_very_same_remedies_are_never_spoken_of_as_two_things() -> None:
    usual: Any = {"no": "very common", "yes": "rare"}
    rows = [row("s", "c", yes="decisive for"), row("t", "d", yes="decisive for")]
    looks = [sign(look, ["yes", "no"], usual) for look in "st"]
    causes = [cause("c", remedy="r"), cause("d", remedy="r"), cause("e")]
    pairs = asked(faultbooks.faultbook(causes, looks, rows), {"s": "yes", "t": "yes"}, together=50)
    assert max(pairs.together, key=pairs.together.__getitem__) == ("c", "d")
    assert pairs.best != ("c", "d")
    assert pairs.chance == pytest.approx(1 - sum(pairs.alone.values()) - pairs.together["c", "d"])


def test_nothing_wrong_and_something_else_are_in_no_pair() -> None:
    pairs = asked(random_faultbook(random.Random(1)), {})
    assert not {NONE, SOMETHING_ELSE} & set(itertools.chain.from_iterable(pairs.together))
    assert {NONE, SOMETHING_ELSE} <= set(pairs.alone)


def test_one_cause_alone_makes_no_pair() -> None:
    pairs = asked(faultbooks.faultbook([cause("c")], [], []), {})
    assert (pairs.chance, pairs.best, pairs.named) == (0.0, None, None)


def three(*rows: Any) -> Dough:
    causes = [cause("c"), cause("d"), cause("e")]
    return faultbooks.faultbook(causes, [sign("s", ["yes", "no"])], rows)


def test_a_combination_that_speaks_for_both_counts_once_within_its_group() -> None:
    """The limit of noisy-OR for a combination that is rare with nothing wrong: 8 + 3 - 1."""
    for group, worth in (("g", 10.0), (None, 24.0)):
        spoke = points("c", "strong", group), points("d", "moderate", group)
        before, after = asked(three(), {}), asked(three(), {}, *spoke)
        lift = odds(after, "c", "d", NONE) / odds(before, "c", "d", NONE)
        assert lift == pytest.approx(worth)


def test_a_rule_that_outweighs_a_row_of_its_group_still_meets_the_other_cause_at_that_look() -> (
    None
):
    dough = three(row("s", "c", "g", yes="moderate for"), row("s", "d", yes="moderate for"))
    rule = points("c", "strong", "g")
    before, after = asked(dough, {}), asked(dough, {"s": "yes"}, rule)
    # 0.5 becomes 0.75 under the row of d: a factor of 1.5, and 8 + 1.5 - 1 together
    lift = odds(after, "c", "d", NONE) / odds(before, "c", "d", NONE)
    assert lift == pytest.approx(8.5)


def test_a_weight_that_stands_for_two_looks_meets_the_other_cause_at_one_of_them() -> None:
    rows = [row(look, "c", "g", yes="strong for") for look in "st"]
    rows += [row(look, "d", yes="moderate for") for look in "st"]
    causes = [cause("c"), cause("d"), cause("e")]
    dough = faultbooks.faultbook(causes, [sign(look, ["yes", "no"]) for look in "st"], rows)
    before, after = asked(dough, {}), asked(dough, {"s": "yes", "t": "yes"})
    # no is 1/9 and 1/4 alone, so 1/18 together: yes is 17/9 of its half; t adds the 1.5 of d alone
    lift = odds(after, "c", "d", NONE) / odds(before, "c", "d", NONE)
    assert lift == pytest.approx(17 / 9 * 1.5)


def test_a_remedy_in_vain_counts_against_each_cause_it_is_for() -> None:
    dough = three()
    remedy = SimpleNamespace(id="fix-c", may_repeat=1, harm_under=(), amounts=())
    book = cast(Dough, SimpleNamespace(**{**vars(dough), "remedies": (remedy,)}))
    tried = (Tried(remedy="fix-c", result="no-change"),)
    before = two_causes(prior(book, "now", ()), tables(book), {}, (), book)
    after = two_causes(prior(book, "now", tried), tables(book), {}, (), book)
    assert odds(after, "c", "d", "d") == pytest.approx(odds(before, "c", "d", "d") * 0.25 / 0.98)
    assert odds(after, "d", "e", "d") == pytest.approx(odds(before, "d", "e", "d"))


@pytest.fixture(scope="module")
def shipped() -> OpenBook:
    return open_book()


@pytest.mark.parametrize(
    ("facts", "named"),
    [
        ({"lumps": "dry-inside"}, None),
        ({"smells-burnt": "pan-only", "pan-floor": "brown-crust"}, None),
        ({"paste-body": "slumps", "raw-flour-taste": "yes", "paste-temperature": 70.0}, None),
        (
            {"lumps": "dry-inside", "smells-burnt": "pan-only", "pan-floor": "brown-crust"},
            ("flour-clumped", "scorched"),
        ),
    ],
)
def test_the_shipped_book_names_two_things_for_two_marked_signs_and_never_for_one(
    shipped: OpenBook, facts: dict[str, Any], named: Any
) -> None:
    dough = shipped.book.doughs[0]
    speaking = shipped.spoke(dough.id, facts)
    rules = [rule for rule in dough.rules if rule.id in speaking]
    before = prior(dough, "cook-paste", ())
    assert two_causes(before, tables(dough), facts, rules, dough).named == named
