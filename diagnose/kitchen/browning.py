"""Browning the pieces: how many a load, how many loads, how hot the middle gets, finish and hold.

Counts are geometry; how many one cook can turn, and how long a turn takes, are calibrated. The
middle is a model, good to 25 to 35 %: measure it. Never print browning minutes beyond "2 to 3 a
side": they depend on the pan. A wet face stays at the boil and does not brown.

Source of the temperatures: FDA Food Code 3-403.11 (74 °C, 165 °F, within 2 hours before it is held)
and the Food Code's 57 °C (135 °F) while it is held. The local code decides.
"""

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import ceil, floor

from .estimates import Estimate
from .refusing import require_between, require_positive

HANDS_PIECES = 40
"""Pieces one cook can turn at 2 s each before the first over-browns (calibrated)."""
SMALLEST_BASE_MM, LARGEST_BASE_MM = 100.0, 400.0
SMALLEST_PIECE_MM, LARGEST_PIECE_MM = 8.0, 60.0
SKILLETS_MM = {"10-in": 203.0, "12-in": 245.0}
"""Flat base (mm) of two usual skillets, named by their rim."""
BASE_PER_RIM = 0.80
"""Flat base over rim of those two (house figure): measure the base where it matters."""
SHORTEST_SIDE_MIN, LONGEST_SIDE_MIN = 2.0, 4.0
USUAL_SIDE_MIN = (2.0, 3.0)

_PLACE_AND_LIFT_S = 1.5
_TURN_S = 1.5
_REHEAT_MIN = 1.0
_OFFSETS = 10


def gap_mm(piece_mm: float) -> float:
    """Room between pieces (mm): 6 up to 12 mm pieces, else 8 (calibrated).

    >>> gap_mm(12), gap_mm(15)
    (6.0, 8.0)
    """
    require_between("A piece", piece_mm, SMALLEST_PIECE_MM, LARGEST_PIECE_MM, "mm")
    return 6.0 if piece_mm <= 12.0 else 8.0


@lru_cache(maxsize=512)
def pieces_that_fit(base_mm: float, piece_mm: float) -> int:
    """Whole squares inside a round base (mm) on a square lattice at its best offset.

    Base 100 to 400 mm, pieces 8 to 60 mm; ``ValueError`` outside. Geometry: 52 pieces of 15 mm in a
    10 in skillet (203 mm base).

    >>> pieces_that_fit(203, 15), pieces_that_fit(203, 12)
    (52, 89)
    """
    require_between("A pan's flat base", base_mm, SMALLEST_BASE_MM, LARGEST_BASE_MM, "mm")
    pitch = piece_mm + gap_mm(piece_mm)
    # A lattice and its mirror images hold as many, so offsets up to half a pitch are all there is.
    offsets = [step / (2 * _OFFSETS) * pitch for step in range(_OFFSETS + 1)]
    return max(
        _inside(base_mm / 2, piece_mm / 2, pitch, x, y) for x in offsets for y in offsets if x <= y
    )


def _inside(radius: float, half: float, pitch: float, x: float, y: float) -> int:
    reach = ceil(radius / pitch) + 1
    columns = [abs(n * pitch + x) + half for n in range(-reach, reach + 1)]
    rows = [abs(n * pitch + y) + half for n in range(-reach, reach + 1)]
    limit = radius * radius + 1e-9
    return sum(1 for across in columns for down in rows if across * across + down * down <= limit)


def pieces_a_load(base_mm: float, piece_mm: float) -> int:
    """Pieces in one load: what fits, and not above 40, what one cook can turn (calibrated).

    ``ValueError`` where not one fits.

    >>> pieces_a_load(203, 15), pieces_a_load(203, 20)
    (40, 37)
    """
    fit = pieces_that_fit(base_mm, piece_mm)
    if fit < 1:
        raise ValueError(f"Not one piece of {piece_mm:g} mm fits on a base of {base_mm:g} mm.")
    return min(HANDS_PIECES, fit)


