"""From guests to a batch: the formula with the flour that was chosen, and its loads."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

from diagnose.kitchen.browning import Loads, loads
from diagnose.kitchen.slab import slab

from .asking import Wanted
from .elevation import FlourAtHeight, flour_at_height
from .formula import Formula, formula_for


def sized(wanted: Wanted) -> tuple[Formula, FlourAtHeight | None]:
    """The formula for the guests, with the flour that was chosen for the height.

    Mass balance: 12 small plates at 15 mm are six tenths of the house batch.

    >>> sized(Wanted(12, "small-plate"))[0].factor < 0.7
    True
    """
    formula = formula_for(wanted.guests, wanted.portion, wanted.thickness_mm)
    if wanted.elevation_m is None:
        if wanted.flour_choice == "practice":
            raise ValueError("The flour practice belongs to a height: tell the elevation as well.")
        return formula, None
    height = flour_at_height(formula.amounts, wanted.elevation_m, wanted.flour_choice)
    if height.flour_g == formula.amounts.flour_g:
        return formula, height
    amounts = replace(formula.amounts, flour_g=height.flour_g)
    made = slab(amounts.pressed_g, wanted.thickness_mm)
    return replace(formula, amounts=amounts, slab=made), height


def loads_of(wanted: Wanted, formula: Formula, most: int | None = None) -> Loads:
    """The loads of a formula: the most pieces the guests may want, as many pans as can brown.

    ``most`` is what the slab in hand gives, where it is made already.
    """
    assert formula.wanted is not None  # sized for guests
    pieces = ceil(formula.wanted.high)
    if most is not None:
        pieces = max(1, min(pieces, most))
    return loads(pieces, wanted.base, wanted.thickness_mm, wanted.pans_at_once)
