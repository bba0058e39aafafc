"""Consultations: everything a cook told, in the order told. Appended to, never changed.

An answer that changes is told again; `latest` finds the one that counts. Every telling carries
an idempotency key, made by whoever printed the form, so that a double tap or a retry on bad
Wi-Fi is stored once. What kinds of entry there are is not decided here.
"""

import json
import re
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy import Connection, func, select

from diagnose.knowledge.case import JSON

from .connecting import Store
from .moments import from_text, now, to_text
from .problems import KeyReused, NotStorable, UnknownConsultation
from .storing import check_words, insert_once, to_json
from .tables import consultation, entry

__all__ = [
    "JSON",
    "Consultation",
    "Entry",
    "KeyReused",
    "NotStorable",
    "UnknownConsultation",
    "append",
    "append_all",
    "latest",
    "load",
    "open_consultation",
    "tell",
    "told_since",
]

TOKEN_BYTES = 16

_TOKEN = re.compile(r"[A-Za-z0-9_-]{22}")


@dataclass(frozen=True)
class Entry:
    """One thing told: `number` counts from 1 in its consultation; `at` is aware, in UTC."""

    number: int
    kind: str
    name: str
    value: JSON
    at: datetime


@dataclass(frozen=True)
class Consultation:
    """One cook's conversation about one dough, as told so far. The token is its key."""

    token: str
    dough: str
    opened: datetime
    entries: tuple[Entry, ...]


def open_consultation(store: Store, dough: str, key: str, *, at: datetime | None = None) -> str:
    """Open a consultation and return its token; the same key gives the same token again.

    The token is 16 random bytes (128 bits) in 22 characters that may stand in an address
    (RFC 4648 section 5, unpadded). `at` is when, aware; the present if not given. Keys for
    opening and for appending are apart, so one form may use one key for both. Raises
    `KeyReused` if the key already opened a consultation about another dough, `NotStorable`
    for a dough or key that is empty, unprintable or over 200 characters.
    """
    check_words(dough=dough, key=key)
    row = {
        "token": secrets.token_urlsafe(TOKEN_BYTES),
        "dough": dough,
        "opened": to_text(at or now()),
        "idempotency_key": key,
    }
    with store.writing() as connection:
        if insert_once(store, connection, consultation, row, ["idempotency_key"]):
            return row["token"]
        known = connection.execute(
            select(consultation).where(consultation.c.idempotency_key == key)
        ).one()
    if known.dough != dough:
        raise KeyReused(
            f'This form already opened a consultation about "{known.dough}" and cannot open one '
            f'about "{dough}"; load the page again.'
        )
    return str(known.token)


def append(
    store: Store,
    token: str,
    key: str,
    kind: str,
    name: str,
    value: JSON,
    *,
    at: datetime | None = None,
) -> bool:
    """Store one thing told; True if it is new, False if it was stored under this key before.

    Returns only after it is on the disk. Otherwise as `append_all`.
    """
    return append_all(store, token, key, [(kind, name, value)], at=at)


def append_all(
    store: Store,
    token: str,
    key: str,
    entries: Sequence[tuple[str, str, JSON]],
    *,
    at: datetime | None = None,
) -> bool:
    """Store several things told together, all or none; True if new, False if stored before.

    As `tell`, without handing back what was stored.
    """
    return _tell(store, token, key, entries, at) is not None


def tell(
    store: Store,
    consultation: Consultation,
    key: str,
    entries: Sequence[tuple[str, str, JSON]],
    *,
    at: datetime | None = None,
) -> Consultation | None:
    """Store several things told together, all or none; None if they were stored before.

    Hands back the consultation with them in it, and with whatever else was told since it was
    loaded. `entries` are (kind, name, value), in the order told; `at` is when, aware; the
    present if not given. Returns only after they are on the disk. Raises `UnknownConsultation`;
    `KeyReused` if the key was used before in another consultation, or in this one for
    anything else; `NotStorable` for no entries at all, a value that is not JSON (tuples,
    keys that are not text, NaN), or words that are empty, unprintable or over 200 characters.
    """
    stored = _tell(store, consultation.token, key, entries, at)
    if stored is None:
        return None
    if stored[0].number != len(consultation.entries) + 1:
        # Another phone, or another tap of this one, came in between.
        return load(store, consultation.token)
    return replace(consultation, entries=(*consultation.entries, *stored))


