"""What a course of remedies is worth, the house scale of words, and the laws of chances."""

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
from diagnose.knowledge.loading import load_book
from diagnose.knowledge.situation import Tried
from diagnose.reasoning.exact_order import best_course
from diagnose.reasoning.holding import Clearing, Held, advisable, clearing_question, sort_out
from diagnose.reasoning.likelihood import normalised, tables
from diagnose.reasoning.limits import (
    GO_WITHOUT,
    LATE_DINNER,
    Limits,
    carry_on_loss,
    limits_for,
    needed,
)
from diagnose.reasoning.options import BETWEEN_REMEDIES, RUINS, Option, candidates
from diagnose.reasoning.posterior import (
    Weighed,
    heaviest,
    helps,
    in_play,
    log_of_attempt,
    softmax,
    total,
    weight_of,
)
from diagnose.reasoning.quick_order import Course, quick_course
from diagnose.reasoning.words import (
    EFFORT_MINUTES,
    FACTOR,
    PRIOR,
    WORKS,
    WORSE_MINUTES,
    chance_in_words,
    nats,
)

DOUGH = load_book().doughs[0]
SOURCE = Source(see="common-practice")
WORDS = list(FACTOR)


def option(
    name: str,
    minutes: float,
    helps: tuple[float, ...],
    harm: tuple[tuple[int, float], ...] = (),
    **more: Any,
) -> Option:
    remedy = cast(Remedy, SimpleNamespace(id=name, only_after=()))
    cured = tuple((place, h) for place, h in enumerate(helps) if h > 0.02)
    named = tuple((f"cause-{p}", h) for p, h in cured)
    return Option(remedy, minutes, helps, harm, named, cured, **more)


def ids(course: Course) -> list[str]:
    return [remedy.id for remedy in course.remedies]


def test_starting_over_wins_when_no_remedy_pays() -> None:
    hopeless = option("r", 30.0, (0.1,))
    assert best_course([hopeless], [1.0], 20.0).remedies == ()


def test_a_remedy_of_several_goes_is_named_once_and_done_as_often_as_it_pays() -> None:
    """By hand: 5 + (5 + 40 / 2) / 2 = 17.5, against 5 + 40 / 2 = 25 for one go and 40 for none."""
    twice = option("r", 5.0, (0.5,), goes=2)
    course = best_course([twice], [1.0], 40.0)
    assert ids(course) == ["r"]
    assert [remedy.id for remedy in course.goes] == ["r", "r"]
    assert course.minutes == pytest.approx(17.5)
    assert quick_course([twice], [1.0], 40.0).minutes == pytest.approx(17.5)


def test_a_batch_that_may_be_ruined_is_worth_less_the_dearer_a_fresh_one() -> None:
    """By hand, for cause 1 at 0.2: 4 minutes, ruined with 0.9, else left; then 0.02 starts over."""
    risky = option("r", 4.0, (0.9, 0.0), ruins=((1, 0.9),))
    weights = [0.8, 0.2]
    for start_over in (20.0, 100.0):
        expected = 4.0 + 0.2 * 0.9 * start_over + (0.08 + 0.02) * start_over
        assert best_course([risky], weights, start_over).minutes == pytest.approx(expected)


def test_the_one_that_is_in_time_is_tried_before_the_one_that_helps_most_per_minute() -> None:
    slow, fast = option("slow", 20.0, (0.9, 0.02)), option("fast", 8.0, (0.3, 0.02))
    weights = [0.97, 0.03]
    assert ids(best_course([slow, fast], weights, 60.0))[0] == "slow"
    assert ids(best_course([slow, fast], weights, 60.0, limits=Limits(10.0)))[0] == "fast"


def test_a_cook_who_can_only_be_in_time_with_a_fresh_batch_starts_it_at_once() -> None:
    doubtful = option("r", 5.0, (0.3,))
    assert ids(best_course([doubtful], [1.0], 30.0)) == ["r"]
    hurried = best_course([doubtful], [1.0], 30.0, limits=Limits(32.0))
    assert (ids(hurried), hurried.minutes, hurried.ends) == ([], 30.0, "start-over")


def test_without_the_things_for_a_fresh_batch_a_poor_chance_is_still_tried() -> None:
    doubtful = option("r", 30.0, (0.5,))
    empty = Limits(can_start_over=False)
    assert ids(best_course([doubtful], [1.0], 20.0)) == []
    course = best_course([doubtful], [1.0], 20.0, limits=empty)
    assert (ids(course), course.ends) == (["r"], "go-without")
    assert best_course([], [1.0], 20.0, limits=empty).minutes == 20.0 + GO_WITHOUT


