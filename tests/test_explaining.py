"""Why, why not and what would change it: sentences that hold nothing the trace does not."""

from __future__ import annotations

import pytest

from diagnose.consulting import open_book
from diagnose.deciding import infer
from diagnose.engine.trace import RuleTrace, trace_of
from diagnose.explaining import because, holds_because_says, turn_says
from diagnose.knowledge.book import Rule
from diagnose.knowledge.diagnosis import Because
from diagnose.knowledge.phrases import Truth
from diagnose.knowledge.situation import Situation
from diagnose.objecting import MOST_REASONS, WhyNot, why_not
from diagnose.reasoning.belief import chances_of
from diagnose.reasoning.known import Known
from diagnose.reasoning.options import HARM_HELD_BACK
from diagnose.reasoning.posterior import weight_of
from diagnose.reasoning.turning import Turn

BOOK = open_book()
DOUGH = BOOK.book.doughs[0]
READY = BOOK.ready(DOUGH.id)
RULES: dict[str, Rule] = {rule.id: rule for rule in DOUGH.rules}
REMEDIES = {remedy.id: remedy for remedy in DOUGH.remedies}

COOL = Situation.model_validate(
    {
        "dough": DOUGH.id,
        "stage": "cook-paste",
        "batch": {"milk_g": 500, "flour_g": 100},
        "signs": {"paste-body": "slumps", "bubbling": "none"},
        "readings": {"paste-temperature": 78},
    }
)


def known_and_traces(situation: Situation) -> tuple[Known, tuple[RuleTrace, ...]]:
    case = infer(READY, situation)
    return case.known, trace_of(READY.rules.rules, case.facts, case.outcome)


def asked_why_not(name: str, situation: Situation = COOL) -> WhyNot:
    known, traces = known_and_traces(situation)
    plan = [step.remedy for step in BOOK.diagnose(situation).plan]
    return why_not(name, READY.speaker, known, traces, plan, lambda i: REMEDIES[i].first)


def kinds(found: WhyNot) -> list[str]:
    return [reason.kind for reason in found.reasons]


def tried(*remedies: tuple[str, str]) -> Situation:
    attempts = [{"remedy": name, "result": result} for name, result in remedies]
    return Situation.model_validate(COOL.model_dump() | {"tried": attempts})


EVERYTHING = [*(cause.id for cause in DOUGH.causes), *REMEDIES]


@pytest.mark.parametrize("stage", [stage.id for stage in DOUGH.stages])
def test_every_cause_and_remedy_has_a_reason_at_every_stage(stage: str) -> None:
    complaint = next(s for s in DOUGH.stages if s.id == stage).complaints[0]
    situation = Situation(dough=DOUGH.id, stage=stage, signs=dict(complaint.told))
    known, traces = known_and_traces(situation)
    plan = [step.remedy for step in BOOK.diagnose(situation).plan]
    for name in EVERYTHING:
        found = why_not(name, READY.speaker, known, traces, plan, lambda i: REMEDIES[i].first)
        assert found.reasons
        assert all(reason.say.strip() for reason in found.reasons)


def test_a_name_that_is_neither_is_refused() -> None:
    with pytest.raises(ValueError, match="neither a cause nor a remedy"):
        asked_why_not("no-such-thing")


def test_a_cause_that_cannot_show_here_says_where_it_shows() -> None:
    cause = next(c for c in DOUGH.causes if COOL.stage not in c.shows_at)
    (reason,) = asked_why_not(cause.id).reasons
    assert reason.kind == "stage"
    assert "Cook the paste" in reason.say


def test_what_speaks_against_a_cause_is_told_back_with_its_rule() -> None:
    found = asked_why_not("scorched")
    against = [reason for reason in found.reasons if reason.kind == "against"]
    assert against
    told = {"paste-body/scorched": "It drops off and slumps flat"}
    assert any(told[r.rule] in r.say for r in against if r.rule in told)


def test_a_silent_rule_names_the_condition_that_was_not_met_and_what_was_told_instead() -> None:
    _, traces = known_and_traces(COOL)
    by_rule = {trace.rule.id: trace for trace in traces}
    seen = 0
    for cause in DOUGH.causes:
        for reason in asked_why_not(cause.id).reasons:
            if reason.kind == "silent" and reason.rule in by_rule:
                trace = by_rule[reason.rule]
                assert trace.status in ("unmet", "stopped")
                assert trace.rule.points_to == cause.id
                for judged in trace.when:
                    if judged.truth is Truth.NO and judged.condition.kind == "sign":
                        seen += 1
                        assert READY.speaker.judged(judged) in reason.say
                        assert READY.speaker.wanted(judged.condition) in reason.say
    assert seen


def test_what_nobody_looked_at_is_never_given_as_told() -> None:
    _, traces = known_and_traces(COOL)
    status = {trace.rule.id: trace.status for trace in traces}
    seen = 0
    for cause in DOUGH.causes:
        for reason in asked_why_not(cause.id).reasons:
            if reason.kind == "not looked":
                seen += 1
                assert status[str(reason.rule)] == "unknown"
                assert "you told" not in reason.say
                assert "nobody has looked" in reason.say
    assert seen


