"""The cut plan: whole squares in the pressed slab, drawn to scale, and what is trimmed off."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from diagnose.kitchen.slab import DENSITY_G_CM3, Slab, whole_squares


@dataclass(frozen=True, slots=True)
class CutPlan:
    """A rectangle to press and the knife's lines in it."""

    wide_mm: float
    deep_mm: float
    columns: int
    rows: int
    piece_mm: float
    trimmings_g: float

    @property
    def pieces(self) -> int:
        """Whole pieces."""
        return self.columns * self.rows


def cut_plan(slab: Slab) -> CutPlan:
    """The better of a square and a 4:3 slab, by whole pieces; mass and area are those pressed.

    Geometry: the house slab, 20.3 cm square, gives 13 by 13 cubes of 15 mm.

    >>> from diagnose.kitchen.slab import slab
    >>> plan = cut_plan(slab(642, 15))
    >>> plan.columns, plan.rows, round(plan.trimmings_g)
    (13, 13, 46)
    """
    side = slab.square_edge_cm * 10
    found = []
    for wide, deep in ((side, side), (side * sqrt(4 / 3), side * sqrt(3 / 4))):
        columns, rows = whole_squares(wide, deep, slab.piece_mm)
        used_cm2 = columns * rows * (slab.piece_mm / 10) ** 2
        trimmed = (slab.area_cm2 - used_cm2) * slab.thickness_mm / 10 * DENSITY_G_CM3
        found.append(CutPlan(wide, deep, columns, rows, slab.piece_mm, max(0.0, trimmed)))
    return max(found, key=lambda plan: plan.pieces)
