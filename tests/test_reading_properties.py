"""Whatever is put in, a part of a book or a list of problems comes out, and never an exception."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.knowledge.loading import load_book
from diagnose.knowledge.nodes import PASTED, read_nodes
from diagnose.knowledge.reading import read_dough
from diagnose.knowledge.reading_sources import read_sources
from diagnose.knowledge.situations import read_situation

BOOKS = Path(__file__).parent / "books"
TEXT = (BOOKS / "small.yaml").read_text(encoding="utf-8")
BOOK = load_book(BOOKS)
PIECES = (
    "\n", " ", "  ", ": ", "- ", "{", "}", "[", "]", ",", '"', "'", "&a", "*a", "!t", "#", "|",
    ">", "%", "@", "---", "...", "\t", "? ", "<<: ", "null", "85 °C", "not ", " or ", "\ud800",
    "\u2028", "\x00", "\ufeff", "format: 1\n", "rules:\n",
)  # fmt: skip


@settings(deadline=None)
@given(st.one_of(st.text(max_size=300), st.lists(st.sampled_from(PIECES)).map("".join)))
def test_any_text_gives_nodes_or_problems(text: str) -> None:
    node, problems = read_nodes(text, "x.yaml", PASTED)
    assert node is not None or problems
    for problem in problems:
        assert problem.line >= 1
        assert problem.advice


@settings(deadline=None)
@given(st.one_of(st.text(max_size=300), st.lists(st.sampled_from(PIECES)).map("".join)))
def test_any_text_gives_a_dough_or_problems(text: str) -> None:
    for opening in ("", "format: 1\n"):
        dough, problems = read_dough(opening + text, "x.yaml", BOOK.sources, PASTED)
        assert (dough is None) == bool(problems)
    read_sources(text, "x.yaml", PASTED)


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_a_good_file_with_any_damage_gives_a_dough_or_problems(data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(TEXT)))
    length = data.draw(st.integers(0, 30))
    piece = data.draw(st.one_of(st.sampled_from(PIECES), st.text(max_size=5)))
    damaged = TEXT[:start] + piece + TEXT[start + length :]
    dough, problems = read_dough(damaged, "x.yaml", BOOK.sources)
    assert (dough is None) == bool(problems)
    lines = damaged.count("\n") + damaged.count("\r") + damaged.count("\u2028") + 2
    assert all(0 < problem.line <= lines for problem in problems)


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_a_good_file_that_lost_or_doubled_a_line_gives_a_dough_or_problems(
    data: st.DataObject,
) -> None:
    lines = TEXT.splitlines()
    place = data.draw(st.integers(0, len(lines) - 1))
    other = data.draw(st.integers(0, len(lines) - 1))
    kept = data.draw(st.sampled_from(([], [lines[place]] * 2, [lines[other]])))
    text = "\n".join(lines[:place] + kept + lines[place + 1 :])
    dough, problems = read_dough(text, "x.yaml", BOOK.sources)
    assert (dough is None) == bool(problems)


words = st.sampled_from(
    (
        "dough", "stage", "kitchen", "batch", "signs", "readings", "tried", "not_looked", "value",
        "unit", "small-paste", "cook-paste", "paste-body", "slumps", "paste-temperature", "degC",
        "degF", "milk_g", "elevation_m", "water_boils_at", "remedy", "add-flour", "result",
        "worked", "added_g", "flour_measured", "weighed", "minutes-cooked", "cook_min",
    )
)  # fmt: skip
leaves = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), words, st.text(max_size=10)
)
anything = st.recursive(
    leaves,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(words | st.text(max_size=6), inner, max_size=5)
    ),
    max_leaves=25,
)


@settings(deadline=None, max_examples=200)
@given(anything)
def test_any_json_gives_a_situation_or_problems(data: object) -> None:
    situation, problems = read_situation(data, BOOK)
    assert (situation is None) == bool(problems)


@settings(deadline=None, max_examples=200)
@given(
    st.fixed_dictionaries(
        {"dough": st.just("small-paste"), "stage": st.sampled_from(("cook-paste", "temper"))},
        optional={
            "kitchen": anything, "batch": anything, "signs": anything, "readings": anything,
            "tried": st.lists(anything, max_size=3), "not_looked": st.lists(anything, max_size=3),
        },
    )
)  # fmt: skip
def test_any_filling_of_a_situation_is_read_or_refused_in_sentences(data: object) -> None:
    situation, problems = read_situation(data, BOOK)
    assert (situation is None) == bool(problems)
    for problem in problems:
        assert problem.where
        assert str(problem).encode("utf-8")


numbers = st.floats(50, 20_000) | st.integers(50, 20_000)


@settings(deadline=None)
@given(
    st.fixed_dictionaries(
        {},
        optional={
            "milk_g": numbers, "flour_g": st.floats(5, 10_000), "salt_g": st.floats(0, 1000),
            "yolks": st.integers(0, 200), "cheese_g": st.floats(0, 10_000),
            "simmer_min": st.floats(0, 240), "cook_min": st.floats(0, 240),
            "serve_in_min": st.integers(0, 2880),
        },
    ),
    st.floats(-430, 3500),
    st.floats(0, 105),
)  # fmt: skip
def test_numbers_in_their_ranges_are_kept_as_told_or_refused_together(
    batch: dict[str, float], elevation: float, heat: float
) -> None:
    """Nothing is rounded or clamped; what is refused is refused for what it says together."""
    data = {
        "dough": "small-paste",
        "stage": "cook-paste",
        "kitchen": {"elevation_m": elevation},
        "batch": batch,
        "readings": {"paste-temperature": {"value": heat, "unit": "degC"}},
    }
    situation, problems = read_situation(data, BOOK)
    if situation is None:
        assert {problem.where for problem in problems} == {"batch"}
        return
    assert situation.kitchen.elevation_m == elevation
    assert situation.readings == {"paste-temperature": heat}
    assert all(getattr(situation.batch, name) == value for name, value in batch.items())
