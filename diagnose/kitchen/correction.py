"""What to add to a paste to bring it to the target: the mass balance solved backwards.

Valid before yolk, cheese and butter. Answers are signed: a negative amount of flour means the
paste already holds more than the target asks. A paste in class gets no correction unless the look
of it asks for one: the target sizes a correction, it does not trigger it.
"""

from .balance import LEAST_SHARE, MOST_SHARE, TARGET_SHARE
from .composition import STARCH_IN_FLOUR, WATER_IN_FLOUR, WATER_IN_MILK
from .refusing import require_amount, require_between

SLURRY_MILK_PER_FLOUR = 1.5
"""g cold milk stirred into each g of flour for a slurry."""


def _ratio(starch_g: float, water_g: float, target_share: float) -> float:
    require_amount("Starch", starch_g)
    require_amount("Water", water_g)
    require_between("A target starch share", target_share, LEAST_SHARE, MOST_SHARE, "%")
    return target_share / 100.0


def flour_to_target_g(starch_g: float, water_g: float, target_share: float = TARGET_SHARE) -> float:
    """Dry flour (g) that brings a paste with this starch and water to the target.

    f = [r(S + W) - S]/[s(1 - r) - r w], mass balance on USDA SR27 20081. The house batch with its
    flour 15 % short, brought back to where it should have been, wants the missing 15.0 g.

    >>> round(flour_to_target_g(0.7049 * 85, 382.78, 15.49), 1)
    15.0
    """
    r = _ratio(starch_g, water_g, target_share)
    return (r * (starch_g + water_g) - starch_g) / (STARCH_IN_FLOUR * (1 - r) - r * WATER_IN_FLOUR)


def water_to_drive_off_g(
    starch_g: float, water_g: float, target_share: float = TARGET_SHARE
) -> float:
    """Water (g) to boil off to reach the target: e = W - S(1 - r)/r (mass balance).

    >>> round(water_to_drive_off_g(0.7049 * 85, 382.78), 0)
    56.0
    """
    r = _ratio(starch_g, water_g, target_share)
    return water_g - starch_g * (1 - r) / r


def milk_to_target_g(starch_g: float, water_g: float, target_share: float = TARGET_SHARE) -> float:
    """Milk (g) that loosens a paste to the target: m = [S(1 - r)/r - W]/0.8813 (mass balance).

    >>> round(milk_to_target_g(0.7049 * 114, 386.24) / 15.25)
    4
    """
    return -water_to_drive_off_g(starch_g, water_g, target_share) / WATER_IN_MILK


def slurry_flour_g(
    starch_g: float,
    water_g: float,
    target_share: float = TARGET_SHARE,
    milk_per_flour: float = SLURRY_MILK_PER_FLOUR,
) -> float:
    """Flour (g) of a slurry, its milk (1.5 times its mass) having to be bound as well.

    It costs about 1.55 times the dry flour, but does not lump. ``ValueError`` when the slurry is
    itself no thicker than the target, so that no amount would do.

    >>> round(slurry_flour_g(0.7049 * 85, 382.78, 15.49), 1)
    23.2
    """
    r = _ratio(starch_g, water_g, target_share)
    require_amount("Milk in the slurry", milk_per_flour, "g per g flour")
    with_water = WATER_IN_FLOUR + milk_per_flour * WATER_IN_MILK
    yields = STARCH_IN_FLOUR * (1 - r) - r * with_water
    if yields <= 0:
        raise ValueError(
            "A slurry with so much milk is no thicker than the target and cannot reach it; "
            "use less milk for the flour."
        )
    return (r * (starch_g + water_g) - starch_g) / yields