def minutes_a_load(pieces: int, side_min: float) -> float:
    """Minutes one load of ``pieces`` takes at ``side_min`` (2 to 4) a side, reheating counted in.

    2 x side + 3 s a piece + 1 min (calibrated): 40 pieces at 2.5 min a side, 8 min.

    >>> minutes_a_load(40, 2.5)
    8.0
    """
    require_between("Pieces in a load", pieces, 1, 200, "pieces")
    require_between("Minutes a side", side_min, SHORTEST_SIDE_MIN, LONGEST_SIDE_MIN, "min")
    return 2 * side_min + pieces * (_PLACE_AND_LIFT_S + _TURN_S) / 60 + _REHEAT_MIN


@dataclass(frozen=True, slots=True)
class Loads:
    """How ``pieces`` go through ``pans`` pans, each with a cook of its own."""

    pieces: int
    pans: int
    sizes: tuple[int, ...]
    """Pieces of every load, the fuller ones first; as even as can be."""
    rounds: int
    """Loads one pan has to take, one after the other."""
    minutes: Estimate
    """From the first piece in to the last piece out, at 2 to 3 minutes a side."""

    @property
    def loads(self) -> int:
        """Loads in all."""
        return len(self.sizes)


def loads(pieces: int, base_mm: float, piece_mm: float, pans: int = 1) -> Loads:
    """Loads for ``pieces`` (1 to 10,000) in ``pans`` pans (1 to 6), a cook to each.

    A wider pan does not help once hands are the limit; a second pan and a second cook do.
    ``ValueError`` outside the ranges. Derived: 160 pieces of 15 mm in one 10 in skillet are 4
    loads, 28 to 36 min.

    >>> found = loads(160, 203, 15)
    >>> found.loads, found.minutes.say()
    (4, '28 to 36 min')
    """
    require_between("Pieces", pieces, 1, 10_000, "pieces")
    require_between("Pans", pans, 1, 6, "pans")
    number = ceil(pieces / pieces_a_load(base_mm, piece_mm))
    small, fuller = divmod(pieces, number)
    sizes = tuple([small + 1] * fuller + [small] * (number - fuller))
    quick, slow = (
        max(
            sum(minutes_a_load(size, side) for size in sizes[pan::pans])
            for pan in range(min(pans, number))
        )
        for side in USUAL_SIDE_MIN
    )
    return Loads(
        pieces=pieces,
        pans=pans,
        sizes=sizes,
        rounds=ceil(number / pans),
        minutes=Estimate(floor(round(quick, 9)), (quick + slow) / 2, ceil(round(slow, 9))),
    )


def base_of_pan_mm(rim_mm: float) -> float:
    """The flat base (mm) of a skillet from its rim, about 0.8 of it (house figure): measure it.

    ``ValueError`` outside 125 to 500 mm.

    >>> round(base_of_pan_mm(254))
    203
    """
    require_between("A pan's rim", rim_mm, 125.0, 500.0, "mm")
    return rim_mm * BASE_PER_RIM


# Coldest point (°C) after two faces, from 5 °C: contact of 250 W/m2K to a wet boundary at 110 °C,
# and perfect contact at 98 °C; the upper face loses 15 W/m2K to air at 30 °C. Worked with finite
# differences (k 0.49, 1.45e-7 m2/s), which tests/test_kitchen_browning.py repeats.
_MIN_A_SIDE = (2.0, 2.5, 3.0, 3.5, 4.0)
_CORE_C: tuple[tuple[float, tuple[tuple[float, float], ...]], ...] = (
    (12.0, ((44, 55), (49, 59), (53, 62), (57, 65), (61, 68))),
    (15.0, ((39, 49), (43, 52), (46, 54), (49, 56), (51, 58))),
    (20.0, ((25, 32), (31, 39), (37, 45), (41, 49), (44, 50))),
)


def core_after_browning_c(piece_mm: float, side_min: float) -> Estimate:
    """The coldest point (°C) of a cube from 5 °C after two faces, 12 to 20 mm, 2 to 4 min a side.

    Worked for 12, 15 and 20 mm at every half minute; on straight lines between, to whole degrees.
    ``ValueError`` outside: nothing was worked there. High up the boil is lower, and so is this, by
    about 4 °C at 7,000 ft. Derived: 15 mm at 2 min a side, 39 to 49 °C. Browning does not heat a
    cube through: finish it, then hold it.

    >>> core_after_browning_c(15, 2).say(), core_after_browning_c(15, 3.5).say()
    ('39 to 49 °C', '49 to 56 °C')
    """
    require_between("A cube to brown", piece_mm, 12.0, 20.0, "mm")
    require_between("Minutes a side", side_min, SHORTEST_SIDE_MIN, LONGEST_SIDE_MIN, "min")
    low, high = (
        _between(
            [
                (size, _between(list(zip(_MIN_A_SIDE, column, strict=True)), side_min))
                for size, row in _CORE_C
                for column in [[pair[end] for pair in row]]
            ],
            piece_mm,
        )
        for end in (0, 1)
    )
    return Estimate(low, (low + high) / 2, high, "degC").rounded(1)


