"""From confirmed cases in the casebook to the book that uses what they teach.

Learning happens only by an act (`casebook.acts`): what is in use at a start is made again from the
marks that the last act names, with the words of the book as it is now.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Book, Dough
from diagnose.knowledge.case import Case, Mark
from diagnose.learning.cases import ConfirmedCase, answers_of
from diagnose.learning.recalibrating import Learned, learn
from diagnose.reasoning.likelihood import Asked, asked_parts

from .acts import Act, in_force, last_number
from .before import NotReadable, Reader
from .connecting import Store
from .listing import Listing, Marked, cases_in, listing_of
from .progress import Progress, silent


@dataclass(frozen=True, slots=True)
class Records:
    """The cases of a list as learning takes them."""

    listing: Listing
    cases: tuple[ConfirmedCase, ...]
    marked: Marked
    """Which mark of which kept case each of them rests on."""
    aside: tuple[tuple[str, str], ...]
    """(case, reason) of those that this book cannot make sense of."""


def confirmed_case(
    case: Case, mark: Mark, reader: Reader, parts: Sequence[Asked] | None = None
) -> ConfirmedCase:
    """What a confirmed case teaches by. Raises `NotReadable` if this book cannot read it.

    ``parts``: the looks of the dough (``asked_parts``), where many cases are read.
    """
    before = reader.before(case)
    situation = before.situation
    thought = case.thought
    height = situation.kitchen.elevation_m
    return ConfirmedCase(
        id=case.id,
        dough=case.dough,
        stage=situation.stage,
        answers=answers_of(reader.dough, situation, parts),
        causes=mark.causes,
        elevation_m=case.elevation_m if height is None else height,
        thought=dict(thought.causes) if thought else {},
        advised=thought.first_remedy if thought else None,
        right_first=mark.first_remedy,
        tried=before.tried,
        asked=before.asked,
        outcome=case.outcome,
        note=case.note or "",
        situation=situation,
    )


def records(store: Store, dough: Dough, listed: Listing, progress: Progress = silent) -> Records:
    """The cases of a list, read for this book, in the order of their keeping."""
    reader, parts = Reader(dough), asked_parts(dough)
    found, marked, aside = [], [], []
    told = cases_in(store, listed.marked, progress)
    for pair, (case, mark) in zip(listed.marked, told, strict=True):
        try:
            found.append(confirmed_case(case, mark, reader, parts))
            marked.append(pair)
        except NotReadable as problem:
            aside.append((case.id, str(problem)))
    return Records(listed, tuple(found), tuple(marked), tuple(aside))


class Teacher:
    """Opens books of one casebook with what is in use of what its confirmed cases taught.

    The cases of the last act are read once and kept for as long as a book asks the same looks: a
    change of words, as in a trial, then costs only the counting.
    """

    def __init__(self, store: Store, progress: Progress = silent) -> None:
        self._store, self._progress = store, progress
        self._read: dict[str, tuple[object, tuple[ConfirmedCase, ...]]] = {}
        self._lock = threading.Lock()

    def __call__(self, book: Book) -> OpenBook:
        """A book, compiled. Raises what `OpenBook` raises."""
        return OpenBook(book, self.learned(book))

    def latest(self) -> int:
        """The number of the last act of learning; 0 before the first."""
        return last_number(self._store)

    def know(self, dough: Dough, act: Act, cases: tuple[ConfirmedCase, ...]) -> None:
        """Take the cases of an act from whoever has just read them for this dough."""
        with self._lock:
            self._read[dough.id] = (_about(dough, act), cases)

    def learned(self, book: Book) -> dict[str, Learned]:
        """By dough, what is in use: from the cases of the last act, for this book's words.

        An act whose marks are not all there as they were cannot be made again; its dough is left
        to its words alone, and the diagnosis says so (``learned`` is 0).
        """
        found = {}
        acts = in_force(self._store)
        for dough in book.doughs:
            act = acts.get(dough.id)
            cases = None if act is None else self._cases(dough, act)
            if cases is not None:
                found[dough.id] = learn(dough, cases)
        return found

    def _cases(self, dough: Dough, act: Act) -> tuple[ConfirmedCase, ...] | None:
        about = _about(dough, act)
        with self._lock:
            known = self._read.get(dough.id)
            if known is not None and known[0] == about:
                return known[1]
            listed = listing_of(self._store, dough.id, act.marked)
            if listed.digest != act.digest:
                return None
            cases = records(self._store, dough, listed, self._progress).cases
            self._read[dough.id] = (about, cases)
            return cases


def _about(dough: Dough, act: Act) -> object:
    """What the reading of cases goes by."""
    changes = tuple((remedy.id, remedy.changes) for remedy in dough.remedies)
    return act.number, dough.signs, dough.readings, dough.computed, dough.stages, changes


def learned(store: Store, book: Book, progress: Progress = silent) -> dict[str, Learned]:
    """By dough, what is in use now; see `Teacher`."""
    return Teacher(store, progress).learned(book)


def opened(store: Store, book: Book, progress: Progress = silent) -> OpenBook:
    """A book, compiled, with what confirmed cases teach where an act put that in use.

    Raises what `OpenBook` raises.
    """
    return Teacher(store, progress)(book)
