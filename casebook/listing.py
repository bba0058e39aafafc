"""The list of confirmed cases at one moment: which mark of which case counts, and its digest.

A case never changes and a mark never does, so the list alone fixes what the cases teach.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, select

from diagnose.knowledge.case import Case, Mark

from .connecting import Store
from .preparing import case_from, mark_from
from .progress import Progress, silent
from .tables import case_mark, kept_case

AT_A_TIME = 500
"""Cases read at once: few enough that a phone's write never waits long for the reading."""

_Row = Any
"""A row with a case's id, its mark's number, and what the mark says."""

Marked = tuple[tuple[int, int], ...]
"""(number of the case, number of its mark), in order."""


@dataclass(frozen=True, slots=True)
class Listing:
    """Which confirmed cases there are of one dough."""

    dough: str
    marked: Marked
    digest: str
    """SHA-256 over the names of the cases and what their marks say."""
    shipped: int = 0
    """Confirmed, but shipped with the program: invented, so they teach nothing."""

    def __len__(self) -> int:
        return len(self.marked)


def listing(store: Store, dough: str) -> Listing:
    """The cases of a dough whose last mark confirms them, now."""
    last = (
        select(case_mark.c.case_number, func.max(case_mark.c.number).label("number"))
        .group_by(case_mark.c.case_number)
        .subquery()
    )
    wanted = (
        select(
            kept_case.c.number,
            kept_case.c.id,
            kept_case.c.entered_by,
            case_mark.c.number.label("mark"),
            case_mark.c.causes,
            case_mark.c.first_remedy,
        )
        .join(case_mark, case_mark.c.case_number == kept_case.c.number)
        .join(
            last,
            (last.c.case_number == case_mark.c.case_number) & (last.c.number == case_mark.c.number),
        )
        .where(kept_case.c.standing == "confirmed", kept_case.c.dough == dough)
        .order_by(kept_case.c.number)
    )
    with store.reading() as connection:
        rows = connection.execute(wanted).all()
    real = [row for row in rows if row.entered_by != "shipped"]
    return Listing(
        dough, tuple((row.number, row.mark) for row in real), _digest(real), len(rows) - len(real)
    )


def count_of_marks(store: Store) -> int:
    """How many marks were ever set; none is ever taken away."""
    with store.reading() as connection:
        return connection.scalar(select(func.count()).select_from(case_mark)) or 0


def titles(store: Store, dough: str) -> dict[str, str]:
    """What each confirmed case of a dough is called."""
    wanted = select(kept_case.c.id, kept_case.c.title).where(
        kept_case.c.standing == "confirmed", kept_case.c.dough == dough
    )
    with store.reading() as connection:
        return {str(row.id): str(row.title) for row in connection.execute(wanted)}


def listing_of(store: Store, dough: str, marked: Marked) -> Listing:
    """The list of these marks; one that is no longer there is missing from it and its digest."""
    found: list[_Row] = []
    for part in _parts(marked):
        wanted = select(
            kept_case.c.number,
            kept_case.c.id,
            case_mark.c.number.label("mark"),
            case_mark.c.causes,
            case_mark.c.first_remedy,
        ).join(case_mark, case_mark.c.case_number == kept_case.c.number)
        with store.reading() as connection:
            rows = connection.execute(wanted.where(_within(part))).all()
        among = set(part)
        found += [row for row in rows if (row.number, row.mark) in among]
    found.sort(key=lambda row: row.number)
    return Listing(dough, tuple((row.number, row.mark) for row in found), _digest(found))


def cases_in(
    store: Store, marked: Marked, progress: Progress = silent
) -> Iterator[tuple[Case, Mark]]:
    """The cases of a list with the marks that count, in its order."""
    done = 0
    for part in _parts(marked):
        progress("cases read", done, len(marked))
        with store.reading() as connection:
            cases = connection.execute(
                select(kept_case).where(kept_case.c.number.between(part[0][0], part[-1][0]))
            ).all()
            marks = connection.execute(select(case_mark).where(_within(part))).all()
        said = {(row.case_number, row.number): row for row in marks}
        kept = {row.number: row for row in cases}
        for number, mark in part:
            yield case_from(kept[number]), mark_from(said[number, mark])
        done += len(part)
    progress("cases read", done, len(marked))


def _parts(marked: Marked) -> Iterator[Marked]:
    for first in range(0, len(marked), AT_A_TIME):
        yield marked[first : first + AT_A_TIME]


def _within(part: Marked) -> Any:
    return case_mark.c.case_number.between(part[0][0], part[-1][0])


def _digest(rows: Sequence[_Row]) -> str:
    lines = sorted(f"{row.id} {row.mark} {row.causes} {row.first_remedy or ''}" for row in rows)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()
