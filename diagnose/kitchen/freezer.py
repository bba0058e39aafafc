"""The freezer as a short cut for a slab that has to be cut soon: how long at most, and in all.

Derived: racked metal tray, 15 min on the counter, then -18 °C, then the refrigerator at 4 °C. With
coefficients 30 % higher than assumed no face drops below 1 °C within the limit; longer risks ice.
Not a way to store it.
"""

import itertools
from dataclasses import dataclass
from math import floor, inf

from .estimates import Estimate, spread
from .lumped import Stage, after_c, time_constant_min, until_min
from .refusing import require_between

FREEZER_C = -18.0
_FREEZER = 10.0  # W/m2K, each face of a racked tray, calibrated
_COUNTER_TOP, _FRIDGE, _BELOW = 14.0, 9.0, 9.0
_START_C, _KITCHEN_C, _FRIDGE_C, _COUNTER_MIN, _TARGET_C = 60.0, 22.0, 4.0, 15.0, 10.0
_MOST_MIN = ((12.0, 30.0), (15.0, 40.0), (20.0, 50.0))
_SPREAD = 0.35


@dataclass(frozen=True, slots=True)
class FreezerShortcut:
    """``most_min`` in the freezer and no longer; ``in_all`` from pressing until 10 °C (50 °F)."""

    thickness_mm: float
    most_min: int
    in_all: Estimate
    say: str


def freezer_most_min(thickness_mm: float) -> int:
    """The longest time (min) in the freezer for a slab of 12 to 20 mm; ``ValueError`` outside.

    30, 40 and 50 min at 12, 15 and 20 mm (derived); between them on straight lines, rounded down
    to 5 min (house rule).

    >>> freezer_most_min(12), freezer_most_min(15), freezer_most_min(20), freezer_most_min(16)
    (30, 40, 50, 40)
    """
    require_between("A slab for the freezer", thickness_mm, 12.0, 20.0, "mm")
    for (thin, few), (thick, many) in itertools.pairwise(_MOST_MIN):
        if thickness_mm <= thick:
            minutes = few + (many - few) * (thickness_mm - thin) / (thick - thin)
            return 5 * floor(round(minutes / 5, 9))
    raise AssertionError("the range was checked")


def _stages(thickness_mm: float, freezer_min: float) -> tuple[Stage, Stage, Stage]:
    counter, freezer, fridge = (
        time_constant_min(thickness_mm, top, bottom)
        for top, bottom in ((_COUNTER_TOP, _BELOW), (_FREEZER, _FREEZER), (_FRIDGE, _BELOW))
    )
    return (
        Stage(_COUNTER_MIN, _KITCHEN_C, counter),
        Stage(freezer_min, FREEZER_C, freezer),
        Stage(inf, _FRIDGE_C, fridge),
    )


def after_freezer_c(thickness_mm: float, freezer_min: float) -> float:
    """The warmest point (°C) as the slab leaves the freezer, after 15 min on the counter.

    ``ValueError`` outside 12 to 20 mm and for longer than the slab may stay. Derived.

    >>> round(after_freezer_c(15, 40))
    10
    """
    require_between("Time in the freezer", freezer_min, 0.0, freezer_most_min(thickness_mm), "min")
    return after_c(_START_C, _stages(thickness_mm, freezer_min), _COUNTER_MIN + freezer_min)


def freezer_shortcut(thickness_mm: float) -> FreezerShortcut:
    """The short cut for a slab of 12 to 20 mm; ``ValueError`` outside.

    Derived, 35 % either way: the middle is at 10 °C after about 45, 55 and 95 min in all at 12, 15
    and 20 mm.

    >>> freezer_shortcut(15).say
    'At most 40 min in the freezer, then the refrigerator: 10 °C (50 °F) after 40 to 70 min in all.'
    """
    most = freezer_most_min(thickness_mm)
    central = until_min(_START_C, _stages(thickness_mm, most), _TARGET_C)
    assert central is not None  # the refrigerator is colder than the target
    in_all = spread(central, _SPREAD)
    return FreezerShortcut(
        thickness_mm,
        most,
        in_all,
        f"At most {most} min in the freezer, then the refrigerator: 10 °C (50 °F) after "
        f"{in_all.rounded(10).say()} in all.",
    )
