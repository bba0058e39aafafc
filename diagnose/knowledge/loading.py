"""Loading a whole book: every file of a folder, or every problem in them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

from .book import Book, Dough, SourceEntry
from .problems import BrokenBook, Problem
from .reading import read_dough
from .reading_sources import read_sources

SOURCES = "sources.yaml"
RULES = Path(__file__).resolve().parents[2] / "rules"
"""The shipped knowledge, beside the program."""
_FINGERPRINT_LETTERS = 12


def load_book(folder: Path | None = None) -> Book:
    """The book in a folder, the shipped one if none is named.

    Raises BrokenBook with every problem of every file if anything in it cannot be used.
    """
    return load_texts(texts_of(folder))


def texts_of(folder: Path | None = None) -> dict[str, str]:
    """The files of a book, by name, the shipped ones if no folder is named.

    Raises BrokenBook if there are none, or one cannot be read as text.
    """
    texts, problems = _texts(RULES if folder is None else folder)
    if problems:
        raise BrokenBook([*problems, *_book_of(texts)[1]] if texts else problems)
    return texts


def load_texts(texts: Mapping[str, str]) -> Book:
    """The book in these files, by name.

    Raises BrokenBook with every problem of every file if anything in it cannot be used.
    """
    book, problems = _book_of(texts)
    if book is None:
        raise BrokenBook(problems)
    return book


def _book_of(texts: Mapping[str, str]) -> tuple[Book | None, list[Problem]]:
    problems: list[Problem] = []
    sources, source_problems = _sources(texts)
    problems += source_problems
    doughs: list[Dough] = []
    for name in sorted(texts.keys() - {SOURCES}):
        dough, found = read_dough(texts[name], name, None if source_problems else sources)
        problems += found
        if dough is not None:
            problems += _same_name(dough, doughs)
            doughs.append(dough)
    if problems:
        return None, problems
    return Book(version=fingerprint(texts), doughs=tuple(doughs), sources=sources), []


def fingerprint(texts: Mapping[str, str]) -> str:
    """The version of a book: a short SHA-256 over its files, the same in whatever order they come.

    >>> fingerprint({"a": "1", "b": "2"}) == fingerprint({"b": "2", "a": "1"})
    True
    """
    total = hashlib.sha256()
    for name in sorted(texts):
        total.update(hashlib.sha256(name.encode()).digest())
        total.update(hashlib.sha256(texts[name].encode("utf-8", "surrogatepass")).digest())
    return total.hexdigest()[:_FINGERPRINT_LETTERS]


def _texts(folder: Path) -> tuple[dict[str, str], list[Problem]]:
    files = sorted(folder.glob("*.yaml")) if folder.is_dir() else []
    if not any(file.name != SOURCES for file in files):
        what = f"there is no knowledge file in the folder {folder.name}."
        advice = "This program is run from its own folder: start it there."
        return {}, [Problem(folder.name, 0, "", what, advice)]
    texts: dict[str, str] = {}
    problems: list[Problem] = []
    for file in files:
        try:
            texts[file.name] = file.read_text(encoding="utf-8")
        except UnicodeDecodeError as error:
            line = error.object[: error.start].count(b"\n") + 1
            what = "the file holds a letter that is not written in UTF-8."
            problems.append(Problem(file.name, line, "", what, "Save it as UTF-8."))
    return texts, problems


def _sources(texts: Mapping[str, str]) -> tuple[tuple[SourceEntry, ...], list[Problem]]:
    if SOURCES in texts:
        return read_sources(texts[SOURCES], SOURCES)
    advice = "Add it: every statement names its source there."
    return (), [Problem(SOURCES, 0, "", "there is no file of sources.", advice)]


def _same_name(dough: Dough, earlier: list[Dough]) -> list[Problem]:
    return [
        Problem(
            dough.file,
            1,
            "",
            f'the name "{dough.id}" is already used by {other.file}.',
            "Give each dough its own name.",
        )
        for other in earlier
        if other.id == dough.id
    ]
