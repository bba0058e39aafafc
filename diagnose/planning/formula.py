"""The formula for so many guests: how many pieces, the slab they are cut from, and what goes in.

Scaling is linear and exact; only ``weighed`` rounds, as a scale and a kitchen can. "2 pieces a
one-bite starter, 6 to 8 a small plate" is common practice, no source; a plate of 12 to 16, two
small ones, is a house rule.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from types import MappingProxyType

from diagnose.kitchen.composition import mixture
from diagnose.kitchen.estimates import Estimate
from diagnose.kitchen.evaporation import cooking_g, simmering_g
from diagnose.kitchen.mixing import YOLK_G
from diagnose.kitchen.paste import LARGEST_MILK_G, SMALLEST_MILK_G
from diagnose.kitchen.refusing import require_amount, require_between, require_positive
from diagnose.kitchen.slab import Slab, dough_g, pressed_g, slab, slab_g_for_pieces
from diagnose.kitchen.spoons import measure

MOST_GUESTS = 500
LEAST_YOLK_G, MOST_YOLK_G = 12.0, 25.0


@dataclass(frozen=True, slots=True)
class Amounts:
    """What goes into one batch, in g and in yolks; ``ValueError`` for a negative amount."""

    milk_g: float
    flour_g: float
    salt_g: float
    yolks: float
    cheese_g: float
    butter_g: float

    def __post_init__(self) -> None:
        require_positive("Milk", self.milk_g)
        require_positive("Flour", self.flour_g)
        for what, value, unit in (
            ("Salt", self.salt_g, "g"),
            ("Yolks", self.yolks, "yolks"),
            ("Cheese", self.cheese_g, "g"),
            ("Butter", self.butter_g, "g"),
        ):
            require_amount(what, value, unit)

    def scaled(self, factor: float) -> Amounts:
        """Everything times ``factor``, unrounded; ``ValueError`` unless it is above zero.

        >>> HOUSE.scaled(2).flour_g
        200
        """
        require_positive("A factor", factor, "times")
        return Amounts(
            self.milk_g * factor,
            self.flour_g * factor,
            self.salt_g * factor,
            self.yolks * factor,
            self.cheese_g * factor,
            self.butter_g * factor,
        )

    @property
    def driven_off_g(self) -> float:
        """Water (g) the usual path drives off in a pan that fits (calibrated)."""
        return simmering_g(self.milk_g, None) + cooking_g(self.milk_g, None)

    @property
    def finished_g(self) -> float:
        """The finished dough (g) by the usual path."""
        return dough_g(
            self.milk_g,
            self.flour_g,
            self.salt_g,
            self.yolks * YOLK_G,
            self.cheese_g,
            self.butter_g,
            self.driven_off_g,
        )

    @property
    def pressed_g(self) -> float:
        """What is pressed (g). House batch: 642 g (derived).

        >>> round(HOUSE.pressed_g)
        642
        """
        return pressed_g(self.finished_g)

    @property
    def salt_percent(self) -> float:
        """All salt in the finished dough, %: what is added and what milk and cheese bring.

        Hard cheese by the wedge, unsalted butter (USDA SR27). House batch: 0.93, of which 0.85
        are added or from the cheese.

        >>> round(HOUSE.salt_percent, 2)
        0.93
        """
        all_in = mixture(
            [
                ("01077", self.milk_g),
                ("20081", self.flour_g),
                ("02047", self.salt_g),
                ("01125", self.yolks * YOLK_G),
                ("01033", self.cheese_g),
                ("01145", self.butter_g),
            ],
            self.driven_off_g,
        )
        return 100 * all_in.sodium_as_salt_g / all_in.total_g


HOUSE = Amounts(500, 100, 4, 2, 45, 40)
"""The house batch (our own formula)."""


@dataclass(frozen=True, slots=True)
class Portion:
    """A portion in pieces, and who says so."""

    id: str
    say: str
    fewest: int
    most: int
    label: str


PORTIONS: Mapping[str, Portion] = MappingProxyType(
    {
        portion.id: portion
        for portion in (
            Portion("starter", "one-bite starter", 2, 2, "common practice, no source"),
            Portion("small-plate", "small plate", 6, 8, "common practice, no source"),
            Portion("plate", "plate", 12, 16, "house rule"),
        )
    }
)


def portion_called(name: str) -> Portion:
    """The portion with this id; ``ValueError`` naming the accepted ids for any other."""
    if name not in PORTIONS:
        raise ValueError(f'"{name}" is not a portion. Accepted: {", ".join(PORTIONS)}.')
    return PORTIONS[name]


def pieces_wanted(guests: int, portion: str) -> Estimate:
    """Pieces for ``guests`` (1 to 500), fewest to most; ``ValueError`` outside.

    Common practice, no source: twelve small plates are 72 to 96 pieces.

    >>> pieces_wanted(12, "small-plate").say()
    '72 to 96 pieces'
    """
    each = portion_called(portion)
    require_between("Guests", guests, 1, MOST_GUESTS, "guests")
    low, high = guests * each.fewest, guests * each.most
    return Estimate(low, (low + high) / 2, high, "pieces")


@dataclass(frozen=True, slots=True)
class Line:
    """One ingredient as it is weighed, and the same in cups, spoons or ounces, "about"."""

    of: str
    grams: float
    say: str
    about: str


@dataclass(frozen=True, slots=True)
class Formula:
    """What goes in (exact), the slab it makes, and what was wanted."""

    amounts: Amounts
    factor: float
    """Against the house batch it was scaled from."""
    wanted: Estimate | None
    slab: Slab

    def weighed(self, yolk_g: float = YOLK_G) -> tuple[Line, ...]:
        """The lines of the formula, rounded as a kitchen weighs; yolks whole, at least one.

        ``yolk_g`` is what one yolk weighs here (12 to 25 g; a large one is 17 g, USDA SR27 01125):
        smaller yolks are counted up, so that the grams stay. Milk to 5 g, salt to half a gram, the
        rest to 1 g.

        >>> [line.say for line in formula_scaled(1).weighed()]
        ['500 g', '100 g', '4 g', '2 yolks', '45 g', '40 g']
        """
        require_between("A yolk", yolk_g, LEAST_YOLK_G, MOST_YOLK_G, "g")
        found = []
        for of, grams, step in (
            ("milk", self.amounts.milk_g, 5.0),
            ("flour", self.amounts.flour_g, 1.0),
            ("salt", self.amounts.salt_g, 0.5),
            ("yolks", self.amounts.yolks * YOLK_G, 1.0),
            ("cheese", self.amounts.cheese_g, 1.0),
            ("butter", self.amounts.butter_g, 1.0),
        ):
            rounded = step * int(grams / step + 0.5 + 1e-9)
            if of == "yolks":
                count = max(1, int(grams / yolk_g + 0.5 + 1e-9)) if grams else 0
                say = f"{count} yolk{'' if count == 1 else 's'}"
                found.append(Line(of, rounded, say, f"about {rounded:,g} g"))
            else:
                found.append(Line(of, rounded, f"{rounded:,g} g", measure(of, rounded)))
        return tuple(found)


def _checked(amounts: Amounts) -> Amounts:
    if not SMALLEST_MILK_G <= amounts.milk_g <= LARGEST_MILK_G:
        raise ValueError(
            f"That would be a batch with {amounts.milk_g:,.0f} g of milk; "
            f"{SMALLEST_MILK_G:,.0f} to {LARGEST_MILK_G:,.0f} g are accepted."
        )
    return amounts


def formula_scaled(
    factor: float, thickness_mm: float = 15.0, piece_mm: float | None = None, house: Amounts = HOUSE
) -> Formula:
    """``factor`` times the house batch, pressed to ``thickness_mm`` (10 to 25 mm).

    ``ValueError`` outside, and for a batch with less than 50 g or more than 50 kg of milk. House
    batch at 15 mm: about 160 cubes (derived).

    >>> formula_scaled(1).slab.pieces
    160
    """
    amounts = _checked(house.scaled(factor))
    return Formula(amounts, factor, None, slab(amounts.pressed_g, thickness_mm, piece_mm))


def formula_for(
    guests: int,
    portion: str,
    thickness_mm: float = 15.0,
    piece_mm: float | None = None,
    house: Amounts = HOUSE,
) -> Formula:
    """The least batch whose slab gives the most pieces that ``guests`` may want.

    Guests 1 to 500, thickness 10 to 25 mm, pieces 8 to 60 mm; ``ValueError`` outside. Mass balance
    and geometry: twelve small plates of 15 mm cubes want 96 pieces, six tenths of a batch.

    >>> formula = formula_for(12, "small-plate")
    >>> formula.slab.pieces >= 96, round(formula.amounts.milk_g, -1)
    (True, 300.0)
    """
    wanted = pieces_wanted(guests, portion)
    needed = slab_g_for_pieces(ceil(wanted.high), thickness_mm, piece_mm)
    factor = max(needed / house.pressed_g, SMALLEST_MILK_G / house.milk_g)
    amounts = _checked(house.scaled(factor))
    # The last digit of a division must not cost a row of pieces.
    made = slab(max(needed, amounts.pressed_g), thickness_mm, piece_mm)
    return Formula(amounts, factor, wanted, made)
