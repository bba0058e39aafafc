"""Computations of the slab and the chill that a knowledge file may name.

Each gives None outside what its model was drawn for: a slab thinner than 10 mm has no chilling
time here, and none is made up.
"""

from .chilling import (
    CUTTABLE_C,
    HOTTEST_START_C,
    Chill,
    Support,
    minutes_left_from_c,
    minutes_to_c,
)
from .doses import Minutes
from .estimates import Estimate
from .lumped import THICKEST_MM, THINNEST_MM
from .mixing import YOLK_G
from .named import Computation, MinutesComputation
from .paste import paste_now
from .slab import area_cm2, pressed_g
from .state import KitchenState


def dough_in_all_g(state: KitchenState) -> float | None:
    """The finished dough (g): the paste now, with yolks, cheese and butter.

    House batch, usual path: 655 g (mass balance on USDA SR27).

    >>> house = KitchenState(milk_g=500, flour_g=100, yolks=2, cheese_g=45, butter_g=40)
    >>> round(dough_in_all_g(house))
    655
    """
    paste = paste_now(state)
    if paste is None or None in (state.yolks, state.cheese_g, state.butter_g):
        return None
    assert state.yolks is not None
    assert state.cheese_g is not None
    assert state.butter_g is not None
    return paste.total_g + state.yolks * YOLK_G + state.cheese_g + state.butter_g


def _thickness_mm(state: KitchenState) -> float | None:
    told = state.slab_mm
    return None if told is None or not THINNEST_MM <= told <= THICKEST_MM else told


def slab_side_mm(state: KitchenState) -> float | None:
    """The side (mm) of the square this dough makes at its thickness; house batch, 15 mm: 202.

    >>> house = KitchenState(
    ...     milk_g=500, flour_g=100, yolks=2, cheese_g=45, butter_g=40, slab_mm=15)
    >>> round(slab_side_mm(house))
    202
    """
    dough, thick = dough_in_all_g(state), _thickness_mm(state)
    if dough is None or thick is None:
        return None
    return 10.0 * float(area_cm2(pressed_g(dough), thick) ** 0.5)


def _in_tens(found: Estimate, note: str) -> Minutes:
    tens = found.rounded(10)
    low, value, high = (max(10, int(one)) for one in (tens.low, tens.central, tens.high))
    say = f"{low} to {high} minutes" if low < high else f"{low} minutes"
    return Minutes(value, low, high, say, note.format(say=say))


def chill_minutes(state: KitchenState) -> Minutes | None:
    """Minutes from pressing until 10 °C (50 °F), never said without their range.

    On a metal tray on a rack, in a refrigerator at 4 °C (40 °F), pressed at 60 °C, 15 min on the
    counter first. None unless the thickness is told and from 10 to 25 mm. Derived, 35 % either way.

    >>> chill_minutes(KitchenState(slab_mm=15)).say
    '80 to 160 minutes'
    """
    thick = _thickness_mm(state)
    if thick is None:
        return None
    racked, wood = (
        minutes_to_c(Chill(thick, support))
        for support in (Support.RACKED_METAL_TRAY, Support.WOOD_OR_BOX)
    )
    assert racked is not None  # 4 °C air gets anything to 10 °C
    assert wood is not None
    on_wood = wood.rounded(10)
    return _in_tens(
        racked,
        "In all, counted from pressing: {say} on a metal tray on a rack, with air all round; on "
        f"wood, on glass or in a box {on_wood.low:.0f} to {on_wood.high:.0f}.",
    )


def chill_minutes_left(state: KitchenState) -> Minutes | None:
    """Minutes in the refrigerator from the measured middle until 10 °C (50 °F).

    On a metal tray on a rack at 4 °C (40 °F). None unless thickness (10 to 25 mm) and middle are
    told, and where the middle is there already. Derived, 35 % either way.

    >>> chill_minutes_left(KitchenState(slab_mm=15, core_c=19)).say
    '30 to 60 minutes'
    """
    thick, core = _thickness_mm(state), state.core_c
    if thick is None or core is None or not CUTTABLE_C < core <= HOTTEST_START_C:
        return None
    left = minutes_left_from_c(thick, core)
    assert left is not None  # 4 °C air gets anything to 10 °C
    return _in_tens(left, "{say} more on a metal tray on a rack, then measure or press it.")


_BATCH = ("milk", "flour", "yolks", "cheese", "butter")
_PASTE = ("flour measured", "minutes simmered", "minutes cooked", "pan contents", "salt")

LATER_READINGS = (
    Computation(
        "dough-in-all",
        "g",
        _BATCH,
        dough_in_all_g,
        uses=_PASTE,
        means="the finished dough, with yolks, cheese and butter",
    ),
    Computation(
        "slab-side",
        "mm",
        (*_BATCH, "slab thickness"),
        slab_side_mm,
        uses=_PASTE,
        means="the side of the square this dough should make at its thickness",
    ),
)

LATER_MINUTES = (
    MinutesComputation(
        "chill-minutes",
        ("slab thickness",),
        chill_minutes,
        means="from pressing until it can be cut, on a metal tray on a rack",
    ),
    MinutesComputation(
        "chill-minutes-left",
        ("slab thickness", "slab temperature"),
        chill_minutes_left,
        means="from the measured middle until it can be cut, on a metal tray on a rack",
    ),
)
