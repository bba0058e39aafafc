"""Practising: what is hidden, what a look costs, how hard a case is, and what comes back.

The numbers checked are the project's own house rules; the laws are laws of any such rule.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.consulting import OpenBook
from diagnose.knowledge.situation import Situation
from diagnose.knowledge.teaching import TeachingCase, read_teaching_cases
from diagnose.practising import (
    BOXES,
    EASY_FROM,
    MIDDLING_FROM,
    Missed,
    Progress,
    can_be_asked,
    difficulty,
    difficulty_of,
    first_of,
    known_looks,
    looked_at,
    margin,
    minutes_spent,
    opening,
    verdict,
)
from diagnose.reasoning.words import EFFORT_MINUTES
from web.practised import MOST_BYTES, Practised, as_cookie, from_cookie

HARDER = {"easy": 0, "middling": 1, "hard": 2}
CAUSES = ("a-cause", "b-cause", "c-cause", "d-cause")
tag = st.from_regex(r"[a-z][a-z0-9-]{1,40}", fullmatch=True)


@st.composite
def chances(draw: st.DrawFn) -> Mapping[str, float]:
    weights = draw(st.lists(st.floats(0.01, 1), min_size=4, max_size=4))
    return {name: w / sum(weights) for name, w in zip(CAUSES, weights, strict=True)}


progresses = st.builds(
    lambda done, share, last, missed: Progress(
        done,
        int(done * share),
        last,
        tuple(Missed(name, box, done + due) for name, (box, due) in missed.items()),
    ),
    st.integers(0, 9_000),
    st.floats(0, 1),
    st.just("") | tag,
    st.dictionaries(tag, st.tuples(st.integers(1, BOXES), st.integers(0, 32)), max_size=8),
)


@pytest.fixture(scope="module")
def teaching(book: OpenBook) -> tuple[TeachingCase, ...]:
    return read_teaching_cases(book.book)[0]


def slumping() -> Situation:
    return Situation(
        dough="milk-panade-slab",
        stage="cook-paste",
        signs={"paste-body": "slumps", "lid": "on"},
        readings={"paste-temperature": 78.0},
        not_looked=frozenset({"held-hot"}),
    )


# --- what is hidden ---


def test_at_first_nothing_is_known_that_was_seen() -> None:
    given_to_learner = opening(slumping())
    assert (given_to_learner.signs, given_to_learner.readings) == ({}, {})
    assert given_to_learner.not_looked == frozenset()
    assert given_to_learner.stage == "cook-paste"


@given(st.sets(st.sampled_from(["paste-body", "lid", "paste-temperature", "held-hot", "xyz"])))
def test_a_look_shows_what_the_cook_saw_and_nothing_else(looks: set[str]) -> None:
    whole, seen = slumping(), looked_at(slumping(), looks)
    assert seen.signs == {n: a for n, a in whole.signs.items() if n in looks}
    assert seen.readings == {n: v for n, v in whole.readings.items() if n in looks}
    assert looked_at(whole, [*whole.signs, *whole.readings]).signs == whole.signs


def test_all_that_a_teaching_case_tells_can_be_asked_for(
    book: OpenBook, teaching: tuple[TeachingCase, ...]
) -> None:
    dough = book.book.doughs[0]
    for one in teaching:
        there = {part.id for part in can_be_asked(dough, one.situation)}
        assert there >= {*one.situation.signs, *one.situation.readings}, one.id


# --- what a look costs ---


def test_looks_cost_what_the_book_says_each_once_and_only_if_there_is_an_answer(
    book: OpenBook,
) -> None:
    dough, whole = book.book.doughs[0], slumping()
    effort = {p.id: EFFORT_MINUTES[p.effort] for p in can_be_asked(dough, whole)}
    asked = ["lid", "paste-temperature", "lid", "held-hot", "pulls-away"]
    assert known_looks(whole, asked) == ("lid", "paste-temperature")
    assert minutes_spent(dough, whole, asked) == effort["lid"] + effort["paste-temperature"]
    assert minutes_spent(dough, whole, []) == 0


# --- how hard it is ---


@given(chances(), st.sets(st.sampled_from(CAUSES), min_size=1, max_size=2))
def test_the_margin_is_from_minus_one_to_one(found: Mapping[str, float], true: set[str]) -> None:
    assert -1 <= margin(found, true) <= 1


@given(chances(), st.sampled_from(CAUSES[1:]), st.floats(0, 1))
def test_the_further_the_true_cause_stands_out_the_easier(
    found: Mapping[str, float], other: str, share: float
) -> None:
    moved = dict(found)
    moved[CAUSES[0]] += found[other] * share
    moved[other] -= found[other] * share
    before, after = margin(found, {CAUSES[0]}), margin(moved, {CAUSES[0]})
    assert after >= before - 1e-9
    assert HARDER[difficulty(after + 1e-9)] <= HARDER[difficulty(before)]


@given(chances(), st.sampled_from(CAUSES))
def test_it_is_hard_wherever_something_else_is_as_likely(
    found: Mapping[str, float], true: str
) -> None:
    likelier = any(found[name] >= found[true] for name in CAUSES if name != true)
    assert (margin(found, {true}) <= 0) is likelier or abs(margin(found, {true})) < 1e-8
    if likelier:
        assert difficulty(margin(found, {true})) == "hard"


def test_the_limits_are_those_of_the_guide_to_teaching_cases() -> None:
    assert (EASY_FROM, MIDDLING_FROM) == (0.5, 0.15)
    assert [difficulty(x) for x in (1, 0.5, 0.499, 0.15, 0.149, -1)] == [
        "easy", "easy", "middling", "middling", "hard", "hard",
    ]  # fmt: skip


def test_it_agrees_with_what_the_authors_of_most_teaching_cases_said(
    book: OpenBook, teaching: tuple[TeachingCase, ...]
) -> None:
    """A step apart at most, as the book may move a little before a case is relabelled."""
    said = [difficulty_of(book.diagnose(one.situation), one.causes) for one in teaching]
    apart = [
        abs(HARDER[one.difficulty] - HARDER[now]) for one, now in zip(teaching, said, strict=True)
    ]
    assert max(apart) <= 1
    assert sum(apart) <= len(teaching) / 4
    assert set(said) == set(HARDER)


# --- who was right ---


def test_right_is_a_true_cause_with_the_remedy_that_ought_to_come_first(book: OpenBook) -> None:
    told = book.diagnose(slumping())
    both = ("undercooked-paste", "flour-under")
    assert verdict("flour-under", "cook-on-hotter", both, "cook-on-hotter", told).right
    assert not verdict("flour-under", "throw-away", both, "cook-on-hotter", told).right
    missed = verdict("milk-turned", "cook-on-hotter", both, "cook-on-hotter", told)
    assert (missed.cause, missed.remedy, missed.right) == (False, True, False)


def test_where_nobody_said_what_comes_first_the_book_does(book: OpenBook) -> None:
    told = book.diagnose(slumping())
    first = first_of(told)
    assert first is not None
    assert verdict("flour-under", first, ("flour-under",), None, told).right


# --- what comes back ---


def test_a_missed_case_comes_back_after_2_4_8_16_and_32_others() -> None:
    progress = Progress().answered("missed-one", False)
    waits = []
    for _ in range(BOXES):
        others = 0
        while progress.due() != "missed-one":
            others += 1
            progress = progress.answered(f"other-{progress.done}", True)
        waits.append(others)
        progress = progress.answered("missed-one", True)
    assert waits == [2, 4, 8, 16, 32]
    assert progress.missed == ()


def test_a_case_missed_again_begins_again() -> None:
    progress = Progress(10, 5, "x-case", (Missed("missed-one", 4, 10),))
    assert progress.answered("missed-one", False).missed == (Missed("missed-one", 1, 13),)


@given(progresses, tag, st.booleans(), st.booleans())
def test_the_same_answer_sent_twice_counts_once(
    progress: Progress, name: str, right: bool, again: bool
) -> None:
    once = progress.answered(name, right)
    assert once.answered(name, again) == once


@given(progresses, tag, st.booleans())
def test_an_answer_moves_no_other_case(progress: Progress, name: str, right: bool) -> None:
    after = progress.answered(name, right)
    others = {one for one in progress.missed if one.name != name}
    assert {one for one in after.missed if one.name != name} == others
    assert after.right <= after.done
    if right and name != progress.last and name not in {one.name for one in progress.missed}:
        assert name not in {one.name for one in after.missed}


@given(progresses)
def test_what_is_due_is_overdue_and_not_the_last(progress: Progress) -> None:
    due = progress.due()
    ready = [o for o in progress.missed if o.due <= progress.done and o.name != progress.last]
    assert (due is None) == (not ready)
    if due is not None:
        assert min(one.due for one in ready) in [o.due for o in ready if o.name == due]


# --- the cookie ---


@given(progresses, st.lists(tag, max_size=20))
def test_what_a_cookie_keeps_comes_back(progress: Progress, names: list[str]) -> None:
    practised = Practised(progress)
    for name in names:
        practised = practised.answered(name, right=True)
    back = from_cookie(as_cookie(practised))
    assert set(back.progress.missed) == set(practised.progress.missed)
    assert back.seen == practised.seen
    assert (back.progress.done, back.progress.right, back.progress.last) == (
        practised.progress.done, practised.progress.right, practised.progress.last,
    )  # fmt: skip
    assert all(back.has_seen(name) for name in names)


def test_a_cookie_stays_small_however_much_was_missed() -> None:
    practised = Practised()
    for number in range(1_000):
        practised = practised.answered(f"a-case-with-quite-a-long-name-{number:04d}", False)
    text = as_cookie(practised)
    assert len(text) <= MOST_BYTES
    assert from_cookie(text).progress.done == 1_000
    # What is let go is what was missed longest ago.
    assert "a-case-with-quite-a-long-name-0999" in text
    # Only what RFC 6265, section 4.1.1 allows in a cookie's value unquoted.
    assert all(0x21 <= ord(c) <= 0x7E and c not in '",;\\' for c in text)


@given(st.text(max_size=200) | st.from_regex(r"[0-9.~a-z_-]{0,200}", fullmatch=True))
def test_any_text_is_read_as_some_progress(text: str) -> None:
    found = from_cookie(text)
    assert found.progress.right <= found.progress.done
    assert from_cookie(as_cookie(found)).progress.done == found.progress.done
