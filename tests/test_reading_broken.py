"""Every file in ``broken`` holds one mistake; its first line says where and in what words."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from diagnose.checking.lints import all_lints, check_book
from diagnose.engine.compiling import compile_rules
from diagnose.engine.session import run
from diagnose.knowledge.book import Book, Dough, SourceEntry
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.problems import Problem
from diagnose.knowledge.reading import read_dough
from diagnose.knowledge.reading_sources import read_sources

HERE = Path(__file__).parent
FILES = sorted((HERE / "broken").glob("*.yaml"))
FEWEST_FILES = 60
MOST_FOLLOWING = 2
"""How many other problems one mistake may bring along."""


def sources() -> tuple[SourceEntry, ...]:
    text = (HERE / "books" / "sources.yaml").read_text(encoding="utf-8")
    return read_sources(text, "sources.yaml")[0]


def spoke(dough: Dough, facts: Mapping[str, Value]) -> set[str]:
    return {rule.id for rule in run(compile_rules(dough), facts).spoke}


def problems_of(text: str, file: str) -> list[Problem]:
    """What the reader says; if it has nothing to say, what the lints find."""
    known = sources()
    dough, problems = read_dough(text, file, known)
    if dough is None:
        return problems
    book = Book(version="made up", doughs=(dough,), sources=known)
    return [found.problem for found in check_book(book, all_lints(spoke))]


def expected(text: str) -> tuple[int, list[str]]:
    first = text.splitlines()[0].removeprefix("# expect: line ")
    line, *words = first.split(" | ")
    return int(line), words


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_each_mistake_is_named_with_its_line_and_what_to_do(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    line, words = expected(text)
    problems = problems_of(text, file.name)
    hits = [p for p in problems if p.line == line and all(word in str(p) for word in words)]
    assert hits, [str(problem) for problem in problems]
    assert len(problems) <= 1 + MOST_FOLLOWING


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_each_problem_has_file_line_what_and_advice_in_plain_words(file: Path) -> None:
    for problem in problems_of(file.read_text(encoding="utf-8"), file.name):
        assert problem.file == file.name
        assert problem.line > 0
        assert problem.what
        assert problem.advice
        # Neither the parser's words nor a class of ours reach an author.
        for foreign in ("ruamel", "Scalar", "Mapping", "pydantic", "None", "scanning", "token"):
            assert foreign not in str(problem)


def test_the_collection_is_large_and_every_file_says_what_it_expects() -> None:
    assert len(FILES) >= FEWEST_FILES
    assert all(expected(file.read_text(encoding="utf-8"))[1] for file in FILES)


def test_all_mistakes_of_a_file_are_reported_in_one_run() -> None:
    text = (HERE / "books" / "small.yaml").read_text(encoding="utf-8")
    for right, wrong in (
        ("effort: glance", "effort: a-glance"),
        ("at least 85 °C, stage", "at least 85 g, stage"),
        ("points away from: flour-short", "points away from: flour-long"),
        ("see: a-book, at: page 4", "see: a-boot, at: page 4"),
        ("minutes: 30", "minutes: thirty"),
        ("story: The paste", "storey: The paste"),
    ):
        assert right in text
        text = text.replace(right, wrong, 1)
    said = [str(problem) for problem in problems_of(text, "small.yaml")]
    for word in ("a-glance", '"g"', "flour-long", "a-boot", "thirty", "storey"):
        assert any(word in sentence for sentence in said), said
    assert len(said) == 6


def test_a_misspelt_key_is_not_missing_as_well() -> None:
    text = (HERE / "books" / "small.yaml").read_text(encoding="utf-8")
    problems = problems_of(
        text.replace("    points to: flour-short", "    point to: flour-short"), "x"
    )
    assert [problem.what for problem in problems] == ['"point to" is not a word this file knows.']
