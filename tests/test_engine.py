"""The engine: right firings, whatever the order; the plain evaluator is the second opinion."""

from __future__ import annotations

import collections
import logging
import random
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from diagnose.engine import session
from diagnose.engine.compiling import compile_rules
from diagnose.engine.plain import evaluate
from diagnose.engine.session import run
from diagnose.engine.trace import trace_of
from diagnose.engine.worlds import evaluate_worlds
from diagnose.knowledge.book import Dough
from diagnose.knowledge.phrases import Interval, OneOf, Presence, Value
from diagnose.knowledge.strata import Circular
from rulebooks import random_facts, random_rulebook, rule, rulebook, when

from experta.matchers import ReteMatcher  # isort: skip  # only after the repair
from experta.strategies import DepthStrategy  # isort: skip

ROOT = Path(__file__).parent.parent


def absences(count: int) -> Dough:
    """Each finding follows from the sign; each other rule asks for one finding's absence."""
    makers = [
        rule(f"makes-{n}", when("sign-0", OneOf(("b",))), concludes=f"finding-{n}")
        for n in range(count)
    ]
    askers = [
        rule(
            f"asks-{n}",
            when("sign-0", OneOf(("b",))),
            when(f"finding-{n}", Presence(False)),
            points_to="cause",
        )
        for n in range(count)
    ]
    return rulebook(*makers, *askers)


@pytest.mark.parametrize("count", [3, 6, 10, 40])
def test_a_rule_about_an_absent_finding_never_fires_once_the_finding_is_there(count: int) -> None:
    compiled = compile_rules(absences(count))
    outcome = run(compiled, {"sign-0": "b"})
    assert [r.id for r in outcome.spoke] == [f"makes-{n}" for n in range(count)]


class OwnNetwork(session._Run):
    """Our rules and firing order on experta's own network."""

    __matcher__ = ReteMatcher


def test_the_stock_strategy_fires_rules_whose_conditions_fell_away() -> None:
    """The failing example that the strategy of this project cures (experta issues 3 and 10)."""

    class Depth(DepthStrategy):  # type: ignore[misc]  # experta carries no types
        undone = ()

    class Stock(OwnNetwork):
        __strategy__ = Depth

    spoke = {r.id for r in run(compile_rules(absences(40)), {"sign-0": "b"}, Stock).spoke}
    assert any(name.startswith("asks-") for name in spoke)
    cured = run(compile_rules(absences(40)), {"sign-0": "b"}, OwnNetwork).spoke
    assert not any(r.id.startswith("asks-") for r in cured)


@pytest.mark.parametrize("count", [6, 10, 50])
def test_rules_with_nothing_but_an_absence_stay_silent_when_the_facts_are_there(count: int) -> None:
    rules = [
        rule(f"asks-{n}", when(f"finding-{n}", Presence(False)), points_to="cause")
        for n in range(count)
    ]
    makers = [
        rule(f"makes-{n}", when("sign-0", OneOf(("a",))), concludes=f"finding-{n}")
        for n in range(count)
    ]
    compiled = compile_rules(rulebook(*rules, *makers))
    assert {r.id for r in run(compiled, {"sign-0": "a"}).spoke} == {m.id for m in makers}
    assert {r.id for r in run(compiled, {}).spoke} == {r.id for r in rules}


@pytest.mark.parametrize("seed", range(40))
def test_the_engine_and_the_plain_evaluator_agree_on_random_books(seed: int) -> None:
    compiled = compile_rules(random_rulebook(seed))
    dice = random.Random(seed)
    for _ in range(6):
        facts = random_facts(dice)
        expected = evaluate(compiled.rules, facts)
        assert run(compiled, facts) == expected
        assert run(compiled, facts, OwnNetwork) == expected


@pytest.mark.parametrize("seed", range(40))
def test_hypothetical_worlds_agree_with_the_engine_on_random_books(seed: int) -> None:
    compiled = compile_rules(random_rulebook(seed))
    dice = random.Random(seed)
    present = random_facts(dice)
    changes: list[dict[str, Value | None]] = []
    for _ in range(12):
        other = random_facts(dice)
        names = dice.sample(sorted({*present, *other}), 2)
        changes.append({name: other.get(name) for name in names})
    spoken = evaluate_worlds(compiled.net, present, changes)
    for world, change in enumerate([{}, *changes]):
        facts = {n: v for n, v in {**present, **change}.items() if v is not None}
        outcome = run(compiled, facts)
        speaking = [r for r, b in zip(compiled.rules, spoken.rules, strict=True) if b >> world & 1]
        assert tuple(speaking) == outcome.spoke
        assert spoken.findings_in(world) == outcome.findings


