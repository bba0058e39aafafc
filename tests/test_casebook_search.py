"""Cases are found in the cook's words and by what can be ticked, the same on both databases."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from casebook.cases import keep_case, mark
from casebook.preparing import elevation_band, folded
from casebook.problems import NotStorable
from casebook.searching import COUNTED, PAGE, Asked, query, search_cases, words_of
from casebook.store import Store
from casemaking import MADE_EACH, NOON, PLAIN, TORN


@pytest.fixture
def filled(either: Store) -> Store:
    for n, (name, made) in enumerate(MADE_EACH.items()):
        keep_case(either, replace(made, id=name, kept=NOON + timedelta(minutes=n)), f"form {n}")
    return either


def ids(store: Store, words: str = "", **filters: Any) -> list[str]:
    return [row.id for row in search_cases(store, words, **filters).rows]


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("torn crust at altitude", {"torn-at-summit"}),
        ("TORN", {"torn-at-summit"}),
        ("tears", {"torn-at-summit"}),
        ("kneaded", {"torn-at-summit"}),
        ("kneads", {"torn-at-summit"}),
        ("crème brûlée", {"torn-at-summit"}),
        ("creme brulee", {"torn-at-summit"}),
        ("CREPE", {"greasy-somewhere"}),
        ("crumb", {"stiff-at-orchard"}),
        ("crum", {"stiff-at-orchard"}),
        ("runny", {"soupy-at-harbour"}),
        ("pours spoon", {"soupy-at-harbour"}),
        ("oily", {"greasy-somewhere"}),
        ("turned too soon", {"torn-at-summit"}),
        ("the", set(MADE_EACH) - {"greasy-somewhere"}),
        ("xylophone", set()),
        ("", set(MADE_EACH)),
    ],
)
def test_a_word_is_found_in_its_stems_its_beginnings_and_without_accents(
    filled: Store, words: str, found: set[str]
) -> None:
    result = search_cases(filled, words)
    assert {row.id for row in result.rows} == found
    assert result.total == len(found)
    assert not result.loosely


@pytest.mark.parametrize(
    "words",
    [
        '"', "''", "*", "torn*", "NOT torn", "torn AND", "NEAR(torn crust)", "title:torn",
        "torn -crust", "^torn", "(torn", "torn)", "torn; DROP TABLE kept_case", "torn' OR '1'='1",
        "torn & | ! <->",
        "torn:*", "%", "_", "\\", "torn\x00crust", "{torn}", "torn + crust", "🥚", "ﬁ", "\ud800",
    ],
)  # fmt: skip
def test_a_cooks_text_is_never_a_query(filled: Store, words: str) -> None:
    """Every mark that either database's query language knows; each is only a gap between words."""
    assert set(ids(filled, words)) <= set(MADE_EACH)
    assert len(ids(filled)) == len(MADE_EACH)


@given(st.text(max_size=600))
def test_any_text_gives_a_few_plain_words(text: str) -> None:
    found = words_of(text)
    assert len(found) <= 12
    assert all(word and len(word) <= 40 and word == folded(word) for word in found)
    assert all(word.isalnum() for word in found)


def test_marks_alone_find_nothing_rather_than_everything(filled: Store) -> None:
    assert search_cases(filled, "?!").total == 0


def test_without_a_case_of_all_words_those_of_some_are_given_and_it_says_so(filled: Store) -> None:
    result = search_cases(filled, "torn xylophone")
    assert [row.id for row in result.rows] == ["torn-at-summit"]
    assert result.loosely


@pytest.mark.parametrize(
    ("filters", "found"),
    [
        ({"stage": "brown"}, {"torn-at-summit"}),
        ({"sign": ("when-turned", "sticks-tears")}, {"torn-at-summit"}),
        ({"sign": ("when-turned", "releases")}, set()),
        ({"cause": "turned-too-soon"}, {"torn-at-summit"}),
        ({"cause": "pan-too-cool"}, set()),
        ({"elevation_band": "low"}, {"soupy-at-harbour"}),
        ({"elevation_band": "middle"}, {"stiff-at-orchard"}),
        ({"elevation_band": "high"}, {"torn-at-summit"}),
        ({"remedy": "carry-on"}, {"torn-at-summit"}),
        ({"remedy": "cook-on-hotter"}, {"soupy-at-harbour"}),
        ({"outcome": "not-served"}, {"stiff-at-orchard"}),
        ({"class_code": "TUE-2"}, {"torn-at-summit"}),
        ({"confirmed_only": True}, set()),
        ({"dough": "another-dough"}, set()),
        ({"stage": "brown", "elevation_band": "high", "outcome": "not-quite"}, {"torn-at-summit"}),
        ({"stage": "brown", "elevation_band": "low"}, set()),
    ],
)
def test_filters_narrow_and_add_up(filled: Store, filters: dict[str, Any], found: set[str]) -> None:
    assert set(ids(filled, **filters)) == found
    assert set(ids(filled, "torn", **filters)) == found & {"torn-at-summit"}