def _between(points: list[tuple[float, float]], at: float) -> float:
    """On the straight line between the two points around ``at``, which lies among them."""
    for (left, below), (right, above) in pairwise(points):
        if at <= right:
            return below + (above - below) * (at - left) / (right - left)
    raise AssertionError("the range was checked")


HOT_THROUGH_C = 74.0
"""165 °F: FDA Food Code 3-403.11, before food is held hot."""
HOLD_C = 57.0
"""135 °F: FDA, *Key Temperatures for Egg Safety*. Older and local codes ask 60 °C (140 °F)."""
REHEAT_WITHIN_MIN = 120
HOLD_MOST_MIN = 20
"""Longest hold (derived from drying: 5 % of the mass of 15 mm cubes in 10 min at most)."""
FINISH_OVEN_C = 175.0
FINISH_MIN = Estimate(5, 7.5, 10)
"""In a 175 °C (350 °F) oven, all loads together, until a probe reads 74 °C (derived)."""
HOLD_OVEN_C = 90.0


@dataclass(frozen=True, slots=True)
class AfterBrowning:
    """What comes after the pan: ``finish`` is "must", "should" or "done"."""

    finish: str
    say: str
    hold: str


_FINISH = (
    "All loads together in a 175 °C (350 °F) oven, 5 to 10 minutes, until a probe in the middle "
    "reads 74 °C (165 °F)."
)
_HOLD = (
    "Then hold at 57 °C (135 °F) or hotter, open on a rack, 20 minutes at most. A 90 °C (200 °F) "
    "oven holds them but must not be trusted to heat them. The local code decides."
)


def after_browning(to_be_held: bool, middle_c: float | None = None) -> AfterBrowning:
    """What to do with browned pieces that are served at once, or held.

    ``middle_c`` is a measured coldest middle (0 to 105 °C, ``ValueError`` outside); not measured is
    never hot enough. FDA Food Code 3-403.11: 74 °C within 2 h before a hold; food for immediate
    service may have any temperature.

    >>> after_browning(True).finish, after_browning(False).finish, after_browning(True, 75).finish
    ('must', 'should', 'done')
    """
    if middle_c is not None:
        require_between("The middle", middle_c, 0.0, 105.0, "°C")
        if middle_c >= HOT_THROUGH_C:
            return AfterBrowning("done", "It is hot through.", _HOLD)
    if to_be_held:
        return AfterBrowning("must", f"Before it is held, within 2 hours: {_FINISH}", _HOLD)
    return AfterBrowning("should", f"For a hot bite: {_FINISH}", "Serve at once.")


def loads_in_one_hold(minutes_each: float) -> int:
    """Loads of ``minutes_each`` whose first is still within the 20 min hold when the last is out.

    1 + floor(20/minutes): 3 of 8 min, so 120 pieces of 15 mm a pan (derived). For more, a second
    pan, or rest all loads on a rack and finish them together.

    >>> loads_in_one_hold(8)
    3
    """
    require_positive("Minutes a load", minutes_each, "min")
    return 1 + floor(HOLD_MOST_MIN / minutes_each)


def times_slower(cooler_by_c: float) -> float:
    """How many times slower a surface browns that is cooler by 0 to 40 °C; ``ValueError`` outside.

    64 kJ/mol around 150 °C (bread crust: Zanoni et al., LWT 28:604, 1995, abstract): 20 °C cooler
    is about 2.4 times slower. Only the ratio holds for this dough, never minutes.

    >>> round(times_slower(20), 1)
    2.4
    """
    require_between("Cooler by", cooler_by_c, 0.0, 40.0, "°C")
    return float(2.4 ** (cooler_by_c / 20.0))