def test_findings_chain_three_deep_and_the_trace_names_every_link() -> None:
    chain = rulebook(
        rule("last", when("finding-2", Presence(True)), points_to="cause"),
        rule("third", when("finding-1", Presence(True)), concludes="finding-2"),
        rule("second", when("finding-0", Presence(True)), concludes="finding-1"),
        rule("first", when("sign-0", OneOf(("a",))), concludes="finding-0"),
    )
    compiled = compile_rules(chain)
    outcome = run(compiled, {"sign-0": "a"})
    assert [r.id for r in outcome.spoke] == ["first", "second", "third", "last"]
    traces = trace_of(compiled.rules, {"sign-0": "a"}, outcome)
    assert {t.status for t in traces} == {"spoke"}


def test_not_looked_is_never_no() -> None:
    compiled = compile_rules(
        rulebook(
            rule("different", when("sign-0", OneOf(("a",), negated=True)), points_to="cause"),
            rule("cool", when("reading-0", Interval(None, 85, False, False, "below 85 °C"))),
        )
    )
    assert run(compiled, {}).spoke == ()
    assert [r.id for r in run(compiled, {"sign-0": "b"}).spoke] == ["different"]
    assert [r.id for r in run(compiled, {"reading-0": 84.9}).spoke] == ["cool"]
    assert run(compiled, {"reading-0": 85.0}).spoke == ()


def test_an_exception_stops_a_rule_only_when_it_is_known() -> None:
    compiled = compile_rules(
        rulebook(
            rule(
                "wet",
                when("sign-0", OneOf(("a",))),
                unless=(when("sign-1", OneOf(("b",))),),
                points_to="cause",
            )
        )
    )
    open_ = trace_of(compiled.rules, {"sign-0": "a"}, run(compiled, {"sign-0": "a"}))[0]
    assert open_.status == "spoke"
    assert [j.condition.subject for j in open_.would_be_stopped_by] == ["sign-1"]
    both = {"sign-0": "a", "sign-1": "b"}
    assert trace_of(compiled.rules, both, run(compiled, both))[0].status == "stopped"


def test_the_trace_tells_unmet_from_unknown() -> None:
    compiled = compile_rules(
        rulebook(
            rule(
                "both",
                when("sign-0", OneOf(("a",))),
                when("sign-1", OneOf(("a",))),
                points_to="cause",
            )
        )
    )
    one = {"sign-0": "a"}
    trace = trace_of(compiled.rules, one, run(compiled, one))[0]
    assert trace.status == "unknown"
    assert [j.condition.subject for j in trace.missing] == ["sign-1"]
    other = {"sign-0": "a", "sign-1": "c"}
    assert trace_of(compiled.rules, other, run(compiled, other))[0].status == "unmet"


def test_rules_that_wait_for_one_another_are_refused() -> None:
    circle = rulebook(
        rule("hen", when("finding-0", Presence(True)), concludes="finding-1"),
        rule("egg", when("finding-1", Presence(False)), concludes="finding-0"),
    )
    with pytest.raises(Circular, match="egg, hen"):
        compile_rules(circle)


def test_sessions_in_many_threads_do_not_disturb_one_another() -> None:
    from concurrent.futures import ThreadPoolExecutor

    compiled = compile_rules(random_rulebook(7))
    dice = random.Random(7)
    situations = [random_facts(dice) for _ in range(40)]
    with ThreadPoolExecutor(4) as pool:
        outcomes = list(pool.map(lambda facts: run(compiled, facts), situations))
    assert outcomes == [evaluate(compiled.rules, facts) for facts in situations]


def test_loading_the_engine_leaves_no_trace_in_the_process() -> None:
    assert not hasattr(collections, "Mapping")
    assert logging.getLogger("experta").level == logging.WARNING
    script = (
        "import logging; import diagnose.engine.session; import collections;"
        "assert logging.getLogger().handlers == [], logging.getLogger().handlers;"
        "assert not hasattr(collections, 'Mapping')"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script], cwd=ROOT, capture_output=True, text=True
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_an_engine_that_loaded_empty_is_named_in_a_sentence(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import experta

    from diagnose.engine import repair

    monkeypatch.delattr(experta, "KnowledgeEngine")
    with pytest.raises(repair.EngineUnavailable, match="without KnowledgeEngine"):
        repair.load_experta()


def test_a_run_is_silent(caplog: pytest.LogCaptureFixture, capsys: Any) -> None:
    compiled = compile_rules(random_rulebook(3))
    run(compiled, random_facts(random.Random(3)))
    assert caplog.records == []
    assert capsys.readouterr() == ("", "")
