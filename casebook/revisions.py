"""Revisions of the book: who changed which part, when, why, and what stood there before and after.

Appended to, never changed. What the book is now follows from the shipped files and the revisions
in order; taking something back is one more revision.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from sqlalchemy import Connection, Row, func, insert, select

from diagnose.knowledge.editions import Edit, PartName

from .connecting import Store
from .moments import from_text, now, to_text
from .problems import NotStorable
from .tables import revision

Kind = Literal["change", "undo", "roll-back", "import"]
LONGEST_WHY = 500


@dataclass(frozen=True, slots=True)
class Change:
    """One part as it was when the change was made and as it shall be; None is not there."""

    part: PartName
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True)
class Revision:
    """One change that was made. `number` counts from 1; `together` is the first of one go."""

    number: int
    together: int
    part: PartName
    before: str | None
    after: str | None
    who: str
    at: datetime
    why: str
    kind: Kind
    undoes: int | None


class MovedOn(RuntimeError):
    """The book was changed since the change was worked out; nothing was stored."""


def head(store: Store) -> int:
    """The number of the latest revision; 0 before the first."""
    with store.reading() as connection:
        return _head(connection)


def keep(
    store: Store,
    changes: Sequence[Change],
    who: str,
    why: str,
    *,
    after: int,
    kind: Kind = "change",
    undoes: int | None = None,
    at: datetime | None = None,
) -> tuple[int, ...]:
    """Store changes made in one go, all or none, on the disk when this returns; their numbers.

    `after` is the latest revision they were worked out on. Raises `MovedOn` if there is a later
    one, `NotStorable` for no changes, or a reason that is empty or over 500 characters.
    """
    why = " ".join(why.split())
    if not changes:
        raise NotStorable("There is nothing to change.")
    if not 1 <= len(why) <= LONGEST_WHY or not why.isprintable():
        raise NotStorable(f"Say why, in 1 to {LONGEST_WHY} characters.")
    moment = to_text(at or now())
    with store.writing() as connection:
        if not store.is_sqlite:
            connection.exec_driver_sql("LOCK TABLE revision IN EXCLUSIVE MODE")
        if _head(connection) != after:
            raise MovedOn("Somebody changed the book meanwhile. Nothing was stored; look again.")
        rows = [
            {
                "number": after + 1 + place,
                "together": after + 1,
                "dough": change.part.dough,
                "section": change.part.section,
                "name": change.part.name,
                "text_before": change.before,
                "text_after": change.after,
                "who": who,
                "at": moment,
                "why": why,
                "kind": kind,
                "undoes": undoes,
            }
            for place, change in enumerate(changes)
        ]
        connection.execute(insert(revision), rows)
    return tuple(after + 1 + place for place in range(len(changes)))


def all_revisions(store: Store) -> tuple[Revision, ...]:
    """Every revision, in order."""
    with store.reading() as connection:
        rows = connection.execute(select(revision).order_by(revision.c.number)).all()
    return tuple(map(_read, rows))


def edits_of(revisions: Sequence[Revision], upto: int | None = None) -> tuple[Edit, ...]:
    """What revisions make of the book, one edit a part, in the order of each part's first one.

    That order never changes, so two ways to the same state give the same texts.
    """
    last: dict[PartName, str | None] = {}
    for one in revisions:
        if upto is None or one.number <= upto:
            last[one.part] = one.after
    return tuple(Edit(part, text) for part, text in last.items())


def latest(revisions: Sequence[Revision], part: PartName) -> int:
    """The number of the latest revision of a part; 0 if it is as shipped."""
    return max((one.number for one in revisions if one.part == part), default=0)


def _head(connection: Connection) -> int:
    return connection.scalar(select(func.max(revision.c.number))) or 0


def _read(row: Row[tuple[object, ...]]) -> Revision:
    held = row._mapping
    return Revision(
        number=held["number"],
        together=held["together"],
        part=PartName(held["dough"], held["section"], held["name"]),
        before=held["text_before"],
        after=held["text_after"],
        who=held["who"],
        at=from_text(held["at"]),
        why=held["why"],
        kind=held["kind"],
        undoes=held["undoes"],
    )
