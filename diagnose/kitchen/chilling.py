"""The slab cooling: when it is cold enough to cut, and whether it cools in time to be eaten.

Two stages of ``lumped``: first the counter, then the refrigerator. The heat transfer coefficients
are calibrated, not measured: every time is good to 35 % either way, and no minutes are ever shown
without their range. Agrees with a full one-dimensional conduction solution within 3 % to 10 °C
and 4.5 % to 21 °C.

Limits of cooling: FDA Food Code 3-501.14, 57 to 21 °C (135 to 70 °F) within 2 hours and to 5 °C
(41 °F) within 6 hours in all. The local code decides. Never print: minutes without a range,
grams of condensation, the word "safe".
"""

from dataclasses import dataclass
from enum import StrEnum
from math import inf, sqrt

from .atmosphere import SEA_LEVEL_PA, pressure_pa
from .estimates import Estimate
from .lumped import THICKEST_MM, THINNEST_MM, Stage, after_c, time_constant_min, until_min
from .refusing import plain, require_amount, require_between

SPREAD = 0.35
"""Either way, of every time (house figure)."""
COOLEST_START_C, HOTTEST_START_C = 45.0, 75.0
COLDEST_FRIDGE_C, WARMEST_FRIDGE_C = 1.0, 7.0
LONGEST_ON_THE_COUNTER_MIN = 60.0
COOLEST_KITCHEN_C, WARMEST_KITCHEN_C = 15.0, 32.0

USUAL_START_C, USUAL_FRIDGE_C, USUAL_KITCHEN_C = 60.0, 4.0, 22.0
USUAL_COUNTER_MIN = 15.0
CUTTABLE_C = 10.0
"""50 °F. A convention (calibrated): give the temperature and let the cook press the slab."""
CODE_START_C, CODE_FIRST_C, CODE_LAST_C = 57.0, 21.0, 5.0
CODE_FIRST_MIN, CODE_LAST_MIN = 120.0, 360.0
PRINT_TO_MIN = 10

_COUNTER_TOP, _FRIDGE_TOP = 14.0, 9.0  # W/m2K, calibrated


class Support(StrEnum):
    """What the slab lies on while it cools. A solid glass shelf counts as wood."""

    RACKED_METAL_TRAY = "racked-metal-tray"
    TRAY_ON_SHELF = "tray-on-shelf"
    WOOD_OR_BOX = "wood-or-box"

    @property
    def say(self) -> str:
        """In words."""
        return _SUPPORT_WORDS[self]


_SUPPORT_WORDS = {
    Support.RACKED_METAL_TRAY: "a metal tray on a rack",
    Support.TRAY_ON_SHELF: "a tray on the shelf",
    Support.WOOD_OR_BOX: "wood, glass or in a box",
}
_BOTTOM = {
    Support.RACKED_METAL_TRAY: 9.0,
    Support.TRAY_ON_SHELF: 6.0,
    Support.WOOD_OR_BOX: 1.5,
}  # W/m2K, calibrated; estimates run 4-8 under a racked tray, so the first two lean optimistic


def support_called(name: str) -> Support:
    """The support with this id; ``ValueError`` naming the accepted ids for any other.

    >>> support_called("tray-on-shelf").say
    'a tray on the shelf'
    """
    try:
        return Support(name)
    except ValueError:
        raise ValueError(
            f'"{name}" is not something a slab is chilled on. Accepted: {", ".join(Support)}.'
        ) from None


def _film_share(elevation_m: float) -> float:
    """Thin air carries less: free convection goes with the root of the pressure. Taken on all of
    the heat, radiation too, which leans to the slow side."""
    return sqrt(pressure_pa(elevation_m) / SEA_LEVEL_PA)


