"""Which page comes next."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from casebook.consultations import JSON, Consultation, Entry
from diagnose.knowledge.book import Kind
from diagnose.knowledge.diagnosis import (
    Diagnosis,
    PlanStep,
    Question,
    SituationWord,
    StartOver,
)
from web.steps import Step, just_worked, next_step, settled_first

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
STAGE = ("stage", "stage", "cook-paste")
COMPLAINT = ("complaint", "cook-paste", {"id": "slumps", "told": []})
WORKED = (
    "tried",
    "cook-on-hotter#1",
    {"remedy": "cook-on-hotter", "result": "worked", "added_g": None},
)


def told(*entries: tuple[str, str, JSON]) -> Consultation:
    numbered = tuple(Entry(n, k, name, v, NOON) for n, (k, name, v) in enumerate(entries, 1))
    return Consultation("-" * 22, "milk-panade-slab", NOON, numbered)


def plan(kind: Kind, remedy: str = "cook-on-hotter") -> PlanStep:
    return PlanStep(
        remedy=remedy, kind=kind, first="", do=(), amounts=(), minutes=3, minutes_say="",
        look_for="", give_up_when="", cautions=(), label="", source="",
    )  # fmt: skip


def diagnosis(situation: SituationWord, *steps: PlanStep, question: str | None = None) -> Diagnosis:
    asked = question and Question(id=question, ask="", how=None, answers=(), unit=None, why="")
    return Diagnosis(
        book="b", situation=situation, causes=(), meanwhile="", question=asked or None, plan=steps,
        held_back=(), start_over=StartOver(minutes=1, needs=(), better_than_rescue=False, say=""),
        cautions=(), because=(), one_fact_short=(), computed=(), assumed=(),
    )  # fmt: skip


def test_the_stage_comes_first_then_the_complaint_then_what_follows() -> None:
    assert settled_first(told()) == Step("stage")
    assert settled_first(told(STAGE)) == Step("complaint")
    assert settled_first(told(STAGE, COMPLAINT)) is None


def test_a_complaint_of_another_stage_is_not_this_ones() -> None:
    assert settled_first(told(STAGE, COMPLAINT, ("stage", "stage", "temper"))) == Step("complaint")


def test_a_new_look_asks_for_the_complaint_again() -> None:
    again = told(STAGE, COMPLAINT, ("look-again", "cook-paste", None))
    assert settled_first(again) == Step("complaint")


@pytest.mark.parametrize(
    ("answer", "page"),
    [
        (diagnosis("needs-an-answer", question="bubbling"), Step("ask", "bubbling")),
        (diagnosis("needs-a-remedy", plan("heat")), Step("remedy", "cook-on-hotter")),
        (diagnosis("ok-to-carry-on", plan("none", "carry-on")), Step("done")),
        (diagnosis("needs-a-remedy", plan("none", "carry-on")), Step("done")),
        (diagnosis("start-over", plan("restart", "start-over")), Step("over")),
        (diagnosis("needs-a-remedy"), Step("over")),
        (diagnosis("discard", plan("discard", "throw-away")), Step("remedy", "throw-away")),
    ],
)
def test_each_kind_of_answer_has_its_page(answer: Diagnosis, page: Step) -> None:
    assert next_step(told(STAGE, COMPLAINT), answer) == page


def test_it_worked_leads_to_carry_on_whatever_the_chances_say() -> None:
    consultation = told(STAGE, COMPLAINT, WORKED)
    assert next_step(consultation, diagnosis("needs-a-remedy", plan("heat"))) == Step("done")


def test_food_is_thrown_away_even_if_a_remedy_worked() -> None:
    discard = diagnosis("discard", plan("discard", "throw-away"))
    assert next_step(told(STAGE, COMPLAINT, WORKED), discard) == Step("remedy", "throw-away")


def test_an_answer_after_it_worked_is_a_new_turn() -> None:
    assert just_worked(told(STAGE, WORKED))
    assert not just_worked(told(STAGE, WORKED, ("sign", "paste-body", "slumps")))