def test_being_late_already_changes_no_plan_but_counts_for_carrying_on_too() -> None:
    late = Limits(-5.0)
    assert carry_on_loss(1.0, 30.0) == 0.0
    assert carry_on_loss(1.0, 30.0, late) == LATE_DINNER
    assert carry_on_loss(0.0, 30.0, late) == 30.0 + 15.0 + LATE_DINNER
    sure = option("r", 5.0, (0.9,))
    assert ids(best_course([sure], [1.0], 30.0, limits=late)) == ["r"]


def test_the_hour_of_serving_leaves_what_is_not_needed_from_here_to_the_plate() -> None:
    stage = next(s for s in DOUGH.stages if s.id == "cook-paste")
    limits = limits_for(stage, stage.minutes_to_plate + 25, DOUGH.house_batch, ())
    assert (limits.minutes_left, limits.can_start_over) == (25.0, True)
    assert limits_for(stage, None, DOUGH.house_batch, ()) == Limits()


@pytest.mark.parametrize("thing", ["milk", "flour", "yolks", "cheese", "butter"])
def test_a_batch_cannot_be_started_over_without_any_one_of_its_things(thing: str) -> None:
    stage = DOUGH.stages[0]
    assert thing in needed(DOUGH.house_batch)
    assert not limits_for(stage, None, DOUGH.house_batch, {thing}).can_start_over
    assert limits_for(stage, None, DOUGH.house_batch, {"cream"}).can_start_over


def book_options(stage: str, tried: tuple[Tried, ...] = (), missing: Any = ()) -> Any:
    causes = in_play(DOUGH, stage)
    made = candidates(DOUGH, stage, causes, tried, {}, missing)
    return causes, {option.remedy.id: option for option in made}


def test_a_remedy_that_adds_what_there_is_none_of_is_not_a_candidate() -> None:
    _, everything = book_options("cook-paste")
    _, no_flour = book_options("cook-paste", missing={"flour"})
    _, no_milk = book_options("cook-paste", missing=frozenset({"milk"}))
    adds_flour = {"add-flour-by-the-spoon", "altitude-spoonful", "stir-in-slurry"}
    assert set(everything) - set(no_flour) == adds_flour
    assert set(everything) - set(no_milk) == {
        "beat-in-warm-milk", "stir-in-slurry", "let-the-bran-drink", "free-the-spoon-and-cook-on",
    }  # fmt: skip


def test_a_remedy_that_uses_what_there_is_none_of_is_not_a_candidate_either() -> None:
    _, everything = book_options("simmer")
    _, no_milk = book_options("simmer", missing={"milk"})
    assert "top-up-hot-milk" in everything
    assert "top-up-hot-milk" not in no_milk


def test_a_failed_go_of_heat_counts_whole_and_a_failed_dose_by_its_share() -> None:
    """The plan takes each go of heat as whole, so the chances must as well."""
    causes = {cause.id: cause for cause in DOUGH.causes}
    remedies = {remedy.id: remedy for remedy in DOUGH.remedies}
    heat, flour = remedies["cook-on-hotter"], remedies["add-flour-by-the-spoon"]
    failed = log_of_attempt(
        Tried(remedy=heat.id, result="no-change"), heat, causes["undercooked-paste"]
    )
    assert failed == pytest.approx(math.log(1 - helps(heat.id, causes["undercooked-paste"])))
    dose = log_of_attempt(Tried(remedy=flour.id, result="no-change"), flour, causes["flour-short"])
    whole = math.log(1 - helps(flour.id, causes["flour-short"]))
    assert dose == pytest.approx(whole / flour.may_repeat)


def test_small_doses_together_help_as_often_as_the_word_says_and_take_as_long() -> None:
    causes, options = book_options("cook-paste")
    place = next(p for p, cause in enumerate(causes) if cause.id == "flour-short")
    flour = options["add-flour-by-the-spoon"]
    assert (flour.goes, flour.dosed, flour.remedy.may_repeat) == (3, True, 3)
    assert 1 - (1 - flour.helps[place]) ** 3 == pytest.approx(0.75)
    assert dict(flour.cured)[place] == dict(flour.cures)["flour-short"] == pytest.approx(0.75)
    alone = sum(flour.took(gone) for gone in range(3))
    assert alone == pytest.approx(flour.remedy.minutes + BETWEEN_REMEDIES)
    over = next(p for p, cause in enumerate(causes) if cause.id == "flour-over")
    assert (1 - dict(flour.ruins)[over]) ** 3 == pytest.approx(1 - RUINS)
    assert over not in dict(flour.harm)


