"""The ``check`` command: read a book, lint it, and print every problem with what to do."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from .checking.lints import Found, all_lints, check_book
from .consulting import OpenBook
from .knowledge.book import Book, Dough
from .knowledge.loading import RULES, SOURCES, fingerprint, load_book
from .knowledge.phrases import Value
from .knowledge.problems import BrokenBook, Problem
from .knowledge.reading import read_dough
from .knowledge.reading_sources import read_sources


def check_command(files: Sequence[Path]) -> int:
    """Check the shipped book, or these dough files beside the shipped sources; 1 if any error."""
    try:
        book = book_of(files) if files else load_book()
    except BrokenBook as broken:
        for problem in broken.problems:
            print(f"error: {problem}", file=sys.stderr)
        return 1
    found = inspect(book)
    for lint, problem in found:
        print(f"{lint.level}: {problem}")
    rules = sum(len(dough.rules) for dough in book.doughs)
    print(f"{rules} rules read, {len(found)} things to look at.")
    return 1 if any(lint.level == "error" for lint, _ in found) else 0


def inspect(book: Book) -> list[Found]:
    """Everything every lint finds, with the cases beside the rules really run."""
    opened = OpenBook(book)

    def run(dough: Dough, facts: Mapping[str, Value]) -> frozenset[str]:
        return opened.spoke(dough.id, facts)

    return check_book(book, all_lints(run, opened.diagnose))


def book_of(files: Sequence[Path]) -> Book:
    """A book of these dough files; a ``sources.yaml`` beside the first of them wins over ours.

    Raises:
        BrokenBook: with every problem in every file.
    """
    own = files[0].parent / SOURCES
    source_file = own if own.is_file() else RULES / SOURCES
    problems: list[Problem] = []
    texts: dict[str, str] = {}
    for file in (source_file, *files):
        try:
            texts[file.name] = file.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            what = f"it cannot be read ({error})."
            problems.append(Problem(str(file), 0, "", what, "Give the name of a dough file."))
    if problems:
        raise BrokenBook(problems)
    sources, problems = read_sources(texts[source_file.name], SOURCES)
    doughs = []
    for file in files:
        dough, wrong = read_dough(texts[file.name], file.name, sources)
        problems += wrong
        if dough is not None:
            doughs.append(dough)
    if problems:
        raise BrokenBook(problems)
    return Book(version=fingerprint(texts), doughs=tuple(doughs), sources=sources)
