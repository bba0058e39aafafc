"""What would change my mind: every set returned truly changes the first remedy, and no part of it.

The second opinion is the front door on the shipped book, and trying every answer and every pair on
small books made up for the test.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from functools import cache
from types import SimpleNamespace
from typing import Any, cast

import pytest

from diagnose.consulting import OpenBook, open_book
from diagnose.deciding import infer
from diagnose.engine.net import build
from diagnose.engine.plain import evaluate
from diagnose.knowledge.book import Cause, Dough, Finding, Reading, Remedy, Rule, Sign, Try
from diagnose.knowledge.phrases import OneOf, Value
from diagnose.knowledge.situation import Situation, Tried
from diagnose.reasoning.belief import chances_of, prior, scores_of
from diagnose.reasoning.exact_order import best_course
from diagnose.reasoning.known import Known
from diagnose.reasoning.likelihood import tables
from diagnose.reasoning.options import candidates
from diagnose.reasoning.posterior import weigh
from diagnose.reasoning.turning import (
    Turn,
    told_with,
    turning_points,
    without,
    would_not_hold_without,
)
from rulebooks import SOURCE, rule, sign, when

BOOK = open_book()
DOUGH = BOOK.book.doughs[0]


def known_of(situation: Situation, book: OpenBook = BOOK) -> Known:
    return infer(book.ready(situation.dough), situation).known


def first_of(situation: Situation) -> str:
    return BOOK.diagnose(situation).plan[0].remedy


def sampled(dice: random.Random) -> Situation:
    """A complaint of some stage, and a few looks."""
    stage = dice.choice(DOUGH.stages)
    signs = dict(dice.choice(stage.complaints).told)
    here = [s for s in DOUGH.signs if stage.id in s.stages]
    for part in dice.sample(here, min(len(here), dice.randint(0, 4))):
        signs.setdefault(part.id, dice.choice(part.answers).id)
    readings = {
        r.id: round(dice.uniform(*r.likely), 1)
        for r in DOUGH.readings
        if stage.id in r.stages and r.given_by is None and dice.random() < 0.15
    }
    return Situation(dough=DOUGH.id, stage=stage.id, signs=signs, readings=readings)


@cache
def turned(seed: int) -> tuple[Situation, Known, str, tuple[Turn, ...]]:
    situation = sampled(random.Random(seed))
    known = known_of(situation)
    first = first_of(situation)
    return situation, known, first, turning_points(known, first, first_of)


SEEDS = range(24)


@pytest.mark.parametrize("seed", SEEDS)
def test_telling_those_answers_to_the_front_door_gives_that_remedy_first(seed: int) -> None:
    _, known, first, turns = turned(seed)
    for turn in turns:
        told = told_with(known, turn.answers)
        assert told is not None
        assert first_of(told) == turn.first != first


@pytest.mark.parametrize("seed", SEEDS)
def test_no_smaller_set_within_it_changes_the_first_remedy(seed: int) -> None:
    _, known, first, turns = turned(seed)
    for turn in turns:
        for size in range(1, len(turn.answers)):
            for fewer in itertools.combinations(turn.answers, size):
                told = told_with(known, fewer)
                assert told is not None
                assert first_of(told) == first


def test_the_shipped_book_gives_turning_points_and_at_most_three() -> None:
    found = [turned(seed)[3] for seed in SEEDS]
    assert sum(bool(turns) for turns in found) >= len(found) / 3
    assert max(map(len, found)) <= 3


def test_only_open_questions_of_this_stage_are_named() -> None:
    both: tuple[Sign | Reading, ...] = (*DOUGH.signs, *DOUGH.readings)
    parts = {part.id: part for part in both}
    for seed in SEEDS:
        situation, known, _, turns = turned(seed)
        for name, _ in itertools.chain.from_iterable(turn.answers for turn in turns):
            assert situation.stage in parts[name].stages
            assert name not in known.facts


def test_throwing_away_is_named_last_and_once() -> None:
    """An unsafe history overrides everything; it must not crowd out the reasoning."""
    gates = {f.calls_for for f in DOUGH.findings if f.calls_for}
    seen = False
    for seed in SEEDS:
        firsts = [turn.first in gates for turn in turned(seed)[3]]
        assert firsts == sorted(firsts)
        assert sum(firsts) <= 1
        seen = seen or any(firsts)
    assert seen


def test_what_the_cook_could_not_answer_may_still_be_what_would_change_my_mind() -> None:
    seed = next(s for s in SEEDS if turned(s)[3])
    situation, _, first, turns = turned(seed)
    passed = frozenset(name for name, _ in turns[0].answers)
    shrugged = situation.model_copy(update={"not_looked": passed})
    assert first_of(shrugged) == first
    assert turning_points(known_of(shrugged), first, first_of) == turns
    told = told_with(known_of(shrugged), turns[0].answers)
    assert told is not None
    assert not told.not_looked & passed


def test_once_a_batch_must_be_thrown_away_no_answer_changes_that() -> None:
    unsafe = Situation(
        dough=DOUGH.id, stage="enrich", signs={"left-out": "over-2-hours", "fat": "pooling"}
    )
    first = first_of(unsafe)
    assert first == "throw-away"
    assert turning_points(known_of(unsafe), first, first_of) == ()
    assert would_not_hold_without(known_of(unsafe), first, first_of) == ("left-out",)


@pytest.mark.parametrize("seed", SEEDS)
def test_without_the_answers_it_rests_on_another_remedy_comes_first(seed: int) -> None:
    _, known, first, _ = turned(seed)
    names = would_not_hold_without(known, first, first_of)
    if names:
        assert first_of(without(known, names)) != first
    for size in range(1, len(names)):
        for fewer in itertools.combinations(names, size):
            assert first_of(without(known, fewer)) == first


def test_the_batch_form_counts_as_an_answer() -> None:
    batch = {"milk_g": 500, "flour_g": 100, "flour_measured": "sifted-first", "cook_min": 5}
    told = Situation.model_validate(
        {"dough": DOUGH.id, "stage": "cook-paste", "batch": batch, "kitchen": {"elevation_m": 6}}
    )
    gone = without(known_of(told), ("flour-measured", "minutes-cooked", "elevation"))
    assert gone.batch.flour_measured == "unknown"
    assert gone.batch.cook_min is gone.kitchen.elevation_m is None
    assert gone.batch.milk_g == 500


def test_a_weight_is_told_as_a_number_that_means_for_this_batch_what_the_answer_says() -> None:
    batch = {"milk_g": 500, "flour_g": 100, "flour_measured": "weighed"}
    told = Situation.model_validate({"dough": DOUGH.id, "stage": "cook-paste", "batch": batch})
    known = known_of(told)
    asked = known.tables["water-driven-off-share"].asked
    found = []
    for answer in known.tables["pan-contents"].asked.answers:
        more = told_with(known, (("pan-contents", answer),))
        if more is not None:
            facts = known.facts_of(more)
            assert asked.answer_for(facts["water-driven-off-share"]) == answer
            found.append(more.readings["pan-contents"])
    assert found == sorted(found, reverse=True)
    assert len(found) >= 2


def test_it_is_the_same_in_any_order_of_telling() -> None:
    situation, _, first, turns = turned(next(s for s in SEEDS if len(turned(s)[0].signs) >= 3))
    backwards = situation.model_copy(update={"signs": dict(reversed(situation.signs.items()))})
    assert turning_points(known_of(backwards), first, first_of) == turns


def test_at_least_one_set_must_be_asked_for() -> None:
    _, known, first, _ = turned(0)
    with pytest.raises(ValueError, match="at least 1"):
        turning_points(known, first, first_of, most=0)


# Small books made up for the test: every answer and every pair can be tried.

ANSWERS = ("a", "b", "c")


class Small:
    """A book of one stage, six signs and a few causes, and its first remedy from its parts."""

    def __init__(self, rules: list[Rule], causes: int = 4) -> None:
        remedies = [remedy(f"cure-{n}", "technique") for n in range(causes)]
        remedies += [remedy("over", "restart"), remedy("on", "none"), remedy("away", "discard")]
        self.dough = cast(
            Dough,
            SimpleNamespace(
                id="small",
                rules=tuple(rules),
                signs=tuple(sign(f"sign-{n}") for n in range(6)),
                readings=(),
                computed=(),
                findings=(Finding(id="spoilt", means="made up", calls_for="away"),),
                causes=tuple(cause(n) for n in range(causes)),
                remedies=tuple(remedies),
                evidence=(),
                carry_on="nothing",
            ),
        )
        self.net = build(rules)
        self.tables = tables(self.dough)

    def known(self, situation: Situation) -> Known:
        facts: dict[str, Value] = {"stage": situation.stage, **situation.signs}
        outcome = evaluate(self.net.rules, facts)
        before = prior(self.dough, situation.stage, situation.tried)
        weights = weigh(before.causes, self.tables, facts, outcome.spoke)
        return Known(
            dough=self.dough,
            situation=situation,
            net=self.net,
            tables=self.tables,
            facts_of=lambda told: {"stage": told.stage, **told.signs},
            facts=facts,
            before=before,
            weights=weights,
            scores=scores_of(before, weights),
            findings=outcome.findings,
            options=candidates(self.dough, "now", before.causes, situation.tried, {}),
            start_over=40.0,
        )

    def first(self, situation: Situation) -> str:
        known = self.known(situation)
        if "spoilt" in known.findings:
            return "away"
        if situation.tried and situation.tried[-1].result == "worked":
            return "on"
        chances = chances_of(known.scores)
        course = best_course(
            known.options, [chances[n] for n in known.before.names], 40.0, known.findings
        )
        return course.remedies[0].id if course.remedies else "over"


def cause(number: int) -> Cause:
    return Cause(
        id=f"cause-{number}",
        say="made up",
        how_common="common",
        shows_at=("now",),
        tries=(Try(remedy=f"cure-{number}", works="usually"),),
        next_time="made up",
    )


def remedy(name: str, kind: Any) -> Remedy:
    return Remedy(
        id=name,
        kind=kind,
        first=name,
        do=(),
        minutes=3.0,
        look_for="",
        give_up_when="",
        stages=("now",),
        label="house rule",
        source=SOURCE,
    )


def small(seed: int) -> tuple[Small, Situation]:
    dice = random.Random(seed)
    rules = []
    for number in range(dice.randint(4, 10)):
        subjects = dice.sample(range(6), dice.choice((1, 2, 2, 3)))
        conditions = [when(f"sign-{n}", OneOf((dice.choice(ANSWERS),))) for n in subjects]
        rules.append(rule(f"r-{number}", *conditions, points_to=f"cause-{dice.randrange(4)}"))
    if dice.random() < 0.3:
        rules.append(rule("spoils", when("sign-5", OneOf(("a",))), concludes="spoilt"))
    told = {f"sign-{n}": dice.choice(ANSWERS) for n in range(6) if dice.random() < 0.35}
    return Small(rules), Situation(dough="small", stage="now", signs=told)


def changing(book: Small, situation: Situation, size: int) -> Iterator[dict[str, str]]:
    """By trying everything: the sets of so many further answers that change the first remedy."""
    first = book.first(situation)
    still_open = [f"sign-{n}" for n in range(6) if f"sign-{n}" not in situation.signs]
    for names in itertools.combinations(still_open, size):
        for answers in itertools.product(ANSWERS, repeat=size):
            told = dict(zip(names, answers, strict=True))
            more = situation.model_copy(update={"signs": situation.signs | told})
            if book.first(more) not in (first, "away"):
                yield told


def test_on_small_books_a_set_is_found_exactly_where_trying_everything_finds_one() -> None:
    singles = pairs = 0
    for seed in range(300):
        book, situation = small(seed)
        first = book.first(situation)
        turns = turning_points(book.known(situation), first, book.first)
        plain = [turn for turn in turns if turn.first != "away"]
        if first == "away":
            assert not turns
            continue
        ones = list(changing(book, situation, 1))
        twos = [] if ones else list(changing(book, situation, 2))
        assert bool(plain) is bool(ones or twos), seed
        for turn in plain:
            assert dict(turn.answers) in (ones or twos), seed
        singles += bool(ones)
        pairs += bool(twos)
    assert singles >= 100
    assert pairs >= 20


def test_two_looks_are_named_together_when_only_both_would_tell() -> None:
    both = (when("sign-0", OneOf(("a",))), when("sign-1", OneOf(("b",))))
    book = Small([rule("both", *both, points_to="cause-3")])
    now = Situation(dough="small", stage="now")
    first = book.first(now)
    assert first != "cure-3"
    (turn,) = turning_points(book.known(now), first, book.first)
    assert turn == Turn((("sign-0", "a"), ("sign-1", "b")), "cure-3")


def test_either_of_two_looks_that_say_the_same_holds_the_remedy_so_both_are_named() -> None:
    one = rule("one", when("sign-0", OneOf(("a",))), points_to="cause-3")
    other = rule("other", when("sign-1", OneOf(("a",))), points_to="cause-3")
    book = Small([one, other])
    now = Situation(dough="small", stage="now", signs={"sign-0": "a", "sign-1": "a"})
    assert book.first(now) == "cure-3"
    assert would_not_hold_without(book.known(now), "cure-3", book.first) == ("sign-0", "sign-1")


def test_a_remedy_that_leads_whatever_was_told_rests_on_nothing() -> None:
    book = Small([rule("r", when("sign-0", OneOf(("a",))), points_to="cause-0")])
    now = Situation(dough="small", stage="now", signs={"sign-0": "a"})
    assert would_not_hold_without(book.known(now), book.first(now), book.first) == ()


def test_after_a_remedy_that_worked_only_an_unsafe_history_would_change_my_mind() -> None:
    spoils = rule("spoils", when("sign-5", OneOf(("a",))), concludes="spoilt")
    turns_it = rule("r", when("sign-0", OneOf(("a",))), points_to="cause-3")
    book = Small([turns_it, spoils])
    tried = (Tried(remedy="cure-0", result="worked"),)
    now = Situation(dough="small", stage="now", tried=tried)
    assert turning_points(book.known(now), "on", book.first) == (Turn((("sign-5", "a"),), "away"),)
