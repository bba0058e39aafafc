"""How the batches kept here came out, for planning how much to have on hand."""

from __future__ import annotations

from sqlalchemy import func, select

from .connecting import Store
from .preparing import HIGH_M, LOW_M, elevation_band
from .tables import kept_case

OWN = ("cook", "instructor")
"""Cases that were kept here; shipped and imported ones tell of other kitchens."""
LOST = ("not-served", "thrown-away")


def batches_lost(store: Store, dough: str, elevation_m: float) -> tuple[int, int]:
    """Batches lost and batches counted, in kitchens of the same band of elevation (metres).

    Only cases kept here with a known end count, each once: one that is the same as another is left
    out. Lost is what could not be served or was thrown away.
    """
    wanted = (
        select(kept_case.c.outcome, func.count())
        .where(
            kept_case.c.dough == dough,
            kept_case.c.outcome.is_not(None),
            kept_case.c.entered_by.in_(OWN),
            kept_case.c.standing != "same-as",
        )
        .group_by(kept_case.c.outcome)
    )
    height = kept_case.c.elevation_m
    band = elevation_band(elevation_m)
    if band != "low":
        wanted = wanted.where(height >= (HIGH_M if band == "high" else LOW_M))
    if band != "high":
        wanted = wanted.where(height < (LOW_M if band == "low" else HIGH_M))
    with store.reading() as connection:
        ends: dict[str, int] = {row[0]: row[1] for row in connection.execute(wanted)}
    return sum(ends.get(outcome, 0) for outcome in LOST), sum(ends.values())
