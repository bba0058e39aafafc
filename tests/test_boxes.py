"""Rules as boxes of answers: what can be told apart, what covers what, and examples that hold."""

from __future__ import annotations

import random
from collections.abc import Mapping
from types import SimpleNamespace
from typing import cast

import pytest

from diagnose.checking.audit import Audit
from diagnose.checking.boxes import Space, inside, meet, plain_number_between, space_of
from diagnose.checking.chaining import Chains, NotDecided
from diagnose.consulting import OpenBook
from diagnose.engine.compiling import compile_rules
from diagnose.engine.plain import evaluate
from diagnose.engine.session import run
from diagnose.knowledge.book import Condition, Dough, Remedy, Rule, Stage
from diagnose.knowledge.phrases import Interval, OneOf, Presence, Value
from rulebooks import random_rulebook, rule, rulebook, when


def whole(*rules: Rule, stages: tuple[str, ...] = (), by_remedy: tuple[str, ...] = ()) -> Dough:
    """A made-up book with the parts of a dough that the checks read."""
    dough = rulebook(*rules)
    remedies = (cast(Remedy, SimpleNamespace(establishes=by_remedy)),)
    named = tuple(cast(Stage, SimpleNamespace(id=stage)) for stage in stages)
    dough.__dict__.update(stages=named, remedies=remedies)
    return dough


def hot(low: float, low_inside: bool = True) -> Condition:
    words = f"{'at least' if low_inside else 'above'} {low:g} °C"
    return when("reading-0", Interval(low, None, low_inside, False, words))


def cool(high: float, high_inside: bool) -> Condition:
    words = f"{'at most' if high_inside else 'below'} {high:g} °C"
    return when("reading-0", Interval(None, high, False, high_inside, words))


def sign_is(*answers: str, number: int = 0, negated: bool = False) -> Condition:
    return when(f"sign-{number}", OneOf(answers, negated))


def there(number: int, present: bool = True) -> Condition:
    return when(f"finding-{number}", Presence(present))


def covers(space: Space, inner: Rule, *outer: Rule) -> bool:
    box, boxes = space.box(inner), [space.box(each) for each in outer]
    assert box is not None
    return space.uncovered(box, [each for each in boxes if each is not None]) is None


@pytest.mark.parametrize(
    ("high_inside", "low_inside"), [(True, True), (True, False), (False, True)]
)
def test_intervals_that_share_a_limit_meet_only_if_both_take_it_in(
    high_inside: bool, low_inside: bool
) -> None:
    below, above = rule("below", cool(85, high_inside)), rule("above", hot(85, low_inside))
    space = space_of(whole(below, above), (below, above))
    a, b = space.box(below), space.box(above)
    assert a is not None
    assert b is not None
    both = meet(a, b)
    assert (both is not None) is (high_inside and low_inside)
    if both is not None:
        assert space.witness(both) == {"reading-0": 85}


def test_two_open_intervals_leave_out_their_common_limit_and_nothing_else() -> None:
    rules = (rule("any", hot(0)), rule("below", cool(85, False)), rule("above", hot(85, False)))
    space = space_of(whole(*rules), rules)
    box, *others = [space.box(each) or {} for each in rules]
    left = space.uncovered(box, others)
    assert left is not None
    assert space.witness(left) == {"reading-0": 85}


def test_intervals_end_where_the_reading_does() -> None:
    """A made-up reading goes from 0 to 100 °C: at least 0 °C is then simply "measured"."""
    all_of_it, measured = rule("all", hot(0)), rule("measured", cool(200, True))
    assert covers(space_of(whole(all_of_it), (all_of_it, measured)), measured, all_of_it)


def test_not_an_answer_is_still_an_answer() -> None:
    not_a, others = rule("not-a", sign_is("a", negated=True)), rule("others", sign_is("b", "c"))
    silenced = rule("silenced", sign_is("a", number=1), unless=(sign_is("a"),))
    rules = (not_a, others, silenced)
    space = space_of(whole(*rules), rules)
    assert covers(space, not_a, others)
    assert covers(space, others, not_a)
    box = space.box(silenced)
    assert box is not None
    assert space.witness(box) == {"sign-1": "a"}  # unless is silent while nobody looked
    unanswered = {**box, space.place["sign-0"]: 0b0001}
    assert inside(unanswered, box, [subject.full for subject in space.subjects])


