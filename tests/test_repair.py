"""The order of remedies against trying every order, and the laws that chances must keep."""

from __future__ import annotations

import itertools
import math
import random
from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.book import Cause, EvidenceRow, Remedy, Source, Try
from diagnose.knowledge.situation import Tried
from diagnose.reasoning.likelihood import normalised
from diagnose.reasoning.posterior import Weighed, heaviest, log_of_attempt, softmax, total
from diagnose.reasoning.repair import Option, best_course, quick_course
from diagnose.reasoning.words import FACTOR, chance_in_words

SOURCE = Source(see="common-practice")
WORDS = list(FACTOR)


def random_options(dice: random.Random, causes: int, count: int) -> list[Option]:
    made = []
    for n in range(count):
        waits = ("cooked",) if dice.random() < 0.4 else ()
        remedy = cast(Remedy, SimpleNamespace(id=f"remedy-{n}", only_after=waits))
        helps = tuple(dice.choice((0.02, 0.02, 0.25, 0.5, 0.75, 0.9)) for _ in range(causes))
        harm = tuple((c, dice.choice((12.0, 40.0))) for c in range(causes) if dice.random() < 0.4)
        made.append(option(remedy, dice.uniform(1, 20), helps, harm))
    return made


def option(
    remedy: Remedy,
    minutes: float,
    helps: tuple[float, ...],
    harm: tuple[tuple[int, float], ...] = (),
) -> Option:
    cured = tuple((place, h) for place, h in enumerate(helps) if h > 0.02)
    return Option(remedy, minutes, helps, harm, tuple((str(p), h) for p, h in cured), cured)


def allowed(
    order: tuple[Option, ...], weights: list[float], opened: dict[str, frozenset[str]]
) -> bool:
    """Whether every remedy of an order may be done when its turn comes, from first principles."""
    left, known = list(weights), frozenset[str]()
    for step in order:
        bad = sum(left)
        if not set(step.remedy.only_after) <= known:
            return False
        if any(left[place] >= 0.25 * bad for place, _ in step.harm):
            return False
        if sum(left[place] * h for place, h in step.cured) < 0.05 * bad:
            return False
        left = [w * (1 - h) for w, h in zip(left, step.helps, strict=True)]
        known |= opened.get(step.remedy.id, frozenset())
    return True


def minutes_of(order: tuple[Option, ...], weights: list[float], start_over: float) -> float:
    """Expected minutes of doing these in turn and then starting over, from first principles."""
    spent = 0.0
    for cause, weight in enumerate(weights):
        still_bad = 1.0
        for option in order:
            spent += weight * still_bad * (option.minutes + dict(option.harm).get(cause, 0.0))
            still_bad *= 1 - option.helps[cause]
        spent += weight * still_bad * start_over
    return spent


@pytest.mark.parametrize("seed", range(60))
def test_the_course_is_the_best_of_all_orders_and_all_points_of_giving_up(seed: int) -> None:
    dice = random.Random(seed)
    causes = 4
    options = random_options(dice, causes, dice.randint(1, 4))
    raw = [dice.random() for _ in range(causes)]
    weights = [w / sum(raw) for w in raw]
    start_over = dice.uniform(10, 80)
    opened = {"remedy-0": frozenset({"cooked"})} if dice.random() < 0.7 else {}
    brute = min(
        minutes_of(order, weights, start_over)
        for length in range(len(options) + 1)
        for order in itertools.permutations(options, length)
        if allowed(order, weights, opened)
    )
    course = best_course(options, weights, start_over, frozenset(), opened)
    assert course.minutes == pytest.approx(brute, abs=1e-9)
    by_id = {option.remedy.id: option for option in options}
    chosen = tuple(by_id[remedy.id] for remedy in course.remedies)
    assert minutes_of(chosen, weights, start_over) == pytest.approx(brute, abs=1e-9)


@pytest.mark.parametrize("seed", range(30))
def test_the_quick_order_says_truly_what_it_costs_and_never_beats_the_exact_one(seed: int) -> None:
    dice = random.Random(seed)
    options = random_options(dice, 4, 4)
    weights = [0.4, 0.3, 0.2, 0.1]
    quick = quick_course(options, weights, 40.0)
    by_id = {option.remedy.id: option for option in options}
    chosen = tuple(by_id[remedy.id] for remedy in quick.remedies)
    assert quick.minutes == pytest.approx(minutes_of(chosen, weights, 40.0))
    assert quick.minutes >= best_course(options, weights, 40.0).minutes - 1e-9


