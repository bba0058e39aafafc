"""Patterns in confirmed cases: the exact test against a general library, what is found and not."""

from __future__ import annotations

import importlib
import itertools
import math
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.learning.cases import ConfirmedCase
from diagnose.learning.exactly import TwoByTwo, believed, log_tail, tail
from diagnose.learning.mining import bits_of, pairs, patterns, shortlist
from learning_cases import planted, shuffled

# untyped
stats: Any = importlib.import_module("scipy.stats")

COUNT = st.integers(0, 60)


def by_scipy(table: TwoByTwo) -> float:
    square = [[table.both, table.only_seen], [table.only_true, table.neither]]
    return float(stats.fisher_exact(square, alternative="greater").pvalue)


def cases_of(*rows: tuple[int, dict[str, str], str]) -> list[ConfirmedCase]:
    """So many cases with these answers and this cause, row by row."""
    numbers = itertools.count()
    return [
        ConfirmedCase(f"case-{next(numbers):04}", "made-up", "now", answers, (cause,))
        for many, answers, cause in rows
        for _ in range(many)
    ]


# --- Fisher, Benjamini and Hochberg ---


def test_fishers_tea_is_one_in_seventy() -> None:
    """All four cups told apart (Fisher, The Design of Experiments, 1935, chapter II)."""
    assert tail(TwoByTwo(4, 0, 0, 4)) == pytest.approx(1 / 70, rel=1e-14)
    assert tail(TwoByTwo(3, 1, 1, 3)) == pytest.approx(17 / 70, rel=1e-14)


def test_fishers_twins_are_as_rare_as_the_general_library_says() -> None:
    """Convicted among 13 identical and 17 other twins, 10 and 2 (Fisher 1935; from memory)."""
    assert tail(TwoByTwo(10, 3, 2, 15)) == pytest.approx(0.000465, abs=5e-7)


@given(COUNT, COUNT, COUNT, COUNT)
@settings(max_examples=300, deadline=None)
def test_the_exact_test_equals_exact_fractions(a: int, b: int, c: int, d: int) -> None:
    whole = math.comb(a + b + c + d, a + b)
    exact = sum(
        math.comb(a + c, k) * math.comb(b + d, a + b - k) for k in range(a, min(a + b, a + c) + 1)
    )
    assert tail(TwoByTwo(a, b, c, d)) == pytest.approx(exact / whole, rel=1e-11, abs=0)


def test_two_thousand_tables_equal_a_general_library() -> None:
    dice = random.Random(5)
    tables = [
        TwoByTwo(*(dice.randint(0, 10 ** dice.randint(1, 4)) for _ in range(4)))
        for _ in range(2_000)
    ]
    assert max(abs(tail(table) - by_scipy(table)) for table in tables) < 3e-12


def test_what_is_too_rare_for_a_number_still_has_a_logarithm() -> None:
    table = TwoByTwo(5_000, 0, 0, 5_000)
    assert tail(table) == 0.0
    assert log_tail(table) == pytest.approx(-math.log(math.comb(10_000, 5_000)), rel=1e-12)


@given(st.lists(st.floats(1e-9, 1.0), min_size=1, max_size=40), st.integers(0, 60))
@settings(deadline=None)
def test_what_is_believed_equals_a_general_library(chances: list[float], silent: int) -> None:
    """scipy.stats.false_discovery_control, with a 1 for every test that found nothing."""
    adjusted = stats.false_discovery_control([*chances, *[1.0] * silent])[: len(chances)]
    limit = believed(map(math.log, chances), len(chances) + silent)
    for chance, moved in zip(chances, adjusted, strict=True):
        if abs(moved - 0.05) > 1e-12:
            assert (math.log(chance) <= limit) is bool(moved <= 0.05)


# --- what is found ---


def test_an_answer_that_goes_with_a_cause_is_found_with_its_table() -> None:
    cases = cases_of(
        (20, {"s": "a"}, "c"), (4, {"s": "b"}, "c"), (10, {"s": "a"}, "d"), (60, {"s": "b"}, "d")
    )
    first = patterns(bits_of(cases))[0]
    assert (first.when, first.cause) == ((("s", "a"),), "c")
    assert first.whole == TwoByTwo(20, 10, 4, 60)
    assert first.whole.lift == pytest.approx((20 / 30) / (24 / 94))
    assert math.exp(first.log_chance) == pytest.approx(by_scipy(first.whole), rel=1e-9)


def test_a_case_in_which_nobody_looked_enters_no_denominator() -> None:
    looked = cases_of((20, {"s": "a"}, "c"), (5, {"s": "b"}, "c"), (60, {"s": "b"}, "d"))
    more = [ConfirmedCase(f"other-{n}", "made-up", "now", {}, ("c",)) for n in range(500)]
    assert patterns(bits_of(looked)) == patterns(bits_of([*looked, *more]))


@pytest.mark.parametrize(("support", "kept"), [(7, 0), (8, 1)])
def test_fewer_than_eight_cases_are_no_pattern(support: int, kept: int) -> None:
    cases = cases_of((support, {"s": "a"}, "c"), (200, {"s": "b"}, "d"))
    assert sum(p.cause == "c" for p in patterns(bits_of(cases))) == kept


