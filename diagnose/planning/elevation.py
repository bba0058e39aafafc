"""Flour at a height: the practice and the water balance side by side, and the one that is chosen.

The practice is stated for one height only: about 2 tablespoons more flour for 2 cups of milk at
7,000 ft (common practice, no source). One point is not a line, so no flour is printed for other
heights. No published figure for a milk-and-flour paste is known to us. The model: at equal burner
power evaporation changes by about 1 % with height, at an equal look of simmer by about 15 %, worth
0 to 0.35 tablespoons; it neither explains the practice nor refutes it.
"""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.kitchen.atmosphere import boil_in_words, water_boils_at_c
from diagnose.kitchen.balance import paste_class, possible_classes, starch_g, starch_share, water_g
from diagnose.kitchen.doses import HIGH_KITCHEN_M
from diagnose.kitchen.estimates import Estimate
from diagnose.kitchen.evaporation import batch_size
from diagnose.kitchen.measuring import FLOUR_SPOON_G
from diagnose.kitchen.refusing import plain

from .formula import Amounts

PRACTICE_AT_M = 2133.6
PRACTICE_WITHIN_M = 300.0
"""A kitchen this near to 7,000 ft may take the practice whole (house rule)."""
PRACTICE_SPOONS = 2.0
MODEL_SPOONS = (0.0, 0.35)
"""At equal power, and at an equal look of simmer (derived)."""
CHOICES = ("book", "practice")


@dataclass(frozen=True, slots=True)
class Side:
    """One side of the comparison: more flour (g), what the paste then is by the sums, words."""

    more_flour_g: Estimate
    classes: tuple[str, ...]
    say: str


@dataclass(frozen=True, slots=True)
class FlourAtHeight:
    """Both sides, and what was chosen."""

    elevation_m: float
    boil_c: float
    practice: Side | None
    """None below 900 m: the practice is not offered there."""
    model: Side
    chosen: str
    flour_g: float
    """Flour to start with."""
    on_hand_g: float
    """Flour to have ready beyond it, to go in by the spoon."""
    say: str


def _classes(amounts: Amounts, flour_g: float) -> tuple[str, ...]:
    share = starch_share(starch_g(flour_g), water_g(amounts.milk_g, flour_g, amounts.driven_off_g))
    paste_class(share)
    return tuple(found.word for found in possible_classes(share))


def flour_at_height(amounts: Amounts, elevation_m: float, choice: str = "book") -> FlourAtHeight:
    """Flour for these amounts at ``elevation_m`` (-430 to 3,500 m), by the book or by practice.

    "book", the usual choice: the book's amount, the paste past 85 °C for 3 minutes, then by the
    spoon. "practice": 2 tablespoons more for 500 g of milk, only within 300 m of 7,000 ft.
    ``ValueError`` outside, for another choice, and for flour so far off that there is no word for
    the paste. By the sums two tablespoons take the house batch just over the stiff edge.

    >>> from .formula import HOUSE
    >>> high = flour_at_height(HOUSE, 2310)
    >>> high.flour_g, high.on_hand_g, high.practice.classes
    (100, 15.625, ('panada', 'stiff'))
    """
    boil_c = water_boils_at_c(elevation_m)
    if choice not in CHOICES:
        raise ValueError(f'"{choice}" is not a choice of flour. Accepted: {", ".join(CHOICES)}.')
    spoon_g = FLOUR_SPOON_G * batch_size(amounts.milk_g)
    extra = PRACTICE_SPOONS * spoon_g
    near = abs(elevation_m - PRACTICE_AT_M) <= PRACTICE_WITHIN_M
    if choice == "practice" and not near:
        raise ValueError(
            f"The practice is stated for 7,000 ft (2,134 m) only; at {plain(elevation_m)} m start "
            "with the book's flour and add by the spoon."
        )
    low, high = (spoons * spoon_g for spoons in MODEL_SPOONS)
    model = Side(
        Estimate(low, (low + high) / 2, high, "g"),
        _classes(amounts, amounts.flour_g),
        "By the water balance the height asks for next to no more flour.",
    )
    practice = None
    if elevation_m >= HIGH_KITCHEN_M:
        practice = Side(
            Estimate(extra, extra, extra, "g"),
            _classes(amounts, amounts.flour_g + extra),
            "Some cooks at 7,000 ft add about 2 tablespoons more flour for 2 cups of milk "
            "(common practice, no source).",
        )
    boils = f"Water boils at {boil_in_words(boil_c)} where you are."
    if choice == "practice":
        flour, on_hand, then = amounts.flour_g + extra, 0.0, "You chose the practice."
    else:
        flour, on_hand = amounts.flour_g, 0.0 if practice is None else extra
        then = (
            "Start with the book's flour, get the paste past 85 °C (185 °F) for 3 minutes, "
            "then add by the spoon if it still looks soft."
        )
    told = [boils] + ([] if practice is None else [practice.say]) + [then]
    return FlourAtHeight(
        elevation_m, boil_c, practice, model, choice, flour, on_hand, " ".join(told)
    )