def test_a_failed_dose_leaves_the_chance_of_the_doses_still_to_come() -> None:
    """The same share that a failed dose takes from the chance of its cause."""
    cause = next(c for c in DOUGH.causes if c.id == "flour-short")
    failed = Tried(remedy="add-flour-by-the-spoon", result="no-change")
    causes, before = book_options("cook-paste")
    _, after = book_options("cook-paste", (failed,))
    place = causes.index(cause)
    then = after["add-flour-by-the-spoon"]
    assert then.goes == 2
    assert dict(then.cured)[place] == pytest.approx(1 - 0.25 ** (2 / 3))
    told = math.exp(log_of_attempt(failed, then.remedy, cause))
    assert told == pytest.approx(1 - before["add-flour-by-the-spoon"].helps[place])


def test_a_failed_go_is_as_likely_to_the_chances_as_to_the_plan() -> None:
    """For every remedy and cause of the book, and however often it has failed before."""
    met = set()
    for stage in DOUGH.stages:
        for remedy in DOUGH.remedies:
            for before in range(remedy.may_repeat):
                failed = Tried(remedy=remedy.id, result="no-change")
                causes, options = book_options(stage.id, (failed,) * before)
                planned = options.get(remedy.id)
                for place, cause in enumerate(causes if planned else ()):
                    if cause.id == DOUGH.carry_on:
                        continue
                    told = math.exp(log_of_attempt(failed, remedy, cause))
                    assert told == pytest.approx(1 - planned.helps[place]), (remedy.id, before)
                    met.add((planned.dosed, remedy.may_repeat))
    assert {(True, 4), (True, 3), (True, 2), (False, 2), (False, 1)} <= met


def test_heat_is_given_whole_each_time() -> None:
    causes, options = book_options("cook-paste")
    place = next(p for p, cause in enumerate(causes) if cause.id == "undercooked-paste")
    heat = options["cook-on-hotter"]
    assert (heat.goes, heat.dosed) == (2, False)
    assert heat.helps[place] == OFTEN[causes[place].tries[0].works]
    assert heat.took(0) == heat.took(1) == heat.remedy.minutes + BETWEEN_REMEDIES


def worth(question: str, *leads_to: tuple[str, str]) -> Any:
    return SimpleNamespace(part=SimpleNamespace(id=question), leads_to=leads_to)


def test_the_question_that_would_put_a_held_remedy_first_is_named_before_one_that_unlocks() -> None:
    held = Held(cast(Remedy, SimpleNamespace(id="r")), ("cooked",), ())
    only_unlocks = worth("a", ("yes", "other"), ("no", "other"))
    best = worth("b", ("yes", "other"), ("no", "r"), ("partly", "r"))
    worse = worth("c", ("yes", "r"))
    unlocked = {("a", "no"): {"r"}, ("a", "yes"): {"other"}}
    named = clearing_question(held, [only_unlocks, best, worse], unlocked)
    assert named == Clearing("b", ("no", "partly"), first=True)
    named = clearing_question(held, [only_unlocks], unlocked)
    assert named == Clearing("a", ("no",), first=False)
    assert clearing_question(held, [only_unlocks]) is None
    assert clearing_question(held, []) is None


def test_a_held_remedy_of_the_book_is_held_by_what_advisable_says() -> None:
    causes, options = book_options("cook-paste")
    every = list(options.values())
    chances = {cause.id: 0.0 for cause in causes} | {"something-else": 0.0, "flour-short": 1.0}
    weights = list(chances.values())
    held = {h.remedy.id: h for h in sort_out(every, chances, ())}
    assert held["add-flour-by-the-spoon"].waits_for == ("starch-cooked", "flour-may-help")
    assert "add-flour-by-the-spoon" not in advisable(every, weights, ())
    open_ = advisable(every, weights, {"starch-cooked", "flour-may-help"})
    assert "add-flour-by-the-spoon" in open_
    assert not {h.remedy.id for h in sort_out(every, chances, ())} & advisable(every, weights, ())


@pytest.mark.parametrize("stage", [stage.id for stage in DOUGH.stages])
def test_on_the_book_the_quick_order_never_beats_the_exact_one(stage: str) -> None:
    """Also where there are more remedies than the exact order takes."""
    causes, options = book_options(stage)
    every = list(options.values())
    dice = random.Random(stage)
    findings = frozenset({"starch-cooked", "flour-may-help", "no-yolk-yet"})
    for _ in range(12):
        raw = [dice.random() ** 4 for _ in range(len(causes) + 1)]
        weights = [w / sum(raw) for w in raw]
        limits = Limits(dice.choice((None, -1.0, 20.0, 60.0)), dice.random() < 0.8)
        quick = quick_course(every, weights, 60.0, findings, limits=limits)
        exact = best_course(every, weights, 60.0, findings, limits=limits)
        assert quick.minutes >= exact.minutes - 1e-9


