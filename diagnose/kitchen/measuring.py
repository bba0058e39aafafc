"""What the ingredients really weigh, by how they were measured.

Cup weights of flour: R. L. Beranbaum, *The Cake Bible*, ingredient weights (read in
transcription); the label weight of 125 g a cup: USDA SR27 20081. Extremes in print run from 99 to
160 g a cup (R. L. Wolke, newspaper column, 2006). Whether flour was sifted into the cup or dipped
is worth 23 g in the house batch, more than the whole altitude practice (16 g): ask it first.
"""

from dataclasses import dataclass
from types import MappingProxyType

from .refusing import require_amount

CUP_ML = 236.5882365
"""US cup."""
SPOONS_PER_CUP = 16
TEASPOONS_PER_SPOON = 3
FLOUR_CUP_G = 125.0
"""g all-purpose flour a US cup by the label, USDA SR27 20081."""
MILK_CUP_G = 244.0
"""g whole milk a US cup, USDA SR27 01077."""
FLOUR_SPOON_G = FLOUR_CUP_G / SPOONS_PER_CUP
"""7.81 g: one level tablespoon of flour."""
MILK_SPOON_G = MILK_CUP_G / SPOONS_PER_CUP
"""15.25 g: one tablespoon of milk."""


@dataclass(frozen=True, slots=True)
class FlourMethod:
    """One way of measuring flour. ``cup_g`` is None when the flour was on a scale."""

    id: str
    cup_g: float | None
    spread_spoons: float
    """1 SD of the answer to "how much flour is missing", in Tbsp per 500 g milk; a calibrated
    house figure: 0.7 weighed, 1.2 cups with the method known, 1.5 cups with it unknown."""
    spread_spoons_with_pan: float
    """The same when the pan's contents were weighed too. Weighing the pan without weighing the
    flour buys almost nothing."""


FLOUR_METHODS = MappingProxyType(
    {
        method.id: method
        for method in (
            FlourMethod("weighed", None, 0.7, 0.5),
            FlourMethod("spooned", 120.0, 1.2, 1.1),
            FlourMethod("dipped", 142.0, 1.2, 1.1),
            FlourMethod("sifted-first", 113.0, 1.2, 1.1),
            # Sifting after measuring changes no weight. How the cup was filled before it was
            # sifted was not told: anything from 120 to 142 g. So the label weight and the wide
            # spread stand, as for unknown (house rule).
            FlourMethod("sifted-after", 125.0, 1.5, 1.5),
            FlourMethod("unknown", 125.0, 1.5, 1.5),
        )
    }
)
"""Every way of measuring flour, by its id."""


def flour_method(measured: str) -> FlourMethod:
    """The method with this id; ``ValueError`` naming the accepted ids for any other."""
    if measured not in FLOUR_METHODS:
        raise ValueError(
            f'"{measured}" is not a way of measuring flour. Accepted: {", ".join(FLOUR_METHODS)}.'
        )
    return FLOUR_METHODS[measured]


def flour_really_used_g(told_g: float, measured: str) -> float:
    """What the flour really weighed (g), from the grams that were meant and the way of measuring.

    Grams told for flour measured in cups are grams *meant*, at 125 g a cup; weighed flour is what
    the scale said. ``ValueError`` for a negative amount or an unknown way of measuring.
    Source: *The Cake Bible* (see above): 0.8 cup dipped and swept is 113.6 g (printed to the
    ounce, 5.0 oz a cup: 113.4).

    >>> round(flour_really_used_g(100, "dipped"), 1)
    113.6
    """
    require_amount("Flour", told_g)
    cup_g = flour_method(measured).cup_g
    return told_g if cup_g is None else told_g * cup_g / FLOUR_CUP_G


_CUP_WEIGHTS_G = MappingProxyType(
    {
        "milk": MILK_CUP_G,  # USDA SR27 01077
        "flour": FLOUR_CUP_G,  # USDA SR27 20081
        "salt": 18.0 * SPOONS_PER_CUP,  # USDA SR27 02047, 18 g a tablespoon
        "butter": 14.2 * SPOONS_PER_CUP,  # USDA SR27 01145, 14.2 g a tablespoon
        "yolk": 243.0,  # USDA SR27 01125
    }
)


def grams_of(ingredient: str, volume_ml: float) -> float:
    """Grams in a volume (ml) of milk, flour, fine salt, butter or yolk; flour as on the label.

    ``ValueError`` for anything else, grated cheese above all: a loose cup of it weighs 15 to
    100 g by how it was grated (common practice, no source). Source: USDA SR27 household measures;
    a cup of whole milk is 244 g.

    >>> grams_of("milk", 236.5882365)
    244.0
    """
    require_amount("A volume", volume_ml, "ml")
    if ingredient == "cheese":
        raise ValueError(
            "A cup of grated cheese weighs anything from 15 to 100 g. Weigh it, in g or oz."
        )
    if ingredient not in _CUP_WEIGHTS_G:
        raise ValueError(
            f'No cup weight is known for "{ingredient}". Accepted: {", ".join(_CUP_WEIGHTS_G)}.'
        )
    return volume_ml / CUP_ML * _CUP_WEIGHTS_G[ingredient]