def test_what_lifts_its_cause_by_less_than_half_is_no_pattern_however_many_cases() -> None:
    cases = cases_of(
        (5_500, {"s": "a"}, "c"),
        (4_500, {"s": "b"}, "c"),
        (4_500, {"s": "a"}, "d"),
        (5_500, {"s": "b"}, "d"),
    )
    assert patterns(bits_of(cases)) == ()


def test_what_a_stronger_cause_explains_is_not_offered_for_another() -> None:
    """Cause c always shows a, d and e mostly b: beside c alone, b looks telling for both."""
    cases = cases_of(
        (360, {"s": "a"}, "c"),
        (128, {"s": "a"}, "d"),
        (192, {"s": "b"}, "d"),
        (128, {"s": "a"}, "e"),
        (192, {"s": "b"}, "e"),
    )
    bits = bits_of(cases)
    plain = {(p.when[0][1], p.cause) for p in patterns(bits, explaining_away=False)}
    assert plain == {("a", "c"), ("b", "d"), ("b", "e")}
    assert {(p.when[0][1], p.cause) for p in patterns(bits)} == {("a", "c")}


def test_two_answers_that_only_tell_together_are_found_as_a_pair() -> None:
    both, none = {"s": "a", "t": "a"}, {"s": "b", "t": "b"}
    mixed = [{"s": x, "t": y} for x in "ab" for y in "ab"]
    cases = cases_of((40, both, "c"), (30, none, "c"), *((100, answers, "d") for answers in mixed))
    (found,) = (p for p in pairs(bits_of(cases)) if p.cause == "c")
    assert found.when == (("s", "a"), ("t", "a"))
    assert found.whole.both == 40


def test_two_answers_that_each_tell_by_themselves_are_no_pair() -> None:
    """The chances add separate looks up already; a rule beside them would count them twice."""
    dice = random.Random(3)
    cases = []
    for n in range(3_000):
        cause = "c" if n % 5 == 0 else "d"
        p = 0.7 if cause == "c" else 0.2
        answers = {look: "a" if dice.random() < p else "b" for look in ("s", "t")}
        cases.append(ConfirmedCase(f"case-{n}", "made-up", "now", answers, (cause,)))
    assert {p.cause for p in patterns(bits_of(cases))} >= {"c"}
    assert pairs(bits_of(cases)) == ()


@pytest.mark.parametrize(("count", "least", "most_other"), [(1_000, 29, 0), (10_000, 35, 4)])
def test_planted_rules_are_found_and_little_else(count: int, least: int, most_other: int) -> None:
    """40 planted among 120 looks and 25 causes, all looks taken."""
    made = planted(random.Random(count), count, answered=1.0, even=True)
    found = {(*p.when[0], p.cause) for p in patterns(bits_of(made.cases))}
    assert len(found & made.singles) >= least
    assert len(found - made.singles) <= most_other


@pytest.mark.parametrize("seed", range(5))
def test_where_nothing_is_planted_nothing_is_found(seed: int) -> None:
    bits = bits_of(planted(random.Random(seed), 1_000, looks=60, rules=0).cases)
    assert patterns(bits) == ()
    assert pairs(bits) == ()


@given(st.integers(0, 1_000))
@settings(max_examples=10, deadline=None)
def test_the_order_of_the_cases_makes_no_difference_to_the_patterns(seed: int) -> None:
    cases = planted(random.Random(seed), 300, looks=20, causes=5, rules=6).cases
    mixed = shuffled(random.Random(seed), cases)
    assert patterns(bits_of(cases)) == patterns(bits_of(mixed))
    assert pairs(bits_of(cases)) == pairs(bits_of(mixed))


@given(st.integers(0, 1_000))
@settings(max_examples=10, deadline=None)
def test_the_counts_of_every_pattern_are_those_of_the_cases(seed: int) -> None:
    cases = planted(random.Random(seed), 400, looks=15, causes=4, rules=8).cases
    bits = bits_of(cases)
    for pattern in (*patterns(bits), *pairs(bits)):
        looked = [c for c in cases if all(look in c.answers for look, _ in pattern.when)]
        counts = {(x, y): 0 for x in (True, False) for y in (True, False)}
        for case in looked:
            seen = all(case.answers[look] == a for look, a in pattern.when)
            counts[seen, pattern.cause in case.causes] += 1
        told = (counts[True, True], counts[True, False], counts[False, True], counts[False, False])
        assert pattern.whole == TwoByTwo(*told)


def test_of_very_many_cases_the_thirty_with_the_greatest_lift_are_shown() -> None:
    made = planted(random.Random(4), 3_000, answered=1.0, even=True)
    found = patterns(bits_of(made.cases))
    assert len(found) > 30
    assert shortlist(found, 10_000) == found
    shown = shortlist(found, 10_001)
    assert len(shown) == 30
    assert min(p.whole.lift for p in shown) >= max(p.whole.lift for p in found if p not in shown)
