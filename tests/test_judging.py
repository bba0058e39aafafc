"""What one rule does: in words, where it speaks, beside the other rules, and in questions."""

from __future__ import annotations

from typing import Any

import pytest
from rulechanges import with_rules
from test_replaying import new_rule

from diagnose.checking.audit import Audit
from diagnose.checking.beside import beside
from diagnose.consulting import OpenBook
from diagnose.covering import walk
from diagnose.judging import Effect, Questions, rightly, what_it_does
from diagnose.knowledge.book import Condition, Dough, Rule
from diagnose.knowledge.phrases import OneOf, Presence
from diagnose.knowledge.teaching import read_teaching_cases
from diagnose.replaying import Past, PastCase, from_teaching
from rulebooks import rule, rulebook, when


@pytest.fixture(scope="module")
def dough(book: OpenBook) -> Dough:
    return book.book.doughs[0]


@pytest.fixture(scope="module")
def past(book: OpenBook) -> Past:
    return Past(book, [from_teaching(case) for case in read_teaching_cases(book.book)[0]])


def at(stage: str) -> Condition:
    return Condition(subject="stage", kind="stage", phrase=OneOf((stage,)))


def effect(past: Past, dough: Dough, made: Rule) -> Effect:
    after = with_rules(past.opened, (*dough.rules, made))
    return what_it_does(past, after, dough.id, made.id)


def test_a_new_rule_is_said_in_the_cooks_words(past: Past, dough: Dough) -> None:
    stage = at("cook-paste")
    made = new_rule(("paste-body", "slumps"), cause="undercooked-paste", standing="draft")
    made = made.model_copy(update={"when": (stage, *made.when)})
    cause = next(c.say for c in dough.causes if c.id == "undercooked-paste")
    sign = next(s for s in dough.signs if s.id == "paste-body")
    answer = next(a.say for a in sign.answers if a.id == "slumps")
    title = next(s.title for s in dough.stages if s.id == "cook-paste")
    assert effect(past, dough, made).says == (
        f"If the stage is {title} and “{sign.ask}” is answered “{answer}”, "
        f"this speaks strongly for “{cause}”.",
        "It is a draft: it counts half, and is shown as a draft.",
    )


def test_every_case_in_which_it_speaks_is_named_with_whether_it_is_right(
    past: Past, dough: Dough
) -> None:
    made = new_rule(("paste-body", "slumps"), cause="undercooked-paste")
    found = effect(past, dough, made)
    told = {c.id for c in past.cases if c.situation.signs.get("paste-body") == "slumps"}
    assert {one.case.id for one in found.spoke} == told
    right = [c for c in past.cases if c.id in told and "undercooked-paste" in c.causes]
    assert found.rightly == len(right)
    assert found.wrongly == len(told) - len(right)


def test_a_rule_against_a_cause_is_right_where_the_cause_is_not_true(
    past: Past,
) -> None:
    case = PastCase("a", "whole case", "a", past.cases[0].situation, ("milk-over",))
    made = new_rule(("paste-body", "slumps"), cause="milk-over")
    away = made.model_copy(update={"points_to": None, "points_away_from": "milk-over"})
    out = made.model_copy(update={"points_to": None, "rules_out": "flour-over"})
    finding = made.model_copy(update={"points_to": None, "concludes": "paste-slack"})
    assert [rightly(r, case) for r in (made, away, out, finding)] == [True, False, True, None]


def test_the_questions_counted_are_those_a_cook_is_really_asked(past: Past, dough: Dough) -> None:
    stage = at("serve")
    made = new_rule(cause="undercooked-paste").model_copy(update={"when": (stage,)})
    made = made.model_copy(update={"points_to": dough.causes[0].id})
    found = effect(past, dough, made).questions
    assert 0 < found.cases <= 12
    at_serve = [c for c in dough.whole_cases if c.situation["stage"] == "serve"]
    taps = {walk(past.opened, dough, case).taps for case in at_serve}
    assert set(found.before) <= taps


def test_the_effect_on_questions_is_one_sentence() -> None:
    assert Questions((1, 2, 3), (1, 2, 4)).say == (
        "In 3 whole cases a cook answers 2 in the middle and 2.3 on average; "
        "before it was 2 in the middle and 2.0 on average."
    )
    assert "as many questions as before" in Questions((1,), (1,)).say
    assert "no questions were counted" in Questions((), ()).say


def test_a_rule_that_is_not_in_the_changed_book_is_refused(past: Past, dough: Dough) -> None:
    with pytest.raises(LookupError, match="no rule nothing-of-the-kind"):
        what_it_does(past, past.opened, dough.id, "nothing-of-the-kind")


def test_a_copy_of_a_rule_repeats_it_with_a_situation_in_words(past: Past, dough: Dough) -> None:
    one = next(r for r in dough.rules if r.points_to is not None)
    found = effect(past, dough, one.model_copy(update={"id": "made-up-rule"}))
    same = next(n for n in found.beside if n.other == one.id)
    assert same.relation == "repeats"
    assert same.say == f"It speaks exactly when {one.id} does, and says the same."
    assert same.example


def relations(*rules: Rule) -> list[tuple[str, str | None]]:
    dough: Any = rulebook(*rules)
    dough.remedies = dough.stages = ()
    audit = Audit(dough)
    return [(one.relation, one.other) for one in beside(audit, rules[-1])]


A, B = when("sign-0", OneOf(("a",))), when("sign-1", OneOf(("b",)))


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ((A,), (A,), "repeats"),
        ((A,), (A, B), "is swallowed by"),
        ((A, B), (A,), "swallows"),
    ],
)
def test_one_rule_beside_another_that_says_the_same(
    old: tuple[object, ...], new: tuple[object, ...], expected: str
) -> None:
    one = rule("one", *old, points_to="cause-0")  # type: ignore[arg-type]  # conditions
    other = rule("other", *new, points_to="cause-0")  # type: ignore[arg-type]  # conditions
    assert relations(one, other) == [(expected, "one")]


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ((A,), (A,), "contradicts"),
        ((A,), (A, B), "is an exception to"),
        ((A, B), (A,), "has an exception"),
    ],
)
def test_one_rule_beside_another_that_says_the_opposite(
    old: tuple[object, ...], new: tuple[object, ...], expected: str
) -> None:
    one = rule("one", *old, points_to="cause-0")  # type: ignore[arg-type]  # conditions
    other = rule("other", *new, points_to="cause-0")  # type: ignore[arg-type]  # conditions
    away = other.model_copy(update={"points_to": None, "points_away_from": "cause-0"})
    assert relations(one, away) == [(expected, "one")]


def test_rules_that_merely_overlap_or_are_about_another_cause_are_not_named() -> None:
    assert relations(rule("one", A, points_to="cause-0"), rule("two", B, points_to="cause-0")) == []
    assert relations(rule("one", A, points_to="cause-0"), rule("two", A, points_to="cause-1")) == []


def test_two_rules_for_one_finding_are_compared_as_well() -> None:
    one = rule("one", A, concludes="finding-0")
    assert relations(one, rule("two", A, B, concludes="finding-0")) == [("is swallowed by", "one")]


def test_a_rule_that_can_never_speak_is_said_so_and_nothing_more() -> None:
    other = when("sign-0", OneOf(("b",)))
    assert relations(rule("one", A, points_to="c"), rule("two", A, other, points_to="c")) == [
        ("never speaks", None)
    ]
    nobody = when("finding-3", Presence(True))
    assert relations(rule("two", nobody, points_to="c")) == [("never speaks", None)]
