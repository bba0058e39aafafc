"""What every table's writing shares: words that can be stored, JSON that comes back, once only."""

import json
from collections.abc import Mapping

from sqlalchemy import Connection, Insert, Table, text
from sqlalchemy.dialects import postgresql, sqlite

from diagnose.knowledge.case import JSON

from .connecting import Store
from .problems import NotStorable

LONGEST = 200
"""The most characters a dough, kind, name or idempotency key may have."""

_ALONE = 4_207_849_484_401
"""Any number that no other use of the database takes."""


def alone(store: Store, connection: Connection) -> None:
    """Wait until nobody else adds to the cases or brings the database up to date.

    And keep others waiting until this transaction ends. SQLite has one writer at a time anyway;
    keeping, marking and importing are rare beside answering, which does not wait for them.
    """
    if not store.is_sqlite:
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _ALONE})


def check_words(**words: str) -> None:
    """Raise `NotStorable` for a word that is empty, unprintable or over 200 characters."""
    for what, word in words.items():
        if not 0 < len(word) <= LONGEST or not word.isprintable():
            raise NotStorable(
                f"The {what} {word[:40]!r} cannot be stored; give 1 to {LONGEST} printable "
                "characters."
            )


def to_json(what: str, value: JSON) -> str:
    """The value as JSON text; `NotStorable` if it would not come back the same."""
    try:
        written = json.dumps(value, allow_nan=False, sort_keys=True)
        same = bool(json.loads(written) == value)
    except (TypeError, ValueError, RecursionError) as problem:
        raise NotStorable(f"The value of {what} cannot be stored as JSON ({problem}).") from problem
    if not same:
        # Tuples would come back as lists, and keys that are not text as text.
        raise NotStorable(
            f"The value of {what} would come back different from JSON; give only lists, text, "
            "numbers, true, false, null, and objects whose keys are text."
        )
    return written


def insert_once(
    store: Store,
    connection: Connection,
    table: Table,
    row: Mapping[str, object],
    on: list[str],
) -> bool:
    """Insert a row unless one with the same `on` columns is there; whether it was inserted."""
    # The two dialects agree on the method but share no class that declares it.
    statement: Insert
    if store.is_sqlite:
        statement = sqlite.insert(table).on_conflict_do_nothing(index_elements=on)
    else:
        statement = postgresql.insert(table).on_conflict_do_nothing(index_elements=on)
    # What comes back tells whether a row went in; a row count is not promised for inserts.
    inserted = connection.execute(statement.values(**row).returning(table.c[on[0]]))
    return inserted.first() is not None
