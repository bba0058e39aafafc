"""The water balance of the paste, and its one variable c.

c = 100 S/(S + W): per cent starch in starch + water, judged in the hot paste before yolk, with
S = 0.7049 F and W = 0.8813 M + 0.1192 F - E (flour F, milk M, water driven off E, all in g).
Pure mass balance on the composition of USDA SR27; the class edges are calibrated house figures.
c is for rules and logs. A cook is shown the class word and whole grams, never c.
"""

from dataclasses import dataclass

from .composition import STARCH_IN_FLOUR, WATER_IN_FLOUR, WATER_IN_MILK
from .refusing import require_amount, require_between, require_positive

HOUSE_SALT_SHARE = 0.008
"""g salt per g milk in the house batch (4 g in 500 g); stands in where salt was not told."""
TARGET_SHARE = 15.5
"""c of the house paste. The target sizes a correction; it does not trigger one."""
EDGE_UNCERTAINTY = 1.0
"""Every class edge is uncertain by this many points of c (calibrated)."""
LEAST_SHARE, MOST_SHARE = 2.0, 25.0
"""Wheat flour in milk or water: the range the class words were drawn for."""


def starch_g(flour_g: float) -> float:
    """Starch (g) in ``flour_g`` of all-purpose flour, at 0.7049 g per g.

    >>> round(starch_g(100), 2)
    70.49
    """
    require_amount("Flour", flour_g)
    return STARCH_IN_FLOUR * flour_g


def water_g(milk_g: float, flour_g: float, driven_off_g: float = 0.0) -> float:
    """Water (g) in the paste after ``driven_off_g`` has left.

    ``driven_off_g`` may be negative: more in the pan than was told. ``ValueError`` if more water
    would have left than there was. Source: USDA SR27 01077 and 20081 (88.13 and 11.92 % water).

    >>> round(water_g(500, 100), 2)
    452.57
    """
    require_amount("Milk", milk_g)
    require_amount("Flour", flour_g)
    water = WATER_IN_MILK * milk_g + WATER_IN_FLOUR * flour_g
    if not driven_off_g < water:
        raise ValueError(
            f"{driven_off_g:.0f} g of water cannot have left this paste; it held {water:.0f} g "
            "to begin with. Check the weights and minutes."
        )
    return water - driven_off_g


def starch_share(starch_g: float, water_g: float) -> float:
    """c, per cent starch in starch + water; 0 to 100, ``ValueError`` without water.

    The house batch (500 g milk, 100 g flour, 68 g driven off) has 15.49 (mass balance).

    >>> round(starch_share(70.49, 384.57), 2)
    15.49
    """
    require_amount("Starch", starch_g)
    require_positive("Water", water_g)
    return 100.0 * starch_g / (starch_g + water_g)


def driven_off_from_pan_g(went_in_g: float, pan_contents_g: float) -> float:
    """Water driven off (g) = what went in less what the pan holds (without the pan).

    Negative when the pan holds more than was told: something was weighed wrongly.

    >>> driven_off_from_pan_g(604, 536)
    68
    """
    require_amount("What went in", went_in_g)
    require_positive("The pan's contents", pan_contents_g)
    return went_in_g - pan_contents_g


def pan_contents_at_share_g(
    milk_g: float, flour_g: float, salt_g: float, share: float = TARGET_SHARE
) -> float:
    """What the pan holds (g) when its paste has reached ``share`` (c, 2 to 25).

    For the house batch c = 7049/(P - 80.9) (mass balance): at c 15.49 the pan holds 536 g.

    >>> round(pan_contents_at_share_g(500, 100, 4, 15.49))
    536
    """
    require_between("A starch share", share, LEAST_SHARE, MOST_SHARE, "%")
    starch = starch_g(flour_g)
    dry_and_salt = milk_g + flour_g + salt_g - water_g(milk_g, flour_g)
    return starch * (100.0 - share) / share + dry_and_salt


def water_to_flour(water_g: float, flour_g: float) -> float:
    """W:F, water to flour by weight, the other scale in use; c = 70.49/(0.7049 + W:F).

    >>> round(water_to_flour(452.57 - 60, 100), 3)
    3.926
    """
    require_amount("Water", water_g)
    require_positive("Flour", flour_g)
    return water_g / flour_g


@dataclass(frozen=True, slots=True)
class PasteClass:
    """A word for the body of the paste; it holds up to and including ``up_to`` (c)."""

    word: str
    up_to: float


CLASSES = (
    PasteClass("thin sauce", 3.6),
    PasteClass("medium sauce", 6.1),
    PasteClass("thick sauce", 8.5),
    PasteClass("soupy for this dough", 12.2),
    PasteClass("soft, sticky", 13.6),
    PasteClass("panada", 16.9),
    PasteClass("stiff", 20.0),
    PasteClass("tears, dry", MOST_SHARE),
)
"""The classes, thin to dry. Edges are geometric means between the rungs of the white-sauce ladder
(USDA *Family Fare*, white sauce: thin, medium, thick at 1, 2, 3 to 4 Tbsp a cup) and of stiffer
pastes; calibrated, each uncertain by one point."""
SOFT_EDGE, STIFF_EDGE = CLASSES[4].up_to, CLASSES[5].up_to


def paste_class(share: float) -> PasteClass:
    """The class of a paste with c = ``share`` (2 to 25; ``ValueError`` outside).

    *Family Fare* (USDA) calls 2 Tbsp flour a cup of milk, c about 5.1, medium.

    >>> paste_class(5.10).word, paste_class(15.49).word
    ('medium sauce', 'panada')
    """
    if not LEAST_SHARE <= share <= MOST_SHARE:
        raise ValueError(
            "So much flour for so much milk is outside what these words were drawn for "
            f"({LEAST_SHARE:.0f} to {MOST_SHARE:.0f} % starch in starch + water). "
            "Check the amounts of milk and flour."
        )
    return next(found for found in CLASSES if share <= found.up_to)


def possible_classes(share: float) -> tuple[PasteClass, ...]:
    """Every class the paste may belong to, each edge being uncertain by one point of c.

    >>> [found.word for found in possible_classes(16.5)]
    ['panada', 'stiff']
    """
    paste_class(share)
    low = max(LEAST_SHARE, share - EDGE_UNCERTAINTY)
    high = min(MOST_SHARE, share + EDGE_UNCERTAINTY)
    first, last = CLASSES.index(paste_class(low)), CLASSES.index(paste_class(high))
    return CLASSES[first : last + 1]


def is_in_class(share: float) -> bool:
    """Whether c lies in the panada class: one mass that cleans the pan (13.6 to 16.9)."""
    return SOFT_EDGE < share <= STIFF_EDGE


def printed_grams(grams: float) -> int:
    """A pan weight as it may be printed: to the nearest 5 g.

    >>> printed_grams(536)
    535
    """
    return 5 * round(grams / 5)