def test_starting_over_wins_when_no_remedy_pays() -> None:
    remedy = cast(Remedy, SimpleNamespace(id="r", only_after=()))
    hopeless = option(remedy, 30.0, (0.1,))
    assert best_course([hopeless], [1.0], 20.0).remedies == ()


@given(st.dictionaries(st.sampled_from("abcde"), st.sampled_from(WORDS)))
def test_a_row_of_words_becomes_chances_that_add_up_to_one(words: dict[str, Any]) -> None:
    row = EvidenceRow(of="s", about="c", answers=words, why="", source=SOURCE)
    usual = {"a": 0.4, "b": 0.3, "c": 0.1, "d": 0.1, "e": 0.1}
    assert math.fsum(math.exp(v) for v in normalised(row, usual).values()) == (pytest.approx(1.0))


@given(st.sampled_from(WORDS), st.sampled_from(WORDS))
def test_a_stronger_word_for_an_answer_never_makes_it_less_likely(one: Any, other: Any) -> None:
    low, high = sorted((one, other), key=FACTOR.__getitem__)
    rows = [
        EvidenceRow(of="s", about="c", answers={"a": w, "b": "slight for"}, why="", source=SOURCE)
        for w in (low, high)
    ]
    first, second = (normalised(row, {"a": 0.5, "b": 0.3, "c": 0.2})["a"] for row in rows)
    assert first <= second + 1e-12


weighed = st.builds(
    Weighed,
    cause=st.sampled_from(("c", "d")),
    group=st.sampled_from(("g", "h", "i")),
    nats=st.sampled_from([round(math.log(f), 6) for f in FACTOR.values()]),
    by=st.just("x"),
)


@given(st.lists(weighed, max_size=12), st.randoms())
def test_weights_add_up_the_same_in_any_order(weights: list[Weighed], dice: Any) -> None:
    shuffled = list(weights)
    dice.shuffle(shuffled)
    assert total(weights) == total(shuffled)


@given(st.lists(weighed, max_size=12), weighed)
def test_evidence_for_a_cause_never_lowers_its_chance(
    weights: list[Weighed], more: Weighed
) -> None:
    """Also inside a group, where only the heaviest weight counts."""
    if more.nats < 0:
        more = Weighed(more.cause, more.group, -more.nats, more.by)
    before = softmax({"c": 0.0, "d": 0.0, "else": 0.0} | total(weights))
    after = softmax({"c": 0.0, "d": 0.0, "else": 0.0} | total([*weights, more]))
    assert after[more.cause] >= before[more.cause] - 1e-12


def test_one_look_entered_three_times_in_a_group_counts_once() -> None:
    look = [Weighed("c", "look", math.log(3), f"rule-{n}") for n in range(3)]
    assert len(heaviest(look)) == 1
    assert softmax({"c": math.log(0.1), "else": math.log(0.9)} | {})["c"] == pytest.approx(0.1)
    lifted = softmax({"c": math.log(0.1) + total(look)["c"], "else": math.log(0.9)})
    assert lifted["c"] == pytest.approx(0.25)


def test_the_words_lift_a_chance_of_a_tenth_as_the_odds_form_of_bayes_rule_says() -> None:
    """Arithmetic of odds, e.g. Pearl, Probabilistic Reasoning, 1988, section 2.1 (from memory)."""
    expected = {
        "decisive for": 0.69,
        "strong for": 0.47,
        "moderate for": 0.25,
        "slight for": 0.14,
    }
    for word, chance in expected.items():
        odds = FACTOR[cast(Any, word)] / 9
        assert odds / (1 + odds) == pytest.approx(chance, abs=0.005)


def test_a_remedy_that_failed_makes_its_causes_less_likely_and_one_that_worked_more() -> None:
    cause = cast(
        Cause,
        SimpleNamespace(id="c", tries=(Try(remedy="r", works="usually"),)),
    )
    remedy = cast(Remedy, SimpleNamespace(may_repeat=1, harm_under=()))
    failed = Tried(remedy="r", result="no-change")
    worked = Tried(remedy="r", result="worked")
    assert log_of_attempt(failed, remedy, cause) < log_of_attempt(failed, remedy, None)
    assert log_of_attempt(worked, remedy, cause) > log_of_attempt(worked, remedy, None)
    cannot = Tried(remedy="r", result="cannot")
    assert log_of_attempt(cannot, remedy, cause) == log_of_attempt(cannot, remedy, None) == 0


def test_a_cook_reads_words_in_order_of_chance() -> None:
    words = [chance_in_words(n / 100) for n in range(101)]
    assert list(dict.fromkeys(words)) == [
        "unlikely",
        "less likely",
        "possible",
        "likely",
        "very likely",
    ]