def test_the_top_cause_says_so_and_so_does_the_first_remedy() -> None:
    found = BOOK.diagnose(COOL)
    assert kinds(asked_why_not(found.causes[0].id))[0] == "first"
    assert kinds(asked_why_not(found.plan[0].remedy)) == ["first"]


def test_flour_waits_behind_its_gates_and_the_harm_it_could_do() -> None:
    found = asked_why_not("add-flour-by-the-spoon")
    assert {"gate", "harm"} <= set(kinds(found))
    known, _ = known_and_traces(COOL)
    chances = chances_of(known.scores)
    risky = [n for n, _ in REMEDIES[found.id].harm_under if chances.get(n, 0) >= HARM_HELD_BACK]
    assert kinds(found).count("harm") == len(risky)
    gates = [reason for reason in found.reasons if reason.kind == "gate"]
    concluded = {RULES[r.rule].concludes for r in gates if r.rule is not None}
    assert concluded <= set(REMEDIES[found.id].only_after)
    assert all(r.rule is None or RULES[r.rule].id == r.rule for r in gates)
    assert len(gates) <= MOST_REASONS * len(REMEDIES[found.id].only_after)


def test_what_was_tried_is_told_back() -> None:
    situation = tried(("cook-on-hotter", "worse"))
    (reason,) = [r for r in asked_why_not("cook-on-hotter", situation).reasons if r.kind == "tried"]
    assert "it got worse" in reason.say
    cause = asked_why_not("undercooked-paste", situation)
    assert "tried" in kinds(cause)


def test_a_remedy_of_another_stage_says_where_it_is_done() -> None:
    other = next(r for r in DOUGH.remedies if COOL.stage not in r.stages and r.kind == "technique")
    assert kinds(asked_why_not(other.id))[0] == "stage"


def test_a_remedy_that_needs_what_there_is_none_of_says_so_and_nothing_untrue() -> None:
    empty = COOL.model_copy(update={"missing": frozenset({"milk", "butter"})})
    reasons = asked_why_not("beat-in-warm-milk", empty).reasons
    assert "You have none left of this: milk." in [r.say for r in reasons if r.kind == "larder"]
    assert not any("helps against no cause" in reason.say for reason in reasons)
    assert "larder" not in kinds(asked_why_not("beat-in-warm-milk"))


def test_an_unsafe_history_is_the_only_reason_there_is() -> None:
    unsafe = COOL.model_copy(update={"signs": {**COOL.signs, "left-out": "over-2-hours"}})
    assert kinds(asked_why_not("cook-on-hotter", unsafe)) == ["unsafe"]
    assert kinds(asked_why_not("throw-away", unsafe)) == ["first"]
    assert kinds(asked_why_not("throw-away")) == ["gate"]


def listed(top: str | None) -> tuple[Because, ...]:
    known, traces = known_and_traces(COOL)
    names = set(known.before.names)
    return because(READY.speaker, traces, READY.tables, known.facts, names, top)


def test_the_reasons_for_the_top_cause_come_first_and_the_weightiest_of_them_before_all() -> None:
    top = BOOK.diagnose(COOL).causes[0].id
    found = listed(top)
    about_top = [b.for_ == top for b in found]
    assert about_top == sorted(about_top, reverse=True)
    known, _ = known_and_traces(COOL)
    weights = []
    for entry in found[: sum(about_top)]:
        if entry.standing == "table":
            table = known.tables[entry.rule.split("/")[0]]
            answer = table.asked.answer_for(known.facts[table.asked.id])
            assert answer is not None
            weights.append(abs(table.shift(top, answer)))
        else:
            weights.append(abs(weight_of(RULES[entry.rule])))
    assert len(weights) >= 3
    assert weights == sorted(weights, reverse=True)


def test_ordering_by_weight_loses_and_adds_nothing() -> None:
    plain, ordered = listed(None), listed(BOOK.diagnose(COOL).causes[0].id)
    assert sorted(b.rule for b in plain) == sorted(b.rule for b in ordered)
    rest = [b for b in plain if b.for_ != BOOK.diagnose(COOL).causes[0].id]
    assert [b for b in ordered if b in rest] == rest


def test_a_turning_point_is_told_in_the_cooks_own_words() -> None:
    turn = Turn((("bubbling", "lazy"), ("held-hot", "yes")), "cook-off-water")
    said = turn_says(READY.speaker, turn, "Drive off water")
    bubbling = next(s for s in DOUGH.signs if s.id == "bubbling")
    assert bubbling.ask in said
    assert next(a.say for a in bubbling.answers if a.id == "lazy") in said
    assert said.endswith("I would first: Drive off water")


def test_every_answer_of_every_question_can_be_said() -> None:
    for table in READY.tables.values():
        for answer in table.asked.answers:
            assert READY.speaker.choice(table.asked.id, answer)


def test_what_a_remedy_rests_on_is_told_back_and_nothing_is_said_of_nothing() -> None:
    known, _ = known_and_traces(COOL)
    said = holds_because_says(READY.speaker, ("paste-temperature",), known.facts)
    assert "78 °C" in said
    assert "without that" in said.lower()
    assert holds_because_says(READY.speaker, (), known.facts) == ""
