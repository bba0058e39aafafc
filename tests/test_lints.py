"""The lints: each catches what it is for, and leaves a good book alone."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest

from diagnose.checking.fixed_names import CAUSES, READINGS, REMEDIES, SIGNS, FixedNames
from diagnose.checking.lint import Lint
from diagnose.checking.lints import Found, all_lints, check_book
from diagnose.consulting import OpenBook, open_book
from diagnose.engine.compiling import compile_rules
from diagnose.engine.plain import evaluate
from diagnose.knowledge.book import Book, Dough
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.reading import read_dough
from diagnose.knowledge.reading_sources import read_sources

HERE = Path(__file__).parent
BOOKS = HERE / "books"


def lints_for(opened: OpenBook) -> tuple[Lint, ...]:
    return all_lints(lambda dough, facts: opened.spoke(dough.id, facts), opened.diagnose)


def found_in(opened: OpenBook) -> list[Found]:
    return check_book(opened.book, lints_for(opened))


def in_words(found: list[Found]) -> list[str]:
    return [f"{each.lint.level}: {each.problem}" for each in found]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(BOOKS, tmp_path / "books"))


def test_no_lint_finds_anything_in_the_made_up_books() -> None:
    assert in_words(found_in(open_book(BOOKS))) == []


def test_no_lint_finds_an_error_in_the_shipped_book(book: OpenBook) -> None:
    """Cases beside rules are tried by plain evaluation; that the engine agrees with it is tested
    with the engine, and whole cases are tests of their own."""
    ordered = {dough.id: compile_rules(dough).rules for dough in book.book.doughs}

    def spoke(dough: Dough, facts: Mapping[str, Value]) -> set[str]:
        return {rule.id for rule in evaluate(ordered[dough.id], facts).spoke}

    found = check_book(book.book, all_lints(spoke))
    assert in_words([each for each in found if each.lint.level == "error"]) == []


def test_every_lint_has_a_name_of_its_own_a_level_and_a_recommendation() -> None:
    lints = lints_for(open_book(BOOKS))
    assert len({lint.name for lint in lints}) == len(lints)
    for lint in lints:
        assert lint.level in ("error", "warning", "note")
        assert lint.recommendation.endswith(".")


def test_every_lint_that_needs_only_a_file_is_caught_out_by_a_broken_one() -> None:
    """The others are caught out below."""
    sources = read_sources((BOOKS / "sources.yaml").read_text(encoding="utf-8"), "sources.yaml")[0]
    caught: set[str] = set()
    for file in (HERE / "broken").glob("*.yaml"):
        dough = read_dough(file.read_text(encoding="utf-8"), file.name, sources)[0]
        if dough is not None:
            book = Book(version="made up", doughs=(dough,), sources=sources)
            caught |= {found.lint.name for found in check_book(book, all_lints())}
    elsewhere = {"fixed names", "source unused"}
    assert caught == {lint.name for lint in all_lints()} - elsewhere


def test_a_whole_case_that_comes_out_otherwise_is_an_error(folder: Path) -> None:
    file = folder / "small.yaml"
    text = file.read_text(encoding="utf-8")
    text = text.replace("first cause: undercooked-paste", "first cause: flour-short")
    text = text.replace("first remedy: cook-on-hotter", "first remedy: add-flour")
    text = text.replace("never: [add-flour]", "never: [undercooked-paste, cook-on-hotter]")
    file.write_text(text, encoding="utf-8")
    found = [each for each in found_in(open_book(folder)) if each.lint.level == "error"]
    assert {each.problem.what for each in found} == {
        "the first cause is undercooked-paste, not flour-short.",
        "the first remedy is cook-on-hotter, not add-flour.",
        "undercooked-paste comes first, and must never.",
        "cook-on-hotter is in the plan, and must never be.",
    }


def test_a_source_that_nothing_names_is_said_once_for_the_whole_book(folder: Path) -> None:
    file = folder / "sources.yaml"
    more = "idle-book: {kind: book, by: Nobody, title: Unread, mark: none}\n"
    file.write_text(file.read_text(encoding="utf-8") + more, encoding="utf-8")
    found = found_in(open_book(folder))
    assert [str(each.problem).split(". ")[0] for each in found] == [
        f"sources.yaml, line {file.read_text(encoding='utf-8').count(chr(10))}, "
        "source idle-book: nothing names it"
    ]


def test_fixed_names_are_all_there_in_the_shipped_book(book: OpenBook) -> None:
    dough = book.book.dough("milk-panade-slab")
    assert dough is not None
    assert FixedNames().check(dough, book.book) == []


@pytest.mark.parametrize("name", [*SIGNS, *READINGS, *CAUSES, *REMEDIES])
def test_a_fixed_name_that_is_gone_is_an_error(name: str, book: OpenBook) -> None:
    dough = book.book.dough("milk-panade-slab")
    assert dough is not None
    kept = {
        part: tuple(entry for entry in getattr(dough, part) if entry.id != name)
        for part in ("signs", "readings", "causes", "remedies")
    }
    problems = FixedNames().check(dough.model_copy(update=kept), book.book)
    assert [problem.what.split()[-1] for problem in problems] == [f"{name}."]
