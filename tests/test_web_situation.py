"""From what was told to the situation: last word wins, and what has passed is left out."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from casebook.consultations import JSON, Consultation, Entry
from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Dough
from diagnose.knowledge.facts import kitchen_state
from diagnose.knowledge.situation import Situation
from diagnose.knowledge.situations import read_situation
from web.situation import as_request, current, situation_of

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
STAGE = ("stage", "stage", "cook-paste")


def told(*entries: tuple[str, str, JSON], every: int = 0) -> Consultation:
    """A consultation with these entries, ``every`` minutes apart."""
    numbered = tuple(
        Entry(n, kind, name, value, NOON + timedelta(minutes=every * n))
        for n, (kind, name, value) in enumerate(entries, 1)
    )
    return Consultation("-" * 22, "milk-panade-slab", NOON, numbered)


def stands(dough: Dough, *entries: tuple[str, str, JSON]) -> Situation:
    situation = situation_of(told(*entries), dough, NOON)
    assert situation is not None
    return situation


def tried(n: int, remedy: str, result: str, added_g: float | None = None) -> tuple[str, str, JSON]:
    return ("tried", f"{remedy}#{n}", {"remedy": remedy, "result": result, "added_g": added_g})


def complaint(*signs: str) -> tuple[str, str, JSON]:
    return ("complaint", "cook-paste", {"id": "slumps", "told": list(signs)})


def test_nothing_stands_until_a_stage_is_told(book: OpenBook) -> None:
    consultation = told(("kitchen", "elevation_m", 2310))
    assert situation_of(consultation, book.book.doughs[0], NOON) is None


def test_the_last_answer_to_a_question_counts(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    situation = stands(
        dough, STAGE, ("sign", "paste-body", "pours"), ("sign", "paste-body", "slumps")
    )
    assert situation.signs == {"paste-body": "slumps"}


def test_not_looked_takes_an_earlier_answer_back(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    situation = stands(
        dough, STAGE, ("sign", "paste-body", "pours"), ("not-looked", "paste-body", None)
    )
    assert situation.signs == {}
    assert situation.not_looked == {"paste-body"}


def test_a_reading_is_turned_into_the_books_unit(book: OpenBook) -> None:
    fahrenheit: JSON = {"value": 185, "unit": "degF"}
    situation = stands(book.book.doughs[0], STAGE, ("reading", "paste-temperature", fahrenheit))
    assert situation.readings == {"paste-temperature": 85.0}


def test_what_the_batch_form_asks_too_is_kept_in_one_place(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    situation = stands(
        dough, ("batch", "flour_measured", "unknown"), STAGE, ("sign", "flour-measured", "dipped")
    )
    assert situation.batch.flour_measured == "dipped"
    assert "flour-measured" not in situation.signs


def test_the_form_told_again_with_an_empty_box_takes_no_answer_back(book: OpenBook) -> None:
    situation = stands(
        book.book.doughs[0],
        STAGE,
        ("sign", "flour-measured", "dipped"),
        ("batch", "flour_measured", "unknown"),
    )
    assert situation.batch.flour_measured == "dipped"


def test_minutes_to_serving_run_down_with_the_clock(book: OpenBook) -> None:
    consultation = told(("batch", "serve_in_min", 150), STAGE)
    later = situation_of(consultation, book.book.doughs[0], NOON + timedelta(minutes=40))
    assert later is not None
    assert later.batch.serve_in_min == 110


def test_a_new_look_forgets_what_was_seen_but_not_what_was_done(book: OpenBook) -> None:
    situation = stands(
        book.book.doughs[0],
        STAGE,
        ("sign", "paste-body", "slumps"),
        ("sign", "flour-measured", "dipped"),
        tried(1, "cook-on-hotter", "worked"),
        ("look-again", "cook-paste", None),
        ("sign", "lumps", "soft"),
    )
    assert situation.signs == {"lumps": "soft"}
    assert situation.batch.flour_measured == "dipped"
    assert situation.tried == ()


def test_flour_added_before_a_new_look_is_still_in_the_pan(book: OpenBook) -> None:
    situation = stands(
        book.book.doughs[0],
        ("batch", "milk_g", 500),
        ("batch", "flour_g", 100),
        STAGE,
        tried(1, "add-flour-by-the-spoon", "worked", 7.8),
        ("look-again", "cook-paste", None),
    )
    assert situation.tried == ()
    assert kitchen_state(situation, book.book.doughs[0]).flour_added_g == 7.8


def test_heating_without_change_makes_the_thermometer_old_but_not_the_complaint(
    book: OpenBook,
) -> None:
    situation = stands(
        book.book.doughs[0],
        STAGE,
        complaint("paste-body"),
        ("sign", "paste-body", "slumps"),
        ("reading", "paste-temperature", {"value": 78, "unit": "degC"}),
        tried(1, "cook-on-hotter", "no-change"),
    )
    assert situation.signs["paste-body"] == "slumps"
    assert situation.readings == {}
    assert [t.result for t in situation.tried] == ["no-change"]


def test_a_thermometer_nobody_has_is_not_asked_for_again_after_heating(book: OpenBook) -> None:
    situation = stands(
        book.book.doughs[0],
        STAGE,
        ("not-looked", "paste-temperature", None),
        tried(1, "cook-on-hotter", "no-change"),
    )
    assert "paste-temperature" in situation.not_looked


def test_a_remedy_that_was_not_done_makes_nothing_old(book: OpenBook) -> None:
    situation = stands(
        book.book.doughs[0],
        STAGE,
        ("reading", "paste-temperature", {"value": 78, "unit": "degC"}),
        tried(1, "cook-on-hotter", "cannot"),
    )
    assert situation.readings == {"paste-temperature": 78}


def test_answers_the_book_no_longer_knows_are_left_out(book: OpenBook) -> None:
    situation = stands(
        book.book.doughs[0], STAGE, ("sign", "colour", "blue"), ("sign", "paste-body", "flies")
    )
    assert situation.signs == {}


def test_what_stands_is_what_the_machine_face_takes(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    situation = stands(
        dough,
        ("kitchen", "elevation_m", 2310),
        ("kitchen", "boil_c", None),
        ("batch", "milk_g", 500),
        ("batch", "flour_g", 100),
        STAGE,
        ("sign", "paste-body", "slumps"),
        ("reading", "paste-temperature", {"value": 172, "unit": "degF"}),
        ("not-looked", "lumps", None),
        tried(1, "add-flour-by-the-spoon", "no-change", 7.8),
    )
    read, problems = read_situation(as_request(situation, dough), book.book)
    assert not problems
    assert read == situation


ENTRIES = st.lists(
    st.one_of(
        st.tuples(
            st.just("sign"),
            st.just("paste-body"),
            st.sampled_from(["pours", "slumps", "one-mass"]),
        ),
        st.tuples(st.just("not-looked"), st.just("paste-body"), st.none()),
        st.tuples(st.just("sign"), st.just("lumps"), st.sampled_from(["none", "soft"])),
        st.just(tried(1, "cook-on-hotter", "no-change")),
        st.just(("look-again", "cook-paste", None)),
    ),
    max_size=12,
)


@given(entries=ENTRIES)
def test_a_question_is_answered_or_not_looked_at_and_never_both(
    book: OpenBook, entries: list[tuple[str, str, JSON]]
) -> None:
    situation = stands(book.book.doughs[0], STAGE, *entries)
    assert not situation.not_looked & set(situation.signs)


@given(entries=ENTRIES)
def test_what_holds_is_part_of_what_was_told(
    book: OpenBook, entries: list[tuple[str, str, JSON]]
) -> None:
    consultation = told(STAGE, *entries)
    held = current(consultation, book.book.doughs[0])
    assert {e.number for e in held} <= {e.number for e in consultation.entries}
    assert [e.number for e in held] == sorted(e.number for e in held)
