"""The plate: minutes until hot pieces are only warm, on a cold plate and on a hot one.

Derived for 15 mm cubes, good to 30 % either way; at and between the stated temperatures only.
"""

from dataclasses import dataclass

from .estimates import Estimate, spread
from .refusing import require_between

COLD_PLATE_C, HOT_PLATE_C = 20.0, 60.0
"""A plate from the shelf; one from a 60 °C (140 °F) oven."""
COOLEST_PIECE_C, HOTTEST_PIECE_C = 65.0, 75.0
HOT_C, WARM_C = 57.0, 50.0
A_HOT_PLATE_BUYS = "A hot plate buys about 3 minutes."

_SPREAD = 0.30
# Minutes to 57 and to 50 °C: (from 65, from 75 °C) on a cold plate, then on a 60 °C plate.
_MINUTES = {HOT_C: ((1.0, 2.0), (2.5, 4.0)), WARM_C: ((2.5, 4.0), (5.0, 7.0))}


@dataclass(frozen=True, slots=True)
class PlateWindow:
    """Minutes from the oven's door until the pieces' mean is 57 °C (hot), 50 °C (warm)."""

    to_hot: Estimate
    to_warm: Estimate
    say: str


def plate_window(piece_c: float, plate_c: float) -> PlateWindow:
    """How long pieces of ``piece_c`` (mean, 65 to 75 °C) stay hot on a plate of 20 to 60 °C.

    ``ValueError`` outside; straight lines between the stated figures. Derived, 30 % either way:
    from 75 °C on a cold plate 2 and 4 min, on a 60 °C plate 4 and 7.

    >>> plate_window(75, 20).to_hot.central, plate_window(75, 60).to_warm.central
    (2.0, 7.0)
    >>> plate_window(75, 60).say
    'Hot for about 3 to 5 min, warm for about 5 to 9 min.'
    """
    require_between("A piece on the plate", piece_c, COOLEST_PIECE_C, HOTTEST_PIECE_C, "°C")
    require_between("A plate", plate_c, COLD_PLATE_C, HOT_PLATE_C, "°C")
    hotter = (piece_c - COOLEST_PIECE_C) / (HOTTEST_PIECE_C - COOLEST_PIECE_C)
    warmer = (plate_c - COLD_PLATE_C) / (HOT_PLATE_C - COLD_PLATE_C)
    found = []
    for target in (HOT_C, WARM_C):
        cold, hot = (few + (many - few) * hotter for few, many in _MINUTES[target])
        found.append(spread(cold + (hot - cold) * warmer, _SPREAD))
    to_hot, to_warm = found
    return PlateWindow(
        to_hot,
        to_warm,
        f"Hot for about {to_hot.rounded(1).say()}, warm for about {to_warm.rounded(1).say()}.",
    )
