"""Drafts, contradictions, missing questions and words, as offered to whoever keeps the book."""

from __future__ import annotations

import itertools
from typing import Any, cast

import pytest

from diagnose.consulting import OpenBook, open_book
from diagnose.knowledge.book import Dough
from diagnose.learning.cases import ConfirmedCase
from diagnose.learning.mining import bits_of, patterns
from diagnose.learning.noticing import noticed, stem
from diagnose.learning.recalibrating import learn
from diagnose.learning.suggesting import (
    as_rule,
    contradicted_rules,
    drafts,
    inseparable,
    parting,
    strength_of,
    turned_rows,
)
from diagnose.reasoning.likelihood import tables


@pytest.fixture(scope="module")
def book() -> OpenBook:
    return open_book()


@pytest.fixture(scope="module")
def dough(book: OpenBook) -> Dough:
    return book.book.doughs[0]


def cases_of(*rows: tuple[int, dict[str, str], str], **more: Any) -> list[ConfirmedCase]:
    numbers = itertools.count()
    return [
        ConfirmedCase(
            f"case-{next(numbers):04}", "milk-panade-slab", "cook-paste", answers, (cause,), **more
        )
        for many, answers, cause in rows
        for _ in range(many)
    ]


def test_a_pattern_becomes_a_draft_with_its_counts_in_words(dough: Dough) -> None:
    cases = cases_of(
        (20, {"lumps": "soft"}, "milk-over"),
        (3, {"lumps": "soft"}, "flour-over"),
        (60, {"lumps": "none"}, "flour-over"),
        (5, {"lumps": "none"}, "milk-over"),
    )
    made = drafts(dough, tables(dough), patterns(bits_of(cases)))
    draft = next(d for d in made if d.pattern.cause == "milk-over")
    assert draft.why == (
        "20 of the 23 confirmed cases with this had that cause, and 5 of the 65 without it"
    )
    assert draft.strength == "strong"
    assert draft.written is None


def test_a_draft_in_the_shape_of_the_book_passes_its_own_cases(
    book: OpenBook, dough: Dough
) -> None:
    cases = cases_of(
        (20, {"lumps": "soft", "paste-temperature": "warm"}, "milk-over"),
        (60, {"lumps": "none", "paste-temperature": "hot"}, "flour-over"),
    )
    for draft in drafts(dough, tables(dough), patterns(bits_of(cases))):
        rule = as_rule(dough, draft)
        assert rule.standing == "draft"
        added = dough.model_copy(update={"rules": (*dough.rules, rule)})
        with_it = OpenBook(book.book.model_copy(update={"doughs": (added,)}))
        for case in rule.cases:
            assert (rule.id in with_it.spoke(dough.id, case.told)) is case.speaks


def test_a_pattern_that_the_book_has_already_says_where(dough: Dough) -> None:
    row = next(r for r in dough.evidence if any(w == "strong for" for w in r.answers.values()))
    answer = next(a for a, w in row.answers.items() if w == "strong for")
    look = next(s for s in dough.signs if s.id == row.of)
    other = next(a.id for a in look.answers if a.id != answer)
    rest = next(c.id for c in dough.causes if c.id != row.about)
    cases = cases_of((30, {row.of: answer}, row.about), (60, {row.of: other}, rest))
    made = drafts(dough, tables(dough), patterns(bits_of(cases)))
    assert row.id in {draft.written for draft in made}


def test_a_pattern_about_something_not_in_the_book_is_left_out(dough: Dough) -> None:
    cases = cases_of((30, {"gone": "a"}, "milk-over"), (60, {"gone": "b"}, "retired"))
    assert drafts(dough, tables(dough), patterns(bits_of(cases))) == []


@pytest.mark.parametrize(("factor", "strength"), [(25, "decisive"), (3, "moderate"), (1.4, None)])
def test_a_draft_never_promises_more_than_the_cases_bear_out(
    factor: float, strength: str | None
) -> None:
    assert strength_of(factor) == strength


def test_a_rule_after_which_its_cause_is_rare_is_named_with_its_table(dough: Dough) -> None:
    rule = next(r for r in dough.rules if r.points_to == "undercooked-paste")
    wrong = cases_of((15, {}, "flour-over"))
    right = cases_of((100, {}, "undercooked-paste"))[15:]
    spoke = {c.id: (rule.id,) for c in wrong} | {c.id: () for c in right}
    (found,) = contradicted_rules(dough, [*wrong, *right], spoke)
    assert (found.rule, found.table.both, found.table.only_seen) == (rule.id, 15, 0)