@dataclass(frozen=True, slots=True)
class Chill:
    """How one slab is cooled. ``ValueError`` with a sentence outside the ranges.

    Thickness 10 to 25 mm, pressed at 45 to 75 °C, refrigerator 1 to 7 °C, 0 to 60 min on the
    counter of a kitchen at 15 to 32 °C first.
    """

    thickness_mm: float
    support: Support = Support.RACKED_METAL_TRAY
    fridge_c: float = USUAL_FRIDGE_C
    start_c: float = USUAL_START_C
    counter_min: float = USUAL_COUNTER_MIN
    kitchen_c: float = USUAL_KITCHEN_C
    elevation_m: float = 0.0

    def __post_init__(self) -> None:
        for what, value, low, high, unit in (
            ("A slab", self.thickness_mm, THINNEST_MM, THICKEST_MM, "mm"),
            ("A slab pressed at", self.start_c, COOLEST_START_C, HOTTEST_START_C, "°C"),
            ("A refrigerator", self.fridge_c, COLDEST_FRIDGE_C, WARMEST_FRIDGE_C, "°C"),
            ("Time on the counter", self.counter_min, 0.0, LONGEST_ON_THE_COUNTER_MIN, "min"),
            ("A kitchen", self.kitchen_c, COOLEST_KITCHEN_C, WARMEST_KITCHEN_C, "°C"),
        ):
            require_between(what, value, low, high, unit)
        pressure_pa(self.elevation_m)

    @property
    def stages(self) -> tuple[Stage, Stage]:
        """The counter, then the refrigerator."""
        thin, bottom = _film_share(self.elevation_m), _BOTTOM[self.support]
        counter, fridge = (
            time_constant_min(self.thickness_mm, thin * top, thin * bottom)
            for top in (_COUNTER_TOP, _FRIDGE_TOP)
        )
        return (
            Stage(self.counter_min, self.kitchen_c, counter),
            Stage(inf, self.fridge_c, fridge),
        )


def _around(minutes: float) -> Estimate:
    return Estimate(minutes * (1 - SPREAD), minutes, minutes * (1 + SPREAD))


def minutes_to_c(chill: Chill, target_c: float = CUTTABLE_C) -> Estimate | None:
    """Minutes from pressing until the warmest point is at ``target_c``; None when it never is.

    ``ValueError`` for a target outside 0 to 75 °C. Derived, 35 % either way; print to the nearest
    10 and never without the range. 15 mm on a racked metal tray at 4 °C: 117 (full solution), so
    "80 to 160 min".

    >>> minutes_to_c(Chill(15)).rounded(10).say()
    '80 to 160 min'
    >>> minutes_to_c(Chill(15, fridge_c=5), 5) is None
    True
    """
    require_between("A target", target_c, 0.0, HOTTEST_START_C, "°C")
    minutes = until_min(chill.start_c, chill.stages, target_c)
    return None if minutes is None else _around(minutes)


def warmest_c(chill: Chill, minutes: float) -> Estimate:
    """The warmest point (°C) ``minutes`` after pressing, its range that of the times (35 %).

    Derived: 15 mm on a racked metal tray, after 1 h in a refrigerator at 4 °C, 18 °C.

    >>> round(warmest_c(Chill(15), 75).central)
    18
    """
    require_amount("Time since pressing", minutes, "min")
    fast, usual, slow = (
        after_c(chill.start_c, chill.stages, minutes / factor)
        for factor in (1 - SPREAD, 1.0, 1 + SPREAD)
    )
    # None is pressed below 45 °C, so it only ever cools and the order cannot turn round.
    return Estimate(fast, usual, slow, "degC")


@dataclass(frozen=True, slots=True)
class CuttableNow:
    """Whether the slab can be cut: "yes", "perhaps" or "not yet", and what is left to wait."""

    word: str
    warmest_c: Estimate
    left: Estimate | None
    """Minutes left, never below zero; None where this refrigerator never gets it there."""
    say: str


def cuttable_now(chill: Chill, minutes: float) -> CuttableNow:
    """Whether the middle is at 10 °C (50 °F) ``minutes`` after pressing, as far as can be said.

    The dent decides, and a thermometer: this is an estimate, good to 35 % either way. "Chill at
    least an hour" (common practice, no source) is nearly enough only at 12 mm on a racked tray.

    >>> cuttable_now(Chill(15), 60).word, cuttable_now(Chill(15), 120).word
    ('not yet', 'perhaps')
    >>> cuttable_now(Chill(15), 60).say
    'Not yet. The middle should be at about 14 to 29 °C. Another 20 to 100 min until 10 °C (50 °F).'
    """
    warmest = warmest_c(chill, minutes)
    whole = minutes_to_c(chill, CUTTABLE_C)
    left = None if whole is None else whole.map(lambda value: max(0.0, value - minutes))
    if warmest.high <= CUTTABLE_C:
        word, say = "yes", "It should be firm. Press it: a dent springs back."
    elif warmest.low <= CUTTABLE_C:
        word = "perhaps"
        say = "It may be firm. Press it, or measure the middle: 10 °C (50 °F) or colder."
    else:
        word = "not yet"
        say = f"Not yet. The middle should be at about {warmest.rounded(1).say()}."
    rest = None if left is None else left.rounded(PRINT_TO_MIN)
    if word == "not yet" and rest is not None and rest.low > 0:
        say = f"{say} Another {rest.say()} until 10 °C (50 °F)."
    elif word != "yes" and rest is not None and rest.high > 0:
        say = f"{say} If not, up to another {plain(rest.high)} min."
    return CuttableNow(word, warmest, left, say)


