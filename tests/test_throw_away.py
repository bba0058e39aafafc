"""Food that must not be eaten: nothing else that a cook says can outvote it.

The limits are published: 2 hours at room temperature (USDA, from memory), cooling from 57 to 21 °C
in 2 hours and to 5 °C in 6 hours in all (FDA Food Code 3-501.14), no cracked or doubtful egg, no
milk that has turned; a toxin of Bacillus cereus outlasts 2 hours at 100 °C (Wang and others), so
that no heat of the kitchen makes such a slab safe. The local food code comes first.

The histories are taken from the book: everything that makes a finding that calls for throwing away
present. A few are written out here as well, so that the book cannot lose them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from diagnose.consulting import OpenBook, open_book
from diagnose.engine.plain import evaluate
from diagnose.knowledge.book import Condition, Reading, Rule, Sign
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.facts import facts_of
from diagnose.knowledge.phrases import PRESENT, OneOf, Truth, Value
from diagnose.knowledge.situation import Situation
from diagnose.knowledge.situations import INGREDIENTS, RESULTS, read_situation

BOOK: OpenBook = open_book()
DOUGH = BOOK.book.doughs[0]
STAGES = tuple(stage.id for stage in DOUGH.stages)
SIGNS = {sign.id: sign for sign in DOUGH.signs}
READINGS = {reading.id: reading for reading in DOUGH.readings}
RULES = tuple(rule for rule in DOUGH.rules if rule.standing != "retired")
GATES = {finding.id: finding.calls_for for finding in DOUGH.findings if finding.calls_for}


@dataclass(frozen=True)
class History:
    """What a cook told that makes the batch unsafe, at one stage."""

    finding: str
    stage: str
    signs: Mapping[str, str]
    readings: Mapping[str, float]
    untrue: tuple[Condition, ...] = ()
    """Exceptions: answers that would make it another history."""

    def __str__(self) -> str:
        told = ", ".join(f"{k}: {v}" for k, v in {**self.signs, **self.readings}.items())
        return f"{self.stage}: {told}"


@dataclass(frozen=True)
class Way:
    """One way to make a finding present: facts to tell, and the rules that take part."""

    told: dict[str, Value]
    rules: tuple[Rule, ...]


def ways_to(finding: str, seen: frozenset[str] = frozenset()) -> Iterator[Way]:
    """Everything that makes a finding present, down to what a cook can be asked."""
    for rule in RULES:
        if rule.concludes != finding or finding in seen:
            continue
        for case in rule.cases:
            if case.speaks:
                yield from _unfolded(Way(dict(case.told), (rule,)), seen | {finding})


def _unfolded(way: Way, seen: frozenset[str]) -> Iterator[Way]:
    """The findings that a case tells, replaced by what makes them present."""
    inner = next((name for name, value in way.told.items() if value == PRESENT), None)
    if inner is None:
        yield way
        return
    rest = {name: value for name, value in way.told.items() if name != inner}
    for deeper in ways_to(inner, seen):
        agree = all(rest.get(name, value) == value for name, value in deeper.told.items())
        if agree or set(rest) & set(deeper.told) == {"stage"}:
            yield from _unfolded(Way({**deeper.told, **rest}, (*way.rules, *deeper.rules)), seen)


def histories() -> Iterator[History]:
    for finding in GATES:
        for way in ways_to(finding):
            for stage in STAGES:
                found = _history(finding, stage, way)
                if found is not None and finding in findings_of(_told(found)):
                    yield found


def _history(finding: str, stage: str, way: Way) -> History | None:
    told = {name: value for name, value in way.told.items() if name != "stage"}
    if not all(name in SIGNS or name in READINGS for name in told):
        return None  # rests on a sum of the kitchen: told by another way or not at all
    return History(
        finding,
        stage,
        {name: str(value) for name, value in told.items() if name in SIGNS},
        {name: float(value) for name, value in told.items() if name in READINGS},
        tuple(condition for rule in way.rules for condition in rule.unless),
    )


def _told(history: History) -> dict[str, Any]:
    return {
        "dough": DOUGH.id,
        "stage": history.stage,
        "signs": dict(history.signs),
        "readings": {n: _measured(READINGS[n], v) for n, v in history.readings.items()},
    }


def _measured(reading: Reading, value: float) -> dict[str, Any]:
    return {"value": value, "unit": reading.unit}


def read(told: dict[str, Any]) -> Situation | None:
    return read_situation(told, BOOK.book)[0]


def findings_of(told: dict[str, Any]) -> frozenset[str]:
    """The findings of a situation by plain evaluation, without the engine that is tested."""
    situation = read(told)
    if situation is None:
        return frozenset()
    return evaluate(BOOK.ready(DOUGH.id).rules.rules, facts_of(situation, DOUGH)).findings


LITERAL = (
    *(History("", stage, {"left-out": "over-2-hours"}, {}) for stage in STAGES),
    *(
        History("", stage, {"milk-looks": looks}, {})
        # At the scale nothing is lost yet but the milk: fresh milk is taken.
        for stage in ("simmer", "add-flour")
        for looks in ("curdled", "sour-smell")
    ),
    *(
        History("", stage, {"egg-state": state, **extra}, {})
        for stage, extra in (("temper", {"yolk-in": "in"}), ("enrich", {}), ("shape", {}))
        for state in ("cracked", "doubtful")
    ),
)
"""Written out: 2 hours out at any step; milk that has turned; an unsound egg that is mixed in."""
FROM_THE_BOOK = tuple({str(history): history for history in histories()}.values())


@st.composite
def further(draw: st.DrawFn, stage: str) -> dict[str, Any]:
    """Valid answers, readings, tried remedies, kitchen and batch, with nothing told twice."""
    askable: list[Sign | Reading] = [*SIGNS.values(), *READINGS.values()]
    chosen = draw(st.lists(st.sampled_from(askable), max_size=14, unique_by=lambda q: q.id))
    signs: dict[str, str] = {}
    readings: dict[str, Any] = {}
    not_looked: list[str] = []
    for question in chosen:
        if question.given_by is not None:
            continue  # the form below tells these
        if draw(st.integers(0, 4)) == 0:
            not_looked.append(question.id)
        elif isinstance(question, Sign):
            signs[question.id] = draw(st.sampled_from(question.answers)).id
        else:
            low, high = question.likely
            value = draw(st.floats(low, high).map(lambda v: round(v, 1)))
            readings[question.id] = _measured(question, value)
    tried = draw(
        st.lists(
            st.fixed_dictionaries(
                {
                    "remedy": st.sampled_from([remedy.id for remedy in DOUGH.remedies]),
                    "result": st.sampled_from(RESULTS),
                }
            ),
            max_size=4,
        )
    )
    return {
        "dough": DOUGH.id,
        "stage": stage,
        "kitchen": draw(st.sampled_from([{}, *({"elevation_m": m} for m in (6, 640, 2310))])),
        "batch": draw(
            st.fixed_dictionaries(
                {},
                optional={
                    "milk_g": st.sampled_from([250, 500, 1500]),
                    "flour_measured": st.sampled_from(["weighed", "dipped", "sifted-first"]),
                    "yolks": st.integers(0, 4),
                    "serve_in_min": st.integers(0, 400),
                },
            )
        ),
        "signs": signs,
        "readings": readings,
        "tried": tried,
        "missing": draw(st.lists(st.sampled_from(INGREDIENTS), unique=True, max_size=3)),
        "not_looked": not_looked,
    }


def together(history: History, other: dict[str, Any]) -> dict[str, Any]:
    """The history with anything else a cook might say that does not take it back."""
    own = {**history.signs, **history.readings}
    told = dict(other)
    told["signs"] = {**_kept(other["signs"], history), **history.signs}
    readings = _told(history)["readings"]
    told["readings"] = {**_kept(other["readings"], history), **readings}
    told["not_looked"] = [name for name in other["not_looked"] if name not in own]
    return told


def _kept(told: Mapping[str, Any], history: History) -> dict[str, Any]:
    def untrue(name: str, value: Any) -> bool:
        plain = value["value"] if isinstance(value, dict) else value
        return any(
            condition.subject == name and condition.phrase.judge(plain) is Truth.YES
            for condition in history.untrue
        )

    return {name: value for name, value in told.items() if not untrue(name, value)}


def denied(history: History, told: dict[str, Any]) -> bool:
    """Whether other answers lead to a finding that is an exception of the history."""
    exceptions = {c.subject for c in history.untrue if c.kind == "finding"}
    return bool(exceptions) and bool(exceptions & findings_of(told))


def answer(told: dict[str, Any]) -> Diagnosis:
    situation, problems = read_situation(told, BOOK.book)
    assert situation is not None, [str(problem) for problem in problems]
    return BOOK.diagnose(situation)


def sensible(told: dict[str, Any]) -> dict[str, Any]:
    """The same, unless two things told contradict each other, like the pan and the batch."""
    assume(read(told) is not None)
    return told


def assert_thrown_away(found: Diagnosis) -> None:
    assert found.situation == "discard"
    assert [step.remedy for step in found.plan] == ["throw-away"]
    assert found.plan[0].kind == "discard"
    assert found.question is None


def test_every_finding_that_calls_for_throwing_away_can_be_told_by_a_cook() -> None:
    assert set(GATES.values()) == {"throw-away"}
    assert {history.finding for history in FROM_THE_BOOK} == set(GATES)


@pytest.mark.parametrize("history", [*LITERAL, *FROM_THE_BOOK], ids=str)
def test_an_unsafe_history_alone_is_thrown_away(history: History) -> None:
    assert_thrown_away(answer(_told(history)))


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_an_unsafe_history_is_thrown_away_whatever_else_is_answered(data: st.DataObject) -> None:
    history = data.draw(st.sampled_from((*LITERAL, *FROM_THE_BOOK)), label="history")
    told = together(history, data.draw(further(history.stage), label="further"))
    if not history.finding and "egg-state" in history.signs:
        # The egg is in the dough by then; an answer that denies it would be another history.
        told["signs"] = {
            name: said
            for name, said in told["signs"].items()
            if name in history.signs or name not in ("yolk-in", "egg-used")
        }
    assume(not denied(history, told))
    assert_thrown_away(answer(sensible(told)))


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_two_unsafe_histories_are_no_safer_than_one(data: st.DataObject) -> None:
    first = data.draw(st.sampled_from(FROM_THE_BOOK))
    alike = [h for h in FROM_THE_BOOK if h.stage == first.stage]
    second = data.draw(st.sampled_from(alike))
    assert_thrown_away(answer(sensible(together(first, _told(second) | {"not_looked": []}))))


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_without_an_unsafe_history_nothing_is_thrown_away(data: st.DataObject) -> None:
    """Whatever random answers come out as: thrown away exactly if a rule found it unsafe."""
    told = sensible(data.draw(further(data.draw(st.sampled_from(STAGES)))))
    found = answer(told)
    unsafe = findings_of(told) & set(GATES)
    assert (found.situation == "discard") is bool(unsafe)
    assert ("throw-away" in [step.remedy for step in found.plan]) is bool(unsafe)


TAKING_PART = tuple(rule for finding in GATES for way in ways_to(finding) for rule in way.rules)
"""The rules of every way to an unsafe history."""
MEASURED = {c.subject for rule in TAKING_PART for c in rule.when if c.kind == "reading"}


def _bad_answers() -> set[tuple[str, str]]:
    """Every answer that takes part in any way to an unsafe history."""
    return {
        (condition.subject, word)
        for rule in TAKING_PART
        for condition in rule.when
        if isinstance(condition.phrase, OneOf) and condition.subject in SIGNS
        for word in (a.id for a in SIGNS[condition.subject].answers)
        if condition.phrase.judge(word) is Truth.YES
    }


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_a_cook_who_answers_well_what_could_be_unsafe_is_never_told_to_throw_it_away(
    data: st.DataObject,
) -> None:
    """Answers that an unsafe history needs are left out; looks and failures are as bad as can be.

    A rule that needs no answer at all could not be left out so: the book must have none.
    """
    bad = _bad_answers()
    told = data.draw(further(data.draw(st.sampled_from(STAGES))))
    told["signs"] = {n: a for n, a in told["signs"].items() if (n, a) not in bad}
    told["readings"] = {n: v for n, v in told["readings"].items() if n not in MEASURED}
    found = answer(sensible(told))
    assert found.situation != "discard"
    assert all(step.kind != "discard" for step in found.plan)


def test_not_having_looked_is_no_unsafe_history() -> None:
    """Nobody who was never asked, or did not look, loses a batch."""
    for stage in STAGES:
        told = {"dough": DOUGH.id, "stage": stage, "not_looked": [*SIGNS, *READINGS]}
        assert answer(told).situation != "discard"