def _tell(
    store: Store,
    token: str,
    key: str,
    entries: Sequence[tuple[str, str, JSON]],
    at: datetime | None,
) -> tuple[Entry, ...] | None:
    check_words(key=key)
    if not entries:
        raise NotStorable("There is nothing to store; give at least one entry.")
    told = []
    for kind, name, value in entries:
        check_words(kind=kind, name=name)
        told.append((kind, name, to_json(f"{kind} {name}", value)))
    moment = to_text(at or now())
    with store.writing() as connection:
        _lock_consultation(connection, token)
        last = connection.scalar(select(func.max(entry.c.number)).where(entry.c.token == token))
        for place, (kind, name, text) in enumerate(told):
            row = {
                "token": token,
                "number": (last or 0) + 1 + place,
                "idempotency_key": key,
                "place": place,
                "kind": kind,
                "name": name,
                "value": text,
                "at": moment,
            }
            if not insert_once(store, connection, entry, row, ["idempotency_key", "place"]):
                # Only the first place can meet an earlier use: a key's places start at 0.
                _check_same(connection, token, key, told)
                return None
    first = (last or 0) + 1
    when = from_text(moment)
    # Read back from the text, so that this is what a later load finds.
    return tuple(
        Entry(first + place, kind, name, json.loads(text), when)
        for place, (kind, name, text) in enumerate(told)
    )


def load(store: Store, token: str) -> Consultation:
    """The consultation with this token and all its entries, in the order told.

    Raises `UnknownConsultation`, also for text that could not be a token.
    """
    if not _TOKEN.fullmatch(token):
        raise UnknownConsultation
    with store.reading() as connection:
        known = connection.execute(
            select(consultation).where(consultation.c.token == token)
        ).one_or_none()
        if known is None:
            raise UnknownConsultation
        rows = connection.execute(
            select(entry).where(entry.c.token == token).order_by(entry.c.number)
        ).all()
    entries = (
        Entry(row.number, row.kind, row.name, json.loads(row.value), from_text(row.at))
        for row in rows
    )
    return Consultation(known.token, known.dough, from_text(known.opened), tuple(entries))


def told_since(store: Store, kind: str, since: datetime) -> tuple[str, ...]:
    """The tokens of the consultations in which an entry of this kind was told since then."""
    wanted = (
        select(entry.c.token)
        .where(entry.c.kind == kind, entry.c.at >= to_text(since))
        .distinct()
        .order_by(entry.c.token)
    )
    with store.reading() as connection:
        return tuple(connection.scalars(wanted))


def latest(told: Consultation) -> Mapping[tuple[str, str], Entry]:
    """The entry that counts for each (kind, name): the last one, in order of first being told.

    A value of None that was told last counts like any other: the entry is there, saying so.

    >>> when = from_text("2024-02-29T12:35:00.000000+00:00")
    >>> slumps = Entry(1, "sign", "paste-body", "slumps", when)
    >>> cook = Entry(2, "reading", "paste-temperature", {"value": 78, "unit": "degC"}, when)
    >>> sticks = Entry(3, "sign", "paste-body", "sticks", when)
    >>> told = Consultation("-" * 22, "milk-panade-slab", when, (slumps, cook, sticks))
    >>> [(name, counts.number) for (kind, name), counts in latest(told).items()]
    [('paste-body', 3), ('paste-temperature', 2)]
    """
    counts: dict[tuple[str, str], Entry] = {}
    for one in told.entries:
        # Writing to a key that is there keeps its place: the order of first being told.
        counts[one.kind, one.name] = one
    return counts


def _lock_consultation(connection: Connection, token: str) -> None:
    # FOR UPDATE makes tellings in one consultation wait for each other on PostgreSQL;
    # SQLite has only one writer at a time and SQLAlchemy leaves the words out.
    wanted = select(consultation.c.token).where(consultation.c.token == token).with_for_update()
    if not _TOKEN.fullmatch(token) or connection.scalar(wanted) is None:
        raise UnknownConsultation


def _check_same(
    connection: Connection, token: str, key: str, told: Iterable[tuple[str, str, str]]
) -> None:
    earlier = connection.execute(
        select(entry).where(entry.c.idempotency_key == key).order_by(entry.c.place)
    ).all()
    if any(row.token != token for row in earlier):
        raise KeyReused("This form belongs to another consultation; load the page again.")
    if [(row.kind, row.name, row.value) for row in earlier] != list(told):
        raise KeyReused(
            "This form was already sent with another answer; load the page again to change it."
        )
