"""How long a slab and its pieces keep. The local code decides for a kitchen that sells food."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Keeping:
    """One way of keeping: where, how long, who says so."""

    where: str
    how_long: str
    source: str


KEEPING = (
    Keeping("Slab, covered, cold", "1 to 2 days", "common practice, no source"),
    Keeping(
        "Home limit, cold", "3 to 4 days", "Colorado State University Extension, cooked egg dishes"
    ),
    Keeping("Cut, frozen apart", "1 to 2 months", "US federal cold-storage chart, for quality"),
)
DEFER = (
    "Where food is sold, the local code sets the days. A slab that was not cold in time is "
    "thrown away, however short it was kept."
)
"""*Bacillus cereus* toxin survives frying (Wang and others, abstract)."""