def test_several_rules_together_may_cover_what_none_of_them_does() -> None:
    rule_a = rule("all", sign_is("a", "b"), hot(80))
    halves = [rule("first", sign_is("a")), rule("second", sign_is("b"), hot(70))]
    space = space_of(whole(rule_a, *halves), (rule_a, *halves))
    assert covers(space, rule_a, *halves)
    assert not any(covers(space, rule_a, half) for half in halves)


def test_a_contradiction_is_no_box() -> None:
    impossible = rule("impossible", hot(85), cool(80, True))
    assert space_of(whole(impossible), (impossible,)).box(impossible) is None


def test_a_rule_may_contradict_itself_through_two_findings() -> None:
    rules = (
        rule("hot", hot(85), concludes="finding-0"),
        rule("cooked", there(0), concludes="finding-1"),
        rule("never", there(1), cool(80, True)),
        rule("fine", there(1), cool(90, True)),
    )
    chains = Chains(whole(*rules))
    assert chains.facts_for([rules[2]]) is None
    facts = chains.facts_for([rules[3]])
    assert facts is not None
    assert 85 <= cast(float, facts["reading-0"]) <= 90


def test_an_absent_finding_keeps_every_rule_silent_that_concludes_it() -> None:
    rules = (
        rule("one", sign_is("a"), concludes="finding-0"),
        rule("two", sign_is("a", negated=True), concludes="finding-0"),
        rule("nobody-looked", there(0, present=False), sign_is("b", number=1)),
        rule("never", there(0, present=False), sign_is("b")),
    )
    chains = Chains(whole(*rules))
    assert chains.facts_for([rules[2]]) == {"sign-1": "b"}
    assert chains.facts_for([rules[3]]) is None


def test_a_finding_that_a_remedy_establishes_needs_no_rule() -> None:
    waits = rule("waits", there(5))
    assert Chains(whole(waits)).facts_for([waits]) is None
    assert Chains(whole(waits, by_remedy=("finding-5",))).facts_for([waits]) == {
        "finding-5": "present"
    }


def test_there_is_always_a_stage() -> None:
    """Rules for each stage cover a rule that does not ask for one."""
    at = {
        name: Condition(subject="stage", kind="stage", phrase=OneOf((name,)))
        for name in ("simmer", "serve")
    }
    halves = [rule(name, at[name], sign_is("a")) for name in at]
    always = rule("always", sign_is("a"))
    chains = Chains(whole(always, *halves, stages=tuple(at)))
    assert chains.facts_for([always], halves) is None
    assert chains.facts_for([always], halves[:1]) == {"stage": "serve", "sign-0": "a"}


def test_a_search_gives_up_when_its_steps_run_out() -> None:
    rules = [rule(f"r{n}", sign_is("a", number=n), concludes="finding-0") for n in range(4)]
    waits = rule("waits", there(0))
    with pytest.raises(NotDecided):
        Chains(whole(*rules, waits), budget=1).facts_for([waits])
    assert Chains(whole(*rules, waits)).facts_for([waits]) == {"sign-0": "a"}


def test_examples_are_numbers_a_cook_could_read_off() -> None:
    for low, high, plain in ((72, 85, 80), (0.1, 0.2, 0.15), (84.9, 85, 84.95), (-5, 5, 0)):
        assert plain_number_between(low, high) == pytest.approx(plain)
    assert plain_number_between(1.0, 1.0) is None


@pytest.mark.parametrize("seed", range(8))
def test_every_example_from_a_random_book_makes_the_engine_speak(seed: int) -> None:
    dough = random_rulebook(seed)
    dough.__dict__.update(stages=(), remedies=())
    compiled = compile_rules(dough)
    chains = Chains(dough, budget=100_000)
    dice = random.Random(seed)
    spoken = 0
    for each in dough.rules:
        other = dice.choice(dough.rules)
        facts = chains.facts_for([each], [other] if other is not each else [])
        if facts is not None:
            spoke = {spoken.id for spoken in run(compiled, facts).spoke}
            assert each.id in spoke
            assert other.id not in spoke or other is each
            spoken += 1
    assert spoken > len(dough.rules) / 3


def test_every_rule_of_the_shipped_book_can_speak_on_its_example(book: OpenBook) -> None:
    for dough in book.book.doughs:
        audit = Audit(dough)
        ordered = compile_rules(dough).rules
        for each in audit.rules:
            told = audit.speak(each)
            assert isinstance(told, Mapping), each.id
            facts: dict[str, Value] = dict(told)
            assert each in evaluate(ordered, facts).spoke