def test_once_confirmed_a_case_is_found_by_its_true_cause(filled: Store) -> None:
    mark(filled, "torn-at-summit", "m1", by="A", verdict="confirmed", causes=["pan-too-cool"])
    assert ids(filled, cause="pan-too-cool") == ["torn-at-summit"]
    assert ids(filled, cause="turned-too-soon") == []
    assert ids(filled, confirmed_only=True) == ["torn-at-summit"]
    mark(filled, "torn-at-summit", "m2", by="A", verdict="doubtful")
    assert ids(filled, cause="pan-too-cool") == []
    assert ids(filled, cause="turned-too-soon") == ["torn-at-summit"]


def test_doubles_are_left_out(filled: Store) -> None:
    mark(filled, "torn-at-summit", "m1", by="A", verdict="same-as", other="greasy-somewhere")
    assert ids(filled, "torn") == []
    assert len(ids(filled)) == len(MADE_EACH) - 1


def test_without_words_the_newest_comes_first(filled: Store) -> None:
    assert ids(filled) == list(reversed(MADE_EACH))


def test_a_word_in_the_title_weighs_more_than_one_in_the_story(either: Store) -> None:
    keep_case(either, replace(PLAIN, id="in-title", title="Xylophone"), "1")
    keep_case(either, replace(PLAIN, id="in-story", said=("Xylophone, it sounds.",)), "2")
    assert ids(either, "xylophone") == ["in-title", "in-story"]


def test_the_snippet_is_a_sentence_with_the_word_in_it(filled: Store) -> None:
    (found,) = search_cases(filled, "colouring").rows
    assert found.snippet == "Colour on one side only."
    assert found.title == TORN.title


def test_pages_follow_each_other_without_gap_or_repeat(either: Store) -> None:
    for n in range(PAGE + 5):
        keep_case(either, replace(PLAIN, id=f"soupy-{n}"), f"form {n}")
    first, second = search_cases(either, "soupy"), search_cases(either, "soupy", page=2)
    assert (first.total, first.pages, first.more) == (PAGE + 5, 2, False)
    assert len(first.rows) == PAGE
    assert {row.id for row in (*first.rows, *second.rows)} == {
        f"soupy-{n}" for n in range(PAGE + 5)
    }
    assert search_cases(either, "soupy", page=3).rows == ()


def test_pages_and_bands_that_cannot_be_are_refused(store: Store) -> None:
    for page in (0, -1, COUNTED // PAGE + 1):
        with pytest.raises(NotStorable, match=f"no page {page}"):
            search_cases(store, page=page)
    with pytest.raises(NotStorable, match="no band"):
        search_cases(store, elevation_band="alpine")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("metres", "band"),
    [(-3, "low"), (299.9, "low"), (300, "middle"), (899.9, "middle"), (900, "high"), (None, None)],
)
def test_bands_meet_at_their_limits(metres: float | None, band: str | None) -> None:
    """House rule; 900 m (3,000 ft) is where the book's high kitchens begin."""
    assert elevation_band(metres) == band


def plan(store: Store, words: str, *facts: tuple[str, str, str]) -> str:
    statement = query(store, Asked(words_of(words), facts)).limit(PAGE)
    with store.reading() as connection:
        if not store.is_sqlite:
            # A handful of rows is read faster whole; what is looked at is which index could serve.
            for way in ("seqscan", "indexscan", "nestloop"):
                connection.exec_driver_sql(f"SET LOCAL enable_{way} = off")
        ask = "EXPLAIN QUERY PLAN " if store.is_sqlite else "EXPLAIN "
        compiled = statement.compile(connection.engine, compile_kwargs={"literal_binds": True})
        rows = connection.exec_driver_sql((ask + str(compiled)).replace("%%", "%")).all()
    return "\n".join(str(row[-1]) for row in rows)


def test_a_filter_is_answered_by_its_index(filled: Store) -> None:
    said = plan(filled, "", ("sign", "when-turned", "sticks-tears"), ("stage", "brown", ""))
    assert "case_fact_found" in said
    assert "SCAN" not in said
    assert "Seq Scan" not in said
    assert "TEMP B-TREE" not in said


def test_words_are_answered_by_their_index(filled: Store) -> None:
    said = plan(filled, "torn crust")
    assert ("VIRTUAL TABLE INDEX" if filled.is_sqlite else "case_words_search") in said
    assert "SCAN kept_case" not in said
    assert "Seq Scan" not in said


def test_the_index_of_words_agrees_with_the_words(filled: Store) -> None:
    """SQLite documentation, "FTS5", section 6.4: fails with an error if it does not."""
    with filled.writing() as connection:
        if filled.is_sqlite:
            connection.exec_driver_sql(
                "INSERT INTO case_search (case_search, rank) VALUES ('integrity-check', 1)"
            )
        counted = connection.exec_driver_sql("SELECT count(*) FROM case_words").scalar_one()
    assert counted == len(MADE_EACH)