# The house scale, written down a second time: whoever changes a number, or swaps two, must do it
# here as well. None of the numbers is measured.

SCALE = {
    "decisive for": 20.0,
    "strong for": 8.0,
    "moderate for": 3.0,
    "slight for": 1.5,
    "slight against": 1 / 1.5,
    "moderate against": 1 / 3,
    "strong against": 1 / 8,
    "rules out": 1 / 50,
}
OFTEN = {"nearly always": 0.9, "usually": 0.75, "often": 0.5, "sometimes": 0.25}


def test_the_words_of_evidence_are_worth_what_the_house_says() -> None:
    assert list(FACTOR) == list(SCALE)
    assert list(FACTOR.values()) == pytest.approx(list(SCALE.values()))
    assert list(FACTOR.values()) == sorted(FACTOR.values(), reverse=True)
    for strength in ("slight", "moderate", "strong"):
        both = nats(cast(Any, f"{strength} for")) + nats(cast(Any, f"{strength} against"))
        assert both == pytest.approx(0.0)


def test_the_other_words_are_worth_what_the_house_says() -> None:
    assert WORKS == OFTEN
    common = {"very common": 8.0, "common": 4.0, "occasional": 2.0, "rare": 0.5}
    assert list(PRIOR.items()) == list(common.items())
    assert WORSE_MINUTES == 12.0
    assert (RUINS, LATE_DINNER, GO_WITHOUT) == (0.9, 45.0, 90.0)
    assert {name for name, _ in sorted(EFFORT_MINUTES.items(), key=lambda e: e[1])[:2]} == {
        "glance",
        "remember",
    }


def word_pairs() -> list[Any]:
    """(cause, likelier remedy, less likely one) wherever two words of the book differ."""
    found = []
    rank = list(OFTEN)
    for cause in DOUGH.causes:
        for one, other in itertools.permutations(cause.tries, 2):
            if rank.index(one.works) < rank.index(other.works):
                found.append(pytest.param(cause, one, other, id=f"{cause.id}-{one.remedy}"))
    return found


@pytest.mark.parametrize(("cause", "better", "worse"), word_pairs())
def test_of_two_remedies_that_take_as_long_the_likelier_word_comes_first(
    cause: Cause, better: Try, worse: Try
) -> None:
    whole = [r for r in DOUGH.remedies if r.id in (better.remedy, worse.remedy)]
    options = [
        option(r.id, 10.0, (helps(r.id, cause), helps(r.id, None))) for r in sorted_by_id(whole)
    ]
    course = best_course(options, [0.9, 0.1], 200.0)
    assert ids(course)[0] == better.remedy
    assert quick_course(options, [0.9, 0.1], 200.0).remedies[0].id == better.remedy


def sorted_by_id(remedies: list[Remedy]) -> list[Remedy]:
    return sorted(remedies, key=lambda remedy: remedy.id)


def test_in_every_row_of_the_book_two_answers_stand_as_far_apart_as_their_words() -> None:
    """An answer without a word counts as neither for nor against."""
    met = set()
    for table in tables(DOUGH).values():
        for row in table.rows.values():
            words = [row.answers.get(answer) for answer in table.asked.answers]
            met |= {word for word in words if word}
            bare = [
                table.shift(row.about, answer) - (math.log(SCALE[word]) if word else 0.0)
                for answer, word in zip(table.asked.answers, words, strict=True)
            ]
            assert bare == pytest.approx([bare[0]] * len(bare)), row.id
    assert met >= set(SCALE) - {"decisive for"}


def test_every_rule_of_the_book_weighs_what_its_word_says_and_a_draft_half_of_it() -> None:
    met = set()
    for rule in DOUGH.rules:
        if rule.strength is None and rule.rules_out is None:
            continue
        word = "rules out" if rule.rules_out else f"{rule.strength} for"
        met.add(word)
        half = 0.5 if rule.standing == "draft" else 1.0
        away = -1 if rule.points_away_from else 1
        assert weight_of(rule) == pytest.approx(away * half * math.log(SCALE[word])), rule.id
    assert {"decisive for", "strong for", "moderate for"} <= met


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
    remedy = cast(Remedy, SimpleNamespace(may_repeat=1, harm_under=(), amounts=()))
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
