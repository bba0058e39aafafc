"""What right looks like for this formula in this kitchen."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.kitchen.atmosphere import boil_in_words, water_boils_at_c
from diagnose.kitchen.balance import paste_class, starch_g, starch_share, water_g
from diagnose.kitchen.estimates import Estimate
from diagnose.kitchen.panweight import should_hold_g
from diagnose.kitchen.starch import GATE_C, GATE_MIN

from .formula import Amounts

SIMMER_MIN = Estimate(5, 6, 7)
BEAT_MIN = Estimate(4, 4.5, 5)
"""Simmer the milk 5 to 7 minutes, beat 4 to 5 until it pulls away (common practice, no source)."""
HIGH_BEAT_MIN = Estimate(5, 6.5, 8)
"""The same from 7,000 ft up (derived, house rule)."""
HIGH_M = 2133.6


@dataclass(frozen=True, slots=True)
class Targets:
    """Figures to cook to. ``share`` (c) is for logs; a cook is shown ``paste``."""

    boil_c: float | None
    boil_say: str
    pan_holds_g: Estimate
    """Without the pan: print to the nearest 5."""
    share: float
    paste: str
    hotter_than_c: float
    for_min: float
    simmer: Estimate
    beat: Estimate
    salt_percent: float


def targets(amounts: Amounts, elevation_m: float | None = None) -> Targets:
    """Targets for these amounts; without an elevation no boil is given.

    Elevation -430 to 3,500 m, ``ValueError`` outside and for a paste there is no word for. Mass
    balance: the house batch ends at c 15.5 in a pan holding 529 to 559 g.

    >>> from .formula import HOUSE
    >>> found = targets(HOUSE, 2310)
    >>> found.boil_say, found.paste, found.pan_holds_g.rounded(5).say()
    ('about 92 °C (198 °F)', 'panada', '530 to 560 g')
    """
    boil_c = None if elevation_m is None else water_boils_at_c(elevation_m)
    share = starch_share(
        starch_g(amounts.flour_g),
        water_g(amounts.milk_g, amounts.flour_g, amounts.driven_off_g),
    )
    return Targets(
        boil_c=boil_c,
        boil_say="" if boil_c is None else boil_in_words(boil_c),
        pan_holds_g=should_hold_g(amounts.milk_g, amounts.flour_g, amounts.salt_g),
        share=share,
        paste=paste_class(share).word,
        hotter_than_c=GATE_C,
        for_min=GATE_MIN,
        simmer=SIMMER_MIN,
        beat=HIGH_BEAT_MIN if elevation_m is not None and elevation_m >= HIGH_M else BEAT_MIN,
        salt_percent=amounts.salt_percent,
    )
