"""Live sessions: a changed answer leaves exactly what a fresh run gives, and nothing is kept."""

from __future__ import annotations

import gc
import random
import weakref
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.engine import session as sessions
from diagnose.engine.compiling import compile_rules
from diagnose.engine.net import build
from diagnose.engine.plain import evaluate
from diagnose.engine.session import DeadSession, Session, run
from diagnose.knowledge.phrases import PRESENT, OneOf, Presence, Truth, Value
from rulebooks import (
    disagreements,
    generated_facts,
    generated_rulebook,
    random_facts,
    random_rulebook,
    random_steps,
    rule,
    rulebook,
    when,
)

from experta.activation import Activation  # isort: skip  # only after the repair
from experta.fact import Fact  # isort: skip
from experta.matchers import ReteMatcher  # isort: skip
from experta.rule import Rule as EngineRule  # isort: skip


class OwnNetwork(sessions._Run):
    """Our rules and firing order on experta's own network."""

    __matcher__ = ReteMatcher


@pytest.mark.parametrize("seed", range(100))
def test_after_every_step_a_session_holds_what_a_fresh_run_gives(seed: int) -> None:
    compiled = compile_rules(random_rulebook(seed))
    assert disagreements(compiled, random_steps(random.Random(seed), 30)) == []


@pytest.mark.parametrize("seed", range(25))
def test_the_same_holds_on_the_network_of_experta(seed: int) -> None:
    compiled = compile_rules(random_rulebook(seed, size=20))
    assert disagreements(compiled, random_steps(random.Random(seed), 8), OwnNetwork) == []


def test_several_answers_between_two_settlings_are_taken_together() -> None:
    compiled = compile_rules(random_rulebook(5))
    dice = random.Random(5)
    session = Session(compiled)
    for _ in range(60):
        wanted = random_facts(dice)
        for name in session.told:
            if name not in wanted:
                session.unanswer(name)
        for name, value in wanted.items():
            session.answer(name, value)
        assert session.settle() == evaluate(compiled.rules, wanted)


def test_a_finding_stands_as_long_as_one_rule_supports_it() -> None:
    compiled = compile_rules(
        rulebook(
            rule("one", when("sign-0", OneOf(("a",))), concludes="finding-0"),
            rule("two", when("sign-1", OneOf(("a",))), concludes="finding-0"),
            rule("uses", when("finding-0", Presence(True)), points_to="cause"),
        )
    )
    session = Session(compiled)
    session.answer("sign-0", "a")
    session.answer("sign-1", "a")
    assert [r.id for r in session.settle().spoke] == ["one", "two", "uses"]
    session.answer("sign-0", "b")
    assert session.settle().findings == {"finding-0"}
    session.unanswer("sign-1")
    assert session.settle() == sessions.Outcome((), frozenset())


def test_a_finding_that_was_told_outlives_the_rules_that_conclude_it_too() -> None:
    compiled = compile_rules(
        rulebook(rule("one", when("sign-0", OneOf(("a",))), concludes="finding-0"))
    )
    session = Session(compiled)
    session.answer("sign-0", "a")
    session.settle()
    session.answer("finding-0", PRESENT)
    session.unanswer("sign-0")
    assert session.settle().findings == {"finding-0"}
    session.unanswer("finding-0")
    assert session.settle().findings == frozenset()


def test_an_exception_about_an_absent_finding_needs_the_finding() -> None:
    compiled = compile_rules(
        rulebook(
            rule(
                "rests",
                when("sign-0", OneOf(("a",))),
                unless=(when("finding-0", Presence(False)),),
                points_to="cause",
            )
        )
    )
    assert run(compiled, {"sign-0": "a"}).spoke == ()
    both: dict[str, Value] = {"sign-0": "a", "finding-0": PRESENT}
    assert [r.id for r in run(compiled, both).spoke] == ["rests"]
    assert run(compiled, both) == evaluate(compiled.rules, both)


def test_what_the_book_does_not_know_is_refused() -> None:
    session = Session(compile_rules(random_rulebook(1)))
    with pytest.raises(ValueError, match='nothing called "sing-0"'):
        session.answer("sing-0", "a")
    with pytest.raises(ValueError, match='nothing was told about "sign-0"'):
        session.unanswer("sign-0")
    with pytest.raises(ValueError, match='"reading-0" was told "not a number"'):
        session.answer("reading-0", float("nan"))
    session.answer("sign-0", "a")
    assert session.told == {"sign-0": "a"}