def minutes_left_from_c(
    thickness_mm: float,
    core_c: float,
    support: Support = Support.RACKED_METAL_TRAY,
    fridge_c: float = USUAL_FRIDGE_C,
    target_c: float = CUTTABLE_C,
) -> Estimate | None:
    """Minutes in the refrigerator from a *measured* middle to ``target_c``; None when never.

    Zero when it is there already. ``ValueError`` outside 10 to 25 mm, a middle of -5 to 75 °C, a
    refrigerator of 1 to 7 °C. Derived, 35 % either way: one time constant brings 15 mm on a racked
    tray from 20.3 to 10 °C.

    >>> round(minutes_left_from_c(15, 20.3).central)
    51
    """
    require_between("The middle of the slab", core_c, -5.0, HOTTEST_START_C, "°C")
    require_between("A refrigerator", fridge_c, COLDEST_FRIDGE_C, WARMEST_FRIDGE_C, "°C")
    require_between("A target", target_c, 0.0, HOTTEST_START_C, "°C")
    tau = time_constant_min(thickness_mm, _FRIDGE_TOP, _BOTTOM[support])
    minutes = until_min(core_c, (Stage(inf, fridge_c, tau),), target_c)
    return None if minutes is None else _around(minutes)


@dataclass(frozen=True, slots=True)
class Cooling:
    """Cooling against the 2 hours and 6 hours of the code: a word, the minutes, what to do."""

    word: str
    """"meets", "misses" or "too close"."""
    to_first: Estimate | None
    """Minutes from 57 °C (135 °F) to 21 °C (70 °F)."""
    to_last: Estimate | None
    """Minutes from 57 °C to 5 °C (41 °F); None where the refrigerator never gets it there."""
    say: str
    do: tuple[str, ...]


_ON_A_MISS = (
    "Press it thinner.",
    "Move it to a metal tray on a rack, with air all round.",
    "Use the freezer for a short time, then the refrigerator.",
)
_DEFER = "Your local food code decides, and a thermometer."


def cooling_verdict(chill: Chill, already_min: float | None = None) -> Cooling:
    """Whether this slab cools from 57 to 21 °C in 2 h and to 5 °C in 6 h in all.

    "meets" when 1.35 times the estimate is inside both limits, "misses" when the plain estimate is
    outside either, else "too close". The clock starts at 57 °C (135 °F): ``already_min`` is what
    had passed since then before the slab was pressed. Where it was pressed cooler than that and
    nobody counted (None), it is never "meets". FDA Food Code 3-501.14. Derived: 15 mm on a racked
    metal tray at 4 °C meets it; 20 mm on wood misses it.

    >>> cooling_verdict(Chill(15)).word
    'meets'
    >>> cooling_verdict(Chill(20, Support.WOOD_OR_BOX)).word
    'misses'
    """
    not_counted = already_min is None and chill.start_c < CODE_START_C
    passed = 0.0 if already_min is None else already_min
    require_amount("Time below 57 °C before pressing", passed, "min")
    begins = until_min(chill.start_c, chill.stages, CODE_START_C) or 0.0
    found: list[Estimate | None] = []
    for target in (CODE_FIRST_C, CODE_LAST_C):
        reached = until_min(chill.start_c, chill.stages, target)
        found.append(None if reached is None else _around(reached - begins).plus(passed))
    first, last = found
    if first is None or last is None:
        word = "misses"
        say = (
            f"A refrigerator at {plain(chill.fridge_c)} °C never brings it to 5 °C (41 °F). "
            f"It has to be colder. {_DEFER}"
        )
        return Cooling(word, first, last, say, ("Set the refrigerator colder.", *_ON_A_MISS))
    if first.central > CODE_FIRST_MIN or last.central > CODE_LAST_MIN:
        word = "misses"
    elif first.high <= CODE_FIRST_MIN and last.high <= CODE_LAST_MIN and not not_counted:
        word = "meets"
    else:
        word = "too close"
    say = {
        "meets": "It should cool in time: 21 °C (70 °F) in 2 hours, 5 °C (41 °F) in 6 hours.",
        "misses": "It would cool too slowly: 21 °C (70 °F) in 2 hours, 5 °C (41 °F) in 6 hours.",
        "too close": "Too close to call: use a thermometer. 21 °C (70 °F) must be reached in "
        "2 hours, 5 °C (41 °F) in 6 hours.",
    }[word]
    if not_counted:
        say += " Count the minutes since it was 57 °C (135 °F), before it was pressed, as well."
    return Cooling(word, first, last, f"{say} {_DEFER}", () if word == "meets" else _ON_A_MISS)
