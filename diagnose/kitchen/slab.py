"""The slab: how much dough there is, how far it reaches at a thickness, and what it is cut into.

Geometry and mass are exact; 2 % left in the pan and 3 % of air beaten in are calibrated. How many
pieces make a portion is common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, pi, sqrt
from types import MappingProxyType

from .estimates import Estimate
from .refusing import require_amount, require_between, require_positive

LEFT_IN_PAN = 0.02
DENSITY_G_CM3 = 1.045
THINNEST_MM, THICKEST_MM = 10.0, 25.0
STARTER_PIECES = 2
SMALL_PLATE_PIECES = (6, 8)
""""2 pieces a one-bite starter, 6 to 8 a small plate", of whatever size (common practice, no
source)."""


def dough_g(
    milk_g: float,
    flour_g: float,
    salt_g: float,
    yolk_g: float,
    cheese_g: float,
    butter_g: float,
    driven_off_g: float,
) -> float:
    """The finished dough (g): all that went in less the water driven off.

    ``ValueError`` for a negative amount or more water than there was dough. Mass balance: the
    house batch with 68 g driven off is 655 g.

    >>> dough_g(500, 100, 4, 34, 45, 40, 68)
    655
    """
    for what, grams in (
        ("Milk", milk_g),
        ("Flour", flour_g),
        ("Salt", salt_g),
        ("Yolk", yolk_g),
        ("Cheese", cheese_g),
        ("Butter", butter_g),
        ("Water driven off", driven_off_g),
    ):
        require_amount(what, grams)
    left = milk_g + flour_g + salt_g + yolk_g + cheese_g + butter_g - driven_off_g
    require_positive("The dough", left)
    return left


def pressed_g(finished_dough_g: float) -> float:
    """What is pressed (g): the dough less 2 % left in the pan. Derived: 642 g of 655.

    >>> round(pressed_g(655))
    642
    """
    require_positive("Dough", finished_dough_g)
    return finished_dough_g * (1 - LEFT_IN_PAN)


@dataclass(frozen=True, slots=True)
class Slab:
    """A pressed slab. Pieces are whole squares of ``piece_mm`` by ``piece_mm``."""

    thickness_mm: float
    area_cm2: float
    square_edge_cm: float
    piece_mm: float
    pieces: int
    """As may be printed: above 100 rounded down to the ten; "about"."""
    whole_pieces: int
    piece_g: float
    starters: int
    """Portions at 2 pieces a one-bite starter (common practice, no source)."""
    small_plates: Estimate
    """Portions at 8 (low) to 6 (high) pieces a small plate (common practice, no source)."""


def area_cm2(slab_g: float, thickness_mm: float) -> float:
    """How far ``slab_g`` of pressed dough reaches (cm2) at 10 to 25 mm; ``ValueError`` outside.

    At 1.045 g/cm3 (derived): the house batch, 642 g, has 6143/thickness, 410 cm2 at 15 mm.

    >>> round(area_cm2(642, 15))
    410
    """
    require_positive("A slab", slab_g)
    require_between("A slab", thickness_mm, THINNEST_MM, THICKEST_MM, "mm")
    return slab_g / DENSITY_G_CM3 / (thickness_mm / 10)


def thickness_mm(slab_g: float, area_cm2: float) -> float:
    """How thick ``slab_g`` stands on ``area_cm2``; ``ValueError`` unless both are above zero.

    Derived: the house batch in an 8 by 8 inch pan is 15 mm.

    >>> round(thickness_mm(642, 20.32 * 20.32))
    15
    """
    require_positive("A slab", slab_g)
    require_positive("An area", area_cm2, "cm2")
    return slab_g / DENSITY_G_CM3 / area_cm2 * 10


def whole_squares(width_mm: float, length_mm: float, piece_mm: float) -> tuple[int, int]:
    """Rows and columns of whole ``piece_mm`` squares in a rectangle; what is left is trimmings.

    >>> whole_squares(200, 200, 15)
    (13, 13)
    """
    require_positive("A side", width_mm, "mm")
    require_positive("A side", length_mm, "mm")
    require_positive("A piece", piece_mm, "mm")
    return floor(round(width_mm / piece_mm, 9)), floor(round(length_mm / piece_mm, 9))


def slab(slab_g: float, thickness_mm: float, piece_mm: float | None = None) -> Slab:
    """The slab pressed from ``slab_g`` (what is pressed), cut in cubes unless ``piece_mm`` is told.

    10 to 25 mm thick, pieces of 8 to 60 mm; ``ValueError`` outside. The pieces are the fewer of a
    square and a 4:3 cut. Derived: the house batch at 15 mm makes about 160 cubes of 3.5 g.

    >>> found = slab(642, 15)
    >>> found.pieces, round(found.piece_g, 1), found.starters, found.small_plates.say()
    (160, 3.5, 80, '20 to 26 plates')
    """
    edge = thickness_mm if piece_mm is None else piece_mm
    area = area_cm2(slab_g, thickness_mm)
    require_between("A piece", edge, 8.0, 60.0, "mm")
    side_mm = sqrt(area) * 10
    wide_mm, deep_mm = side_mm * sqrt(4 / 3), side_mm * sqrt(3 / 4)
    counts = [
        rows * columns
        for rows, columns in (
            whole_squares(side_mm, side_mm, edge),
            whole_squares(wide_mm, deep_mm, edge),
        )
    ]
    whole = min(counts)
    if whole < 1:
        raise ValueError(
            f"{slab_g:.0f} g at {thickness_mm:g} mm is too little for one piece of {edge:g} mm."
        )
    pieces = 10 * (whole // 10) if whole > 100 else whole
    few, many = (pieces // each for each in reversed(SMALL_PLATE_PIECES))
    return Slab(
        thickness_mm=thickness_mm,
        area_cm2=area,
        square_edge_cm=side_mm / 10,
        piece_mm=edge,
        pieces=pieces,
        whole_pieces=whole,
        piece_g=DENSITY_G_CM3 * (edge / 10) ** 2 * thickness_mm / 10,
        starters=pieces // STARTER_PIECES,
        small_plates=Estimate(few, (few + many) / 2, many, "plates"),
    )


def slab_g_for_pieces(pieces: int, thickness_mm: float, piece_mm: float | None = None) -> float:
    """The least pressed dough (g, to the nearest 1) whose slab gives ``pieces`` pieces or more.

    ``ValueError`` outside the ranges of ``slab`` and for fewer than one piece. Mass balance.

    >>> needed = slab_g_for_pieces(80, 15)
    >>> slab(needed, 15).pieces >= 80 > slab(needed - 1, 15).pieces
    True
    """
    require_between("Pieces", pieces, 1, 100_000, "pieces")
    low, high = 1, 2
    while not _gives(high, pieces, thickness_mm, piece_mm):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if _gives(middle, pieces, thickness_mm, piece_mm):
            high = middle
        else:
            low = middle
    return float(high)


def _gives(slab_g: int, pieces: int, thickness_mm: float, piece_mm: float | None) -> bool:
    area_cm2(slab_g, thickness_mm)
    require_between("A piece", thickness_mm if piece_mm is None else piece_mm, 8.0, 60.0, "mm")
    try:
        return slab(slab_g, thickness_mm, piece_mm).pieces >= pieces
    except ValueError:  # too little for one piece
        return False


@dataclass(frozen=True, slots=True)
class Mould:
    """A pan or tin that sets the area."""

    name: str
    say: str
    area_cm2: float


_INCH = 2.54
MOULDS: Mapping[str, Mould] = MappingProxyType(
    {
        mould.name: mould
        for mould in (
            Mould("square-8-in", "8 × 8 in pan", (8 * _INCH) ** 2),
            Mould("square-9-in", "9 × 9 in pan", (9 * _INCH) ** 2),
            Mould("loaf-9-5-in", "9 × 5 in loaf pan", 9 * 5 * _INCH**2),
            Mould("square-20-cm", "20 × 20 cm pan", 400.0),
            Mould("round-20-cm", "20 cm round tin", pi * 10**2),
        )
    }
)


def in_mould_mm(slab_g: float, mould: str) -> float:
    """How thick ``slab_g`` of pressed dough stands in a mould; ``ValueError`` for an unknown one.

    It may be outside what can be chilled and browned (10 to 25 mm): look. Derived: the house batch
    stands 12 mm in a 9 by 9 inch pan.

    >>> round(in_mould_mm(642, "square-9-in"))
    12
    """
    if mould not in MOULDS:
        raise ValueError(f'"{mould}" is not a mould known here. Accepted: {", ".join(MOULDS)}.')
    return thickness_mm(slab_g, MOULDS[mould].area_cm2)