def test_a_session_that_broke_is_dead_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    compiled = compile_rules(rulebook(rule("one", when("sign-0", OneOf(("a",))))))
    session = Session(compiled)
    session.answer("sign-0", "a")

    def breaks(self: Any, place: int) -> None:
        raise ZeroDivisionError

    with monkeypatch.context() as patched:
        patched.setattr(sessions._Run, "speak", breaks)
        with pytest.raises(ZeroDivisionError):
            session.settle()
    for call in (
        session.settle,
        lambda: session.answer("sign-0", "b"),
        lambda: session.unanswer("sign-0"),
    ):
        with pytest.raises(DeadSession, match="Start a new session"):
            call()
    assert [r.id for r in run(compiled, {"sign-0": "a"}).spoke] == ["one"]


def kept() -> Counter[str]:
    """How many objects of ours and of experta are alive."""
    gc.collect()
    found: Counter[str] = Counter()
    for thing in gc.get_objects():
        if isinstance(thing, type):
            if issubclass(thing, Fact):
                found["fact class"] += 1
        elif isinstance(thing, Activation | Fact | EngineRule | sessions._Run | Session):
            found[type(thing).__name__.split("_")[0]] += 1
        elif type(thing).__module__.startswith(("diagnose.engine", "experta")):
            found[type(thing).__name__] += 1
    return found


def test_a_hundred_reloads_leave_nothing_behind() -> None:
    dough = random_rulebook(11)
    steps = random_steps(random.Random(11))

    def reload() -> None:
        assert disagreements(compile_rules(dough), steps) == []

    reload()
    before = kept()
    for _ in range(100):
        reload()
    assert kept() == before


def test_a_session_is_freed_the_moment_it_is_dropped() -> None:
    compiled = compile_rules(random_rulebook(11))
    session = Session(compiled)
    for name, value in random_facts(random.Random(11)).items():
        session.answer(name, value)
    session.settle()
    engine = weakref.ref(session._engine)
    gc.disable()
    try:
        del session
        assert engine() is None
    finally:
        gc.enable()


def test_a_book_that_was_replaced_is_freed_with_its_fact_classes() -> None:
    compiled = compile_rules(random_rulebook(11))
    run(compiled, random_facts(random.Random(11)))
    classes = [weakref.ref(made) for made in compiled.fact_class.values()]
    del compiled
    gc.collect()
    assert [made for made in classes if made() is not None] == []


def test_compiling_twice_gives_the_same_and_changes_nothing_outside() -> None:
    dough = generated_rulebook(60)
    one, two = compile_rules(dough), compile_rules(dough)
    assert one.net == two.net
    assert one.rules == two.rules
    dice = random.Random(1)
    for _ in range(20):
        facts = generated_facts(dice, 60)
        assert run(one, facts) == run(two, facts)


def test_sessions_in_many_threads_share_one_compiled_book() -> None:
    compiled = compile_rules(random_rulebook(7))
    net = compiled.net
    before = hash((net.literals, net.unmet, net.phrases))

    def consult(seed: int) -> list[str]:
        return disagreements(compiled, random_steps(random.Random(seed)))

    with ThreadPoolExecutor(8) as pool:
        assert [found for found in pool.map(consult, range(40)) if found] == []
    assert hash((net.literals, net.unmet, net.phrases)) == before


def test_a_list_of_answers_is_one_test_and_never_multiplies() -> None:
    """Six lists of three are 729 combinations, and still six atoms and one activation."""
    wide = rule("wide", *(when(f"sign-{n}", OneOf(("a", "b", "c"))) for n in range(6)))
    compiled = compile_rules(rulebook(wide))
    assert len(compiled.net.phrases) == 6
    assert compiled.net.literals[0].needs == (0, 1, 2, 3, 4, 5)
    session = Session(compiled)
    for n in range(6):
        session.answer(f"sign-{n}", "abc"[n % 3])
    assert [r.id for r in session.settle().spoke] == ["wide"]
    assert session._engine.fired == {0: 1}
    session.answer("sign-0", "b")
    assert [r.id for r in session.settle().spoke] == ["wide"]
    assert session._engine.fired == {0: 1}


NETS = [build(random_rulebook(seed).rules) for seed in range(12)]
LIMITS = st.integers(-1, 11).map(lambda n: 10.0 * n)


@given(
    st.sampled_from(NETS),
    st.one_of(LIMITS, st.floats(allow_nan=False), st.sampled_from("abcz"), st.just(PRESENT)),
)
def test_a_value_means_what_judging_every_phrase_says(net: Any, value: Value) -> None:
    for subject, atoms in net.of_subject.items():
        held = {atom for atom in atoms if net.phrases[atom].judge(value) is Truth.YES}
        assert set(net.true_atoms(subject, value)) == held
    assert net.true_atoms("unheard-of", value) == ()
