"""The lints: each catches what it is for, and leaves a good book alone."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest

from diagnose.checking.audit import Audits
from diagnose.checking.fixed_names import CAUSES, READINGS, REMEDIES, SIGNS, FixedNames
from diagnose.checking.lint import Lint
from diagnose.checking.lints import Found, all_lints, check_book
from diagnose.checking.rule_lints import NeverSpeaks, NotDecidedYet
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
    elsewhere = {"fixed names", "source unused", "not decided"}
    assert caught == {lint.name for lint in all_lints()} - elsewhere


WHY, ITS_WHY = "    why: The look is real by then.\n", "    why: It is made up.\n"
ROW_WHY = "    why: Burning takes heat.\n"
GROUP = "    group: one-look\n"
FOLLOWED: Mapping[str, tuple[tuple[str, str], ...]] = {
    "rule-that-can-never-speak": (("paste-temperature: below 75 °C}", "paste-body: one-mass}"),),
    "rule-waits-for-nobody": (("when: {lid-was-on: present, ", "when: {"),),
    "opposite-conclusions": (
        ("present, paste-body: not one-mass", "present, paste-body: one-mass"),
    ),
    "exception-unconfirmed": (
        (WHY, GROUP + WHY),
        ("    strength: strong\n" + ITS_WHY, "    strength: decisive\n" + GROUP + ITS_WHY),
    ),
    "redundant-finding": (("temperature: at least 90 °C", "temperature: at least 80 °C"),),
    "redundant-weight": (
        (WHY, GROUP + WHY),
        ("    strength: moderate\n", "    strength: decisive\n" + GROUP),
    ),
    "redundant-in-a-group": (("strength: moderate", "strength: decisive"),),
    "counted-twice": ((ROW_WHY, GROUP + ROW_WHY), (ITS_WHY, GROUP + ITS_WHY)),
    "said-twice": ((ROW_WHY, GROUP + ROW_WHY), (ITS_WHY, GROUP + ITS_WHY)),
    "question-changes-nothing": (("clean: slight for", "clean: slight against"),),
    "rule-changes-nothing": (("points to: scorched", "points to: all-well"),),
    "far-from-adding-up": (("one-mass: decisive for", "one-mass: moderate for"),),
}
"""A broken file, and what turns it into one that its lint leaves alone."""


@pytest.mark.parametrize("name", FOLLOWED)
def test_who_follows_a_recommendation_is_left_alone(name: str) -> None:
    text = (HERE / "broken" / f"{name}.yaml").read_text(encoding="utf-8")
    said = text.splitlines()[0].split(" | ")[1]
    caught = {found.lint.name for found in lints_of(text) if said in str(found.problem)}
    assert len(caught) == 1
    _, text = text.split("\n", 1)
    for old, new in FOLLOWED[name]:
        assert text.count(old) == 1, (old, text.count(old))
        text = text.replace(old, new)
    assert caught.isdisjoint(found.lint.name for found in lints_of(text))


def lints_of(text: str) -> list[Found]:
    """What the lints that need only a file find in a dough."""
    sources = read_sources((BOOKS / "sources.yaml").read_text(encoding="utf-8"), "sources.yaml")[0]
    dough, problems = read_dough(text, "made-up.yaml", sources)
    assert dough is not None, problems
    return check_book(Book(version="made up", doughs=(dough,), sources=sources), all_lints())


def test_rules_that_merely_overlap_are_not_reported() -> None:
    """Neither a second opinion on part of the same facts nor an opposite one."""
    text = (HERE / "broken" / "exception-unconfirmed.yaml").read_text(encoding="utf-8")
    for outcome in ("points away from", "points to"):
        overlapping = text.replace(
            ", paste-body: slumps}\n    points away from", f"}}\n    {outcome}"
        )
        assert overlapping != text
        names = {found.lint.name for found in lints_of(overlapping)}
        assert names.isdisjoint({"exception", "redundant", "opposite conclusions"})


def test_retired_rules_are_left_out_of_the_comparison() -> None:
    text = (HERE / "broken" / "redundant-finding.yaml").read_text(encoding="utf-8")
    retired = text.replace("standing: tried", "standing: retired")
    assert retired != text
    assert "redundant" not in {found.lint.name for found in lints_of(retired)}


def test_a_search_that_takes_too_long_is_said_to_be_undecided(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    audits = Audits(budget=1)
    assert all("never" not in p.what for p in NeverSpeaks(audits).check(dough, book.book))
    found = NotDecidedYet(audits).check(dough, book.book)
    assert found
    assert all(problem.what.startswith("not decided: whether it ") for problem in found)
    assert NotDecidedYet(Audits()).check(dough, book.book) == []


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
