"""Cases that may be the same failure told twice: same dough and stage, near in time, alike."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from sqlalchemy import select

from .cases import Head, head_from
from .connecting import Store
from .moments import from_text, to_text
from .problems import UnknownCase
from .tables import kept_case

WITHIN = timedelta(hours=3)
"""Two tellings of one batch lie no further apart; house rule."""
ALIKE = 0.5
"""Share of answers that agree, of all that either told, from which two cases are offered as one;
house rule."""
MOST = 3


@dataclass(frozen=True, slots=True)
class Alike:
    """A case that may be the same, and how alike it is (0 to 1)."""

    head: Head
    alike: float


def alike(store: Store, id: str) -> tuple[Alike, ...]:
    """The cases that may be the same as this one, the most alike first; at most three.

    Cases of one consultation always are. Raises `UnknownCase`.
    """
    with store.reading() as connection:
        own = connection.execute(select(kept_case).where(kept_case.c.id == id)).one_or_none()
        if own is None:
            raise UnknownCase
        opened = from_text(own.opened)
        near = kept_case.c.opened.between(to_text(opened - WITHIN), to_text(opened + WITHIN))
        wanted = select(kept_case).where(
            kept_case.c.dough == own.dough,
            kept_case.c.stage == own.stage,
            kept_case.c.id != id,
            kept_case.c.standing != "same-as",
            near,
        )
        rows = connection.execute(wanted.order_by(kept_case.c.number).limit(50)).all()
    told = _told(own)
    found = []
    for row in rows:
        share = (
            1.0 if own.token is not None and own.token == row.token else _share(told, _told(row))
        )
        if share >= ALIKE:
            found.append(Alike(head_from(row), share))
    return tuple(sorted(found, key=lambda one: -one.alike)[:MOST])


def _told(row: Any) -> dict[str, object]:
    situation = json.loads(row.situation)
    found: dict[str, object] = {"elevation": row.elevation_m}
    for key in ("signs", "readings"):
        if isinstance(situation.get(key), Mapping):
            found.update(situation[key])
    return found


def _share(one: dict[str, object], other: dict[str, object]) -> float:
    """How many answers agree, of all that either told."""
    same = sum(1 for name in one.keys() & other.keys() if one[name] == other[name])
    return same / len(one.keys() | other.keys())