def test_a_rule_that_speaks_rightly_is_not_contradicted(dough: Dough) -> None:
    rule = next(r for r in dough.rules if r.points_to == "undercooked-paste")
    cases = cases_of((30, {}, "undercooked-paste"), (30, {}, "flour-over"))
    spoke = {c.id: (rule.id,) if c.causes[0] == "undercooked-paste" else () for c in cases}
    assert contradicted_rules(dough, cases, spoke) == []


def test_a_rule_that_points_away_is_contradicted_by_its_cause(dough: Dough) -> None:
    rule = next(r for r in dough.rules if r.points_away_from is not None)
    name = cast(str, rule.points_away_from)
    stage = next(c for c in dough.causes if c.id == name).shows_at[0]
    made = [
        ConfirmedCase(f"case-{n}", dough.id, stage, {}, (name if n < 20 else "nothing-wrong",))
        for n in range(120)
    ]
    spoke = {c.id: (rule.id,) if c.causes[0] == name else () for c in made}
    (found,) = contradicted_rules(dough, made, spoke)
    assert found.rule == rule.id


def test_a_word_that_cases_turn_round_is_named(dough: Dough) -> None:
    row = next(
        r for r in dough.evidence if "strong for" in r.answers.values() and r.of != "elevation"
    )
    answer = next(a for a, w in row.answers.items() if w == "strong for")
    look = next(s for s in dough.signs if s.id == row.of)
    other = next(a.id for a in look.answers if a.id != answer)
    learned = learn(dough, cases_of((300, {row.of: other}, row.about)))
    assert row.id in {found.id for found in turned_rows(learned)}
    assert turned_rows(learn(dough, ())) == []


def test_causes_that_nothing_tells_apart_are_named_with_the_question_that_would(
    dough: Dough,
) -> None:
    """With the table and the rules emptied, only the cases can part causes."""
    bare = dough.model_copy(update={"evidence": (), "rules": ()})
    cases = cases_of((20, {"lumps": "soft"}, "milk-over"), (20, {"lumps": "none"}, "flour-over"))
    found = inseparable(bare, tables(bare), bits_of(cases))
    pair = next(f for f in found if set(f.causes) == {"milk-over", "flour-over"})
    assert pair.apart == 0.0
    assert pair.would is not None
    assert pair.would.when[0][0] == "lumps"
    other = next(f for f in found if set(f.causes) == {"milk-over", "over-reduced"})
    assert other.would is None


def test_the_shipped_book_parts_undercooked_from_short_of_flour(dough: Dough) -> None:
    found = inseparable(dough, tables(dough), bits_of(()))
    assert {"undercooked-paste", "flour-short"} not in [set(f.causes) for f in found]


def test_cases_of_both_causes_part_nothing() -> None:
    both = [ConfirmedCase(f"case-{n}", "made-up", "now", {"s": "a"}, ("c", "d")) for n in range(40)]
    assert parting(bits_of(both), "c", "d") is None


# --- words in notes ---


def test_a_word_of_three_notes_that_no_sign_covers_is_noticed(dough: Dough) -> None:
    notes = ["It smelled of aniseed", "ANISEED again!", "a whiff of aniseed", "the paste was thin"]
    cases = [
        ConfirmedCase(f"case-{n}", dough.id, "cook-paste", {}, ("milk-over",), note=note)
        for n, note in enumerate(notes)
    ]
    (found,) = noticed(dough, cases)
    assert (found.word, found.cases) == ("aniseed", ("case-0", "case-1", "case-2"))


def test_a_word_said_over_and_over_in_one_note_is_one_note(dough: Dough) -> None:
    note = "aniseed aniseed aniseed aniseed"
    case = ConfirmedCase("case-0", dough.id, "cook-paste", {}, ("milk-over",), note=note)
    assert noticed(dough, [case]) == ()


def test_words_that_the_book_has_are_not_news(dough: Dough) -> None:
    cases = [
        ConfirmedCase(
            f"case-{n}", dough.id, "cook-paste", {}, ("milk-over",), note="the paste slumps, lumpy"
        )
        for n in range(5)
    ]
    assert noticed(dough, cases) == ()


@pytest.mark.parametrize("form", ["dripping", "dripped", "drips", "drip"])
def test_forms_of_a_word_are_one(form: str) -> None:
    assert stem(form) == "drip"
