"""What instructors said to suggestions: dismissed, or brought back, with who, when and why.

Appended to, never changed; of a suggestion the last word counts. A suggestion itself is not kept:
it follows from the confirmed cases, and its digest says on which counts it was judged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Row, func, insert, select

from .connecting import Store
from .moments import from_text, now, to_text
from .problems import KeyReused, NotStorable
from .storing import alone, check_words
from .tables import said_to_suggestion as table

Verdict = Literal["dismissed", "brought back"]
LONGEST_WHY = 500


@dataclass(frozen=True, slots=True)
class Said:
    """What somebody said to a suggestion. ``number`` counts from 1 over all doughs."""

    number: int
    at: datetime
    who: str
    dough: str
    suggestion: str
    verdict: Verdict
    why: str
    digest: str
    """Of the counts behind the suggestion at that time."""


def say(
    store: Store,
    key: str,
    who: str,
    dough: str,
    suggestion: str,
    verdict: Verdict,
    why: str,
    digest: str,
    *,
    at: datetime | None = None,
) -> Said:
    """Keep what somebody says to a suggestion; the same key keeps it once.

    Raises `NotStorable` for a reason that is empty or over 500 characters, and `KeyReused` if the
    key said something else.
    """
    why = " ".join(why.split())
    if not 1 <= len(why) <= LONGEST_WHY or not why.isprintable():
        raise NotStorable(f"Say why, in 1 to {LONGEST_WHY} characters.")
    check_words(key=key, name=who, dough=dough, suggestion=suggestion)
    with store.writing() as connection:
        alone(store, connection)
        known = connection.execute(select(table).where(table.c.idempotency_key == key)).first()
        if known is not None:
            said = _read(known)
            if (said.suggestion, said.verdict, said.why) != (suggestion, verdict, why):
                raise KeyReused("This form already said something else; load the page again.")
            return said
        number = (connection.scalar(select(func.max(table.c.number))) or 0) + 1
        row = {
            "number": number,
            "idempotency_key": key,
            "at": to_text(at or now()),
            "who": who,
            "dough": dough,
            "suggestion": suggestion,
            "verdict": verdict,
            "why": why,
            "digest": digest,
        }
        connection.execute(insert(table), row)
        return _read(connection.execute(select(table).where(table.c.number == number)).one())


def dismissed(store: Store, dough: str) -> Mapping[str, Said]:
    """By suggestion, the last word on those of a dough that are dismissed now."""
    latest = select(func.max(table.c.number)).where(table.c.dough == dough)
    wanted = select(table).where(
        table.c.number.in_(latest.group_by(table.c.suggestion)), table.c.verdict == "dismissed"
    )
    with store.reading() as connection:
        return {row.suggestion: _read(row) for row in connection.execute(wanted)}


def all_said(store: Store, dough: str, suggestion: str) -> tuple[Said, ...]:
    """Everything that was said to one suggestion, oldest first."""
    wanted = (
        select(table)
        .where(table.c.dough == dough, table.c.suggestion == suggestion)
        .order_by(table.c.number)
    )
    with store.reading() as connection:
        return tuple(map(_read, connection.execute(wanted)))


def _read(row: Row[Any]) -> Said:
    return Said(
        number=row.number,
        at=from_text(row.at),
        who=row.who,
        dough=row.dough,
        suggestion=row.suggestion,
        verdict=row.verdict,
        why=row.why,
        digest=row.digest,
    )
