"""Acts of learning: who let the book use what confirmed cases teach, when, and from which cases.

Appended to, never changed; of a dough the last one counts. An act names every mark it rests on, so
what was learned can be made again exactly, however much has been marked since.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, insert, select

from .connecting import Store
from .listing import Listing, Marked
from .moments import from_text, now, to_text
from .problems import KeyReused
from .storing import alone, check_words
from .tables import act_of_learning as table


@dataclass(frozen=True, slots=True)
class Act:
    """One act of learning. ``number`` counts from 1 over all doughs."""

    number: int
    at: datetime
    who: str
    dough: str
    in_use: bool
    """False: from here on the words alone."""
    cases: int
    """Confirmed cases that were counted."""
    digest: str
    """Of the list of marks; see `casebook.listing`."""
    marked: Marked


def acts(store: Store, dough: str | None = None) -> tuple[Act, ...]:
    """Every act of learning, oldest first."""
    wanted = select(table).order_by(table.c.number)
    if dough is not None:
        wanted = wanted.where(table.c.dough == dough)
    with store.reading() as connection:
        return tuple(map(_read, connection.execute(wanted)))


def last_number(store: Store) -> int:
    """The number of the last act; 0 before the first."""
    with store.reading() as connection:
        return connection.scalar(select(func.max(table.c.number))) or 0


def in_force(store: Store) -> Mapping[str, Act]:
    """By dough, the last act, if it put learning in use."""
    latest = select(func.max(table.c.number)).group_by(table.c.dough)
    wanted = select(table).where(table.c.number.in_(latest), table.c.in_use == 1)
    with store.reading() as connection:
        return {row.dough: _read(row) for row in connection.execute(wanted)}


def use(
    store: Store, key: str, who: str, listing: Listing, cases: int, *, at: datetime | None = None
) -> Act:
    """Let the book use what these cases teach; the same key gives the same act again.

    ``cases`` is how many of the list were counted. Raises `KeyReused` if the key was used for
    another act, `NotStorable` for a name or key that cannot be kept.
    """
    return _append(store, key, who, listing, True, cases, at)


def stop(store: Store, key: str, who: str, dough: str, *, at: datetime | None = None) -> Act:
    """Let the book of a dough go by its words alone; the same key gives the same act again.

    Raises what `use` raises.
    """
    return _append(store, key, who, Listing(dough, (), ""), False, 0, at)


def _append(
    store: Store,
    key: str,
    who: str,
    listing: Listing,
    in_use: bool,
    cases: int,
    at: datetime | None,
) -> Act:
    check_words(key=key, name=who, dough=listing.dough)
    with store.writing() as connection:
        alone(store, connection)
        known = connection.execute(
            select(table).where(table.c.idempotency_key == key)
        ).one_or_none()
        if known is not None:
            act = _read(known)
            if (act.dough, act.in_use, act.digest) != (listing.dough, in_use, listing.digest):
                raise KeyReused("This form already decided otherwise; load the page again.")
            return act
        act = Act(
            (connection.scalar(select(func.max(table.c.number))) or 0) + 1,
            at or now(), who, listing.dough, in_use, cases, listing.digest, listing.marked,
        )  # fmt: skip
        row = {
            "number": act.number,
            "idempotency_key": key,
            "at": to_text(act.at),
            "who": who,
            "dough": act.dough,
            "in_use": int(in_use),
            "cases": cases,
            "digest": act.digest,
            "marked": " ".join(f"{number}:{mark}" for number, mark in act.marked),
        }
        connection.execute(insert(table), row)
    return act


def _read(row: Row[Any]) -> Act:
    pairs = (pair.split(":") for pair in row.marked.split())
    return Act(
        row.number,
        from_text(row.at),
        row.who,
        row.dough,
        bool(row.in_use),
        row.cases,
        row.digest,
        tuple((int(number), int(mark)) for number, mark in pairs),
    )
