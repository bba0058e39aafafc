"""Flour by the cup: how much to fill for each way of measuring, and what the way alone is worth.

Cup weights: R. L. Beranbaum, *The Cake Bible* (read in transcription); 125 g: USDA SR27 20081.
"""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.kitchen.balance import paste_class, starch_g, starch_share, water_g
from diagnose.kitchen.estimates import Estimate
from diagnose.kitchen.measuring import FLOUR_CUP_G, FLOUR_METHODS
from diagnose.kitchen.refusing import require_positive
from diagnose.kitchen.spoons import TEASPOONS_PER_CUP, in_spoons

from .formula import Amounts

WAYS = ("sifted-first", "spooned", "dipped")
"""The ways whose cup weight is known; sifting after measuring changes no weight."""


@dataclass(frozen=True, slots=True)
class FlourByCup:
    """One way of filling a cup."""

    way: str
    cup_g: float
    cups: float
    """How many cups filled this way hold the flour of the formula."""
    fill: str
    """The same in cups and spoons, about."""
    if_not_told_g: float
    """What the flour would weigh if the label's cups (125 g) were filled this way."""
    paste: str
    """What the paste would then be, by the sums."""


def flour_by_cup(amounts: Amounts) -> tuple[FlourByCup, ...]:
    """Each way of filling a cup with this formula's flour, lightest first.

    ``ValueError`` for a formula whose paste has no word (c outside 2 to 25). *The Cake Bible*:
    100 g meant weigh 90 g sifted into the cup and 114 g dipped and swept.

    >>> from .formula import HOUSE
    >>> [(one.way, round(one.if_not_told_g), one.paste) for one in flour_by_cup(HOUSE)]
    [('sifted-first', 90, 'panada'), ('spooned', 96, 'panada'), ('dipped', 114, 'stiff')]
    """
    found = []
    for way in WAYS:
        cup_g = FLOUR_METHODS[way].cup_g
        assert cup_g is not None  # only weighed flour has none
        weighs = amounts.flour_g * cup_g / FLOUR_CUP_G
        share = starch_share(
            starch_g(weighs), water_g(amounts.milk_g, weighs, amounts.driven_off_g)
        )
        cups = amounts.flour_g / cup_g
        found.append(
            FlourByCup(
                way,
                cup_g,
                cups,
                in_spoons(cups * TEASPOONS_PER_CUP),
                weighs,
                paste_class(share).word,
            )
        )
    return tuple(sorted(found, key=lambda one: one.cup_g))


def way_alone_moves_g(flour_g: float) -> Estimate:
    """What the same cups of flour weigh (g), from sifted-in to dipped; ``ValueError`` unless > 0.

    *The Cake Bible*: 90 to 114 g where 100 g are meant. More than the altitude practice (16 g).

    >>> way_alone_moves_g(100).rounded(1).say()
    '90 to 114 g'
    """
    require_positive("Flour", flour_g)
    cups = [FLOUR_METHODS[way].cup_g or FLOUR_CUP_G for way in WAYS]
    return Estimate(
        flour_g * min(cups) / FLOUR_CUP_G, flour_g, flour_g * max(cups) / FLOUR_CUP_G, "g"
    )
