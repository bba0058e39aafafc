"""From confirmed cases in the casebook to the book that uses what they teach.

Learning happens only by an act (`casebook.acts`): what is in use at a start is made again from the
marks that the last act names, with the words of the book as it is now.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Book, Dough
from diagnose.knowledge.case import Case, Mark
from diagnose.learning.cases import ConfirmedCase, answers_of
from diagnose.learning.recalibrating import Learned, learn
from diagnose.reasoning.likelihood import Asked, asked_parts

from .acts import in_force
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


def learned(store: Store, book: Book, progress: Progress = silent) -> dict[str, Learned]:
    """By dough, what is in use: made again from the cases of the last act, for this book's words.

    An act whose marks are not all there as they were cannot be made again; its dough is left to
    its words alone, and the diagnosis says so (``learned`` is 0).
    """
    found = {}
    acts = in_force(store)
    for dough in book.doughs:
        act = acts.get(dough.id)
        if act is not None:
            listed = listing_of(store, dough.id, act.marked)
            if listed.digest == act.digest:
                found[dough.id] = learn(dough, records(store, dough, listed, progress).cases)
    return found


def opened(store: Store, book: Book, progress: Progress = silent) -> OpenBook:
    """A book, compiled, with what confirmed cases teach where an act put that in use.

    Raises what `OpenBook` raises.
    """
    return OpenBook(book, learned(store, book, progress))


def learned_says(taught: Mapping[str, Learned]) -> str:
    """One line for whoever starts the program; empty if the words alone are used."""
    counts = [f"{one.cases:,} confirmed cases of {name}" for name, one in sorted(taught.items())]
    return f"In use: what {' and '.join(counts)} teach." if counts else ""
