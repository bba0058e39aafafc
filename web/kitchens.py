"""The demo school's three teaching kitchens, invented, and the rough guesses of elevation."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TeachingKitchen:
    """A kitchen of the invented school; elevation in metres."""

    id: str
    name: str
    elevation_m: float


KITCHENS = (
    TeachingKitchen("harbour", "Harbour", 6),
    TeachingKitchen("orchard", "Orchard", 640),
    TeachingKitchen("summit", "Summit", 2310),
)


@dataclass(frozen=True, slots=True)
class RoughPlace:
    """A guess for a cook who knows no number: house rule, good to some hundred metres."""

    id: str
    say: str
    elevation_m: float


ROUGH_PLACES = (
    RoughPlace("sea", "Near sea level", 0),
    RoughPlace("hills", "In the hills", 700),
    RoughPlace("mountains", "In the mountains", 2000),
)
