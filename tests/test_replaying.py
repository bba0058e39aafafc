"""A changed book put to cases of the past: exactly what diagnosing every case twice would say."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest
from rulechanges import changed_rules, with_dough, with_rules, without

from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Dough, Rule, Source
from diagnose.knowledge.phrases import OneOf
from diagnose.knowledge.situation import Situation
from diagnose.knowledge.teaching import read_teaching_cases
from diagnose.learning.cases import ConfirmedCase, answers_of
from diagnose.learning.recalibrating import learn
from diagnose.replaying import (
    Difference,
    Past,
    PastCase,
    Said,
    from_confirmed,
    from_teaching,
    from_whole,
    naive_replay,
    replay,
)
from rulebooks import when


@pytest.fixture(scope="module")
def dough(book: OpenBook) -> Dough:
    return book.book.doughs[0]


@pytest.fixture(scope="module")
def cases(book: OpenBook, dough: Dough) -> list[PastCase]:
    taught = [from_teaching(case) for case in read_teaching_cases(book.book)[0]]
    return taught + [from_whole(dough, case) for case in dough.whole_cases]


def new_rule(*conditions: tuple[str, str], cause: str, **more: object) -> Rule:
    made = Rule(
        id="made-up-rule",
        says="made up",
        when=tuple(when(sign, OneOf((answer,))) for sign, answer in conditions),
        points_to=cause,
        strength="strong",
        why="made up",
        source=Source(see="common-practice"),
        standing="tried",
        cases=(),
    )
    return made.model_copy(update=more)


def spread(cases: Sequence[PastCase], dice: random.Random, count: int) -> list[PastCase]:
    """Some cases, some of them with fewer things told, so that more may still be asked."""
    made = []
    for case in dice.sample(list(cases), count):
        told = case.situation
        if dice.random() < 0.6:
            keep = {name: a for name, a in told.signs.items() if dice.random() < 0.5}
            told = told.model_copy(update={"signs": keep})
        made.append(PastCase(case.id, case.kind, case.title, told, case.causes, case.remedies))
    return made


@pytest.mark.parametrize("seed", range(12))
def test_a_replay_finds_exactly_what_diagnosing_every_case_twice_finds(
    seed: int, book: OpenBook, dough: Dough, cases: list[PastCase]
) -> None:
    dice = random.Random(seed)
    after = with_rules(book, changed_rules(dough, dice))
    some = spread(cases, dice, 50)
    found = replay(book, after, some)
    assert list(found.differences) == naive_replay(book, after, some)
    assert found.unchanged == len(some) - len(found.differences)
    for name, ids in found.spoke.items():
        speaking = {
            case.id
            for case in some
            if any(t.rule.id == name and t.status == "spoke" for t in after.trace(case.situation))
        }
        assert set(ids) == speaking


def test_what_is_said_before_is_worked_out_once_and_serves_every_change(
    book: OpenBook, dough: Dough, cases: list[PastCase]
) -> None:
    past = Past(book, cases[:80])
    for seed in range(100, 104):
        after = with_rules(book, changed_rules(dough, random.Random(seed)))
        assert list(past.replay(after).differences) == naive_replay(book, after, past.cases)


def test_a_change_of_a_cause_is_put_to_every_case(
    book: OpenBook, dough: Dough, cases: list[PastCase]
) -> None:
    causes = (dough.causes[0].model_copy(update={"how_common": "rare"}), *dough.causes[1:])
    after = with_dough(book, dough.model_copy(update={"causes": causes}))
    found = replay(book, after, cases[:60])
    assert found.looked_at == 60
    assert list(found.differences) == naive_replay(book, after, cases[:60])


def test_a_rule_that_moved_in_its_file_is_not_a_change(
    book: OpenBook, dough: Dough, cases: list[PastCase]
) -> None:
    rules = [rule.model_copy(update={"line": rule.line + 7}) for rule in dough.rules]
    found = replay(book, with_rules(book, rules), cases)
    assert found.looked_at == 0
    assert found.differences == ()


def test_a_case_that_told_otherwise_is_not_diagnosed_anew(book: OpenBook, dough: Dough) -> None:
    rule = new_rule(("paste-body", "pours"), cause=dough.causes[0].id)
    after = with_rules(book, (*dough.rules, rule))

    def told(answer: str) -> PastCase:
        seen = {"paste-body": answer}
        situation = Situation(dough=dough.id, stage="cook-paste", signs=seen)
        return PastCase(answer, "confirmed case", answer, situation, (dough.causes[0].id,))

    found = replay(book, after, [told("slumps"), told("pours")])
    assert found.looked_at == 1
    assert found.spoke == {"made-up-rule": ("pours",)}


def test_what_a_book_learned_from_a_case_is_left_out_when_that_case_is_judged(
    book: OpenBook, dough: Dough
) -> None:
    records = []
    for number, body in enumerate(["slumps", "pours", "slumps", "pours", "slumps"] * 4):
        told = Situation(dough=dough.id, stage="cook-paste", signs={"paste-body": body})
        cause = "undercooked-paste" if body == "slumps" else "milk-over"
        answers = answers_of(dough, told)
        records.append(
            ConfirmedCase(
                f"case-{number}", dough.id, "cook-paste", answers, (cause,), situation=told
            )
        )
    learned = {dough.id: learn(dough, records)}
    some = [from_confirmed(dough, record) for record in records]
    taught = OpenBook(book.book, learned)
    rule = new_rule(("paste-body", "slumps"), cause="milk-over", strength="decisive")
    changed = dough.model_copy(update={"rules": (*dough.rules, rule)})
    after = OpenBook(
        book.book.model_copy(update={"doughs": (changed,)}), {dough.id: learn(changed, records)}
    )
    found = replay(taught, after, some)
    assert found.looked_at == 12
    assert list(found.differences) == naive_replay(taught, after, some)
    assert found.spoke["made-up-rule"] == tuple(
        c.id for c in some if c.situation.signs["paste-body"] == "slumps"
    )


def test_a_case_is_better_by_its_first_remedy_and_only_then_by_its_first_cause(
    cases: list[PastCase],
) -> None:
    situation = cases[0].situation
    case = PastCase("a", "whole case", "a", situation, ("c",), frozenset(("r",)), frozenset("n"))
    right, wrong, cause = Said("r", "c"), Said("x", "x"), Said("x", "c")
    assert Difference(case, wrong, right).verdict == "better"
    assert Difference(case, right, wrong).verdict == "worse"
    assert Difference(case, wrong, cause).verdict == "better"
    assert Difference(case, Said("r", "x"), cause).verdict == "worse"
    assert Difference(case, wrong, Said("y", "z")).verdict == "different"
    assert Difference(case, right, right).verdict == "unchanged"
    assert Difference(case, right, Said("n", "c")).verdict == "worse"
    silent = PastCase("b", "whole case", "b", situation, ())
    assert Difference(silent, wrong, right).verdict == "different"


def test_taking_out_a_rule_that_decides_makes_cases_worse(
    book: OpenBook, cases: list[PastCase]
) -> None:
    found = replay(book, without(book, "body-looks-slack"), cases)
    assert len(found.of("worse")) >= 5
    assert found.of("better") == ()
    assert set(found.verdicts.values()) <= {"worse", "different"}


def test_progress_is_told_from_beginning_to_end(book: OpenBook, cases: list[PastCase]) -> None:
    told: list[tuple[str, int, int]] = []
    replay(book, book, cases, lambda *words: told.append(words))
    assert told[0][1:] == (0, len(cases))
    assert told[-1][1:] == (len(cases), len(cases))
