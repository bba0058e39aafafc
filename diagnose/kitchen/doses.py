"""Amounts as a cook can use them: whole spoons and minutes, with a range, "then look".

A *step* is one tablespoon per 500 g of milk, which is about one noticeable step of stiffness.
Steps are scaled to the batch, so that tripling every amount of a batch in whole 500 g triples the
spoons. Batches under 375 g of milk count in teaspoons, three to a step.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor

from .balance import SOFT_EDGE, STIFF_EDGE, TARGET_SHARE
from .composition import STARCH_IN_FLOUR, WATER_IN_FLOUR, WATER_IN_MILK
from .correction import (
    SLURRY_MILK_PER_FLOUR,
    flour_to_target_g,
    milk_to_target_g,
    slurry_flour_g,
    water_to_drive_off_g,
)
from .evaporation import DRYING_G_PER_MIN, batch_size, drying_min
from .measuring import FLOUR_SPOON_G, MILK_SPOON_G, TEASPOONS_PER_SPOON, flour_method
from .paste import Paste, paste_now
from .state import KitchenState

TEASPOONS_UNDER_MILK_G = 375.0
FAR_OFF_SPOONS = 4
"""More flour than this, in steps, and the batch is far off: ask how it was measured."""

_R = TARGET_SHARE / 100.0
WATER_PER_FLOUR = STARCH_IN_FLOUR * (1 - _R) / _R - WATER_IN_FLOUR
"""g of water that one g of flour binds at the target: 3.72, so 29 g a tablespoon (mass balance)."""
MILK_PER_FLOUR = WATER_PER_FLOUR / WATER_IN_MILK
"""g of milk that one g of flour binds at the target: 4.23; two tablespoons of milk undo one."""


@dataclass(frozen=True, slots=True)
class Dose:
    """A thing to add: ``count`` spoons expected in all, between ``low`` and ``high``.

    ``start_with`` is what goes in before the first look.
    """

    of: str
    grams: float
    count: int
    unit: str
    low: int
    high: int
    start_with: int
    say: str
    note: str

    @property
    def start_grams(self) -> float:
        """Grams of what goes in before the first look."""
        return self.grams / self.count * self.start_with

    @property
    def start_say(self) -> str:
        """What goes in before the first look: "1 tablespoon"."""
        return counted(self.start_with, self.unit)


@dataclass(frozen=True, slots=True)
class Minutes:
    """Minutes to spend, between ``low`` and ``high``."""

    value: int
    low: int
    high: int
    say: str
    note: str


def counted(count: int, unit: str) -> str:
    """A number of whole things in words.

    >>> counted(1, "tablespoon"), counted(3, "teaspoon")
    ('1 tablespoon', '3 teaspoons')
    """
    return f"{count} {unit}" if count == 1 else f"{count} {unit}s"


def nearest(value: float) -> int:
    """The nearest whole number, halves up. Rounding noise below 1e-9 does not decide.

    >>> nearest(2.5), nearest(1.4999999999999)
    (3, 2)
    """
    return floor(round(value, 9) + 0.5)


def _nearest_down(value: float) -> int:
    """The nearest whole number, halves down: the low end of a range leans outward."""
    return ceil(round(value, 9) - 0.5)


@dataclass(frozen=True, slots=True)
class _Spoon:
    """The spoon this batch counts in."""

    unit: str
    per_step: float
    share: float

    def count(self, steps: float) -> int:
        return max(1, nearest(steps * self.per_step))


def _spoon(milk_g: float) -> _Spoon:
    size = batch_size(milk_g)
    if milk_g < TEASPOONS_UNDER_MILK_G:
        return _Spoon("teaspoon", TEASPOONS_PER_SPOON * size, 1 / TEASPOONS_PER_SPOON)
    return _Spoon("tablespoon", size, 1.0)


def _dose(
    of: str,
    spoon_g: float,
    milk_g: float,
    steps: tuple[int, int, int, int],
    sentence: Callable[[str, str], str],
) -> Dose:
    """Scale ``steps`` (expected, low, high, start with) to the batch.

    ``sentence`` is given what to start with and what to expect, in words.
    """
    spoon = _spoon(milk_g)
    count, low, high, start = (spoon.count(one) for one in steps)
    expect = f"{count}" if low == high else f"{count} (between {low} and {high})"
    return Dose(
        of=of,
        grams=count * spoon_g * spoon.share,
        count=count,
        unit=spoon.unit,
        low=low,
        high=high,
        start_with=start,
        say=counted(count, spoon.unit),
        note=sentence(counted(start, spoon.unit), expect),
    )


def _range(steps: int, spread: float) -> tuple[int, int]:
    return max(1, _nearest_down(steps - spread)), max(1, nearest(steps + spread))


def spread_spoons(state: KitchenState) -> float:
    """1 SD of the flour answer, Tbsp per 500 g milk, by what was weighed (house figures)."""
    method = flour_method(state.flour_measured)
    return method.spread_spoons if state.pan_contents_g is None else method.spread_spoons_with_pan


def flour_steps_short(paste: Paste, milk_g: float) -> float:
    """Tablespoons of flour per 500 g milk from here to the target; negative when past it."""
    grams = flour_to_target_g(paste.starch_g, paste.water_g)
    return grams / FLOUR_SPOON_G / batch_size(milk_g)


def milk_steps_short(paste: Paste, milk_g: float) -> float:
    """Tablespoons of milk per 500 g milk from here to the target; negative when past it."""
    return milk_to_target_g(paste.starch_g, paste.water_g) / MILK_SPOON_G / batch_size(milk_g)


def flour_by_the_spoon(state: KitchenState, look_asks: bool = True) -> Dose | None:
    """Flour to the target, by the spoon, then look; None unless milk and flour are known.

    A paste in class or stiffer gets none unless the look of it asks; then at least one step. Never
    before the gate (``starch.gate_passed``): the caller asks that first. Starting with one spoon
    is common practice, no source; the amount is mass balance. Weighed flour: start one spoon
    short of the answer. House batch with two tablespoons forgotten: 2.

    >>> short = KitchenState(milk_g=500, flour_g=84.4, flour_measured="weighed")
    >>> flour_by_the_spoon(short).note
    'Start with 1 tablespoon, beat smooth, cook 1 minute, then look. Expect to need 2 \
(between 1 and 3).'
    """
    paste = paste_now(state)
    if paste is None or state.milk_g is None:
        return None
    if not look_asks and paste.share > SOFT_EDGE:
        return None
    steps = max(1, nearest(flour_steps_short(paste, state.milk_g)))
    low, high = _range(steps, spread_spoons(state))
    far_off = steps > FAR_OFF_SPOONS
    start = max(1, steps - 1) if state.flour_measured == "weighed" and not far_off else 1
    before = ""
    if far_off:
        before = "This batch is far off: ask again how the flour and the milk were measured. "
    elif paste.share > STIFF_EDGE:
        before = (
            "By the amounts told this paste should be stiff: check how they were measured. "
            "If it is soft all the same: "
        )
    elif paste.share > SOFT_EDGE:
        before = "By the amounts told it should hold already. If it still looks soft: "

    def sentence(start_say: str, expect: str) -> str:
        add = "start" if before.endswith(": ") else "Start"
        return (
            f"{before}{add} with {start_say}, beat smooth, cook 1 minute, then look. "
            f"Expect to need {expect}."
        )

    return _dose("flour", FLOUR_SPOON_G, state.milk_g, (steps, low, high, start), sentence)


def one_spoon_of_flour(state: KitchenState) -> Dose | None:
    """One step of flour where the batch's flour is not known; None unless the milk is.

    One tablespoon at a time when soupy (common practice, no source).

    >>> one_spoon_of_flour(KitchenState(milk_g=500)).note
    'Add 1 tablespoon, beat smooth, cook 1 minute, then look.'
    """
    if not state.milk_g:
        return None
    return _dose(
        "flour",
        FLOUR_SPOON_G,
        state.milk_g,
        (1, 1, 1, 1),
        lambda start, _: f"Add {start}, beat smooth, cook 1 minute, then look.",
    )


HIGH_KITCHEN_M = 900.0
"""Below this the altitude practice is not offered. USDA FSIS calls 3,000 ft (914 m) high."""


def altitude_spoonful(state: KitchenState, elevation_m: float | None) -> Dose | None:
    """One step of the altitude practice; None below 900 m, and once two steps have gone in.

    About 2 Tbsp more flour per 2 cups of milk at 7,000 ft (common practice, no source). The water
    balance neither explains nor refutes it; one point is not a line, so other heights are never
    interpolated: one step at a time, then look.

    >>> altitude_spoonful(KitchenState(milk_g=500), 2310).say
    '1 tablespoon'
    """
    if not state.milk_g or elevation_m is None or elevation_m < HIGH_KITCHEN_M:
        return None
    if state.flour_added_g >= 1.99 * FLOUR_SPOON_G * batch_size(state.milk_g):
        return None
    return _dose(
        "flour",
        FLOUR_SPOON_G,
        state.milk_g,
        (1, 1, 2, 1),
        lambda start, _: (
            "Some cooks high up add about 2 tablespoons more flour per 2 cups of milk at 7,000 ft "
            "(2,100 m): common practice, no source, and the water balance does not explain it. "
            f"Add {start}, beat smooth, cook 1 minute, then look."
        ),
    )


def milk_to_loosen(state: KitchenState) -> Dose | None:
    """Warm milk to the target, one step at a time; None unless milk and flour are known.

    Mass balance; at least one step. Dipped flour in the house batch wants about 4 Tbsp.

    >>> milk_to_loosen(KitchenState(milk_g=500, flour_g=100, flour_measured="dipped")).count
    4
    """
    paste = paste_now(state)
    if paste is None or state.milk_g is None:
        return None
    steps = max(1, nearest(milk_steps_short(paste, state.milk_g)))
    flour_spread_g = spread_spoons(state) * FLOUR_SPOON_G
    low, high = _range(steps, flour_spread_g * MILK_PER_FLOUR / MILK_SPOON_G)
    before = ""
    if steps > 2 * FAR_OFF_SPOONS:
        before = "This batch is far off: ask again how the flour and the milk were measured. "
    return _dose(
        "milk",
        MILK_SPOON_G,
        state.milk_g,
        (steps, low, high, 1),
        lambda start, expect: (
            f"{before}Start with {start} of warm milk, beat smooth, then look. "
            f"Add the rest one at a time. Expect to need {expect}."
        ),
    )


def milk_to_re_emulsify(state: KitchenState) -> Dose | None:
    """Warm milk for dough that oils out: 15 g per 500 g milk, three times at most (house rule).

    The remedy's shape (cool, then fresh watery phase): H. McGee, *On Food and Cooking*, 2004.

    >>> milk_to_re_emulsify(KitchenState(milk_g=1500)).say
    '3 tablespoons'
    """
    if not state.milk_g:
        return None
    return _dose(
        "milk",
        MILK_SPOON_G,
        state.milk_g,
        (1, 1, 3, 1),
        lambda start, _: (
            f"Beat in {start} of warm milk for 30 to 60 seconds, then look. "
            "Do this three times at most."
        ),
    )


def _slurry_steps(state: KitchenState) -> tuple[int, int, int] | None:
    """Steps of slurry flour (expected, low, high); None unless milk and flour are known."""
    paste = paste_now(state)
    if paste is None or state.milk_g is None:
        return None
    grams = slurry_flour_g(paste.starch_g, paste.water_g)
    dearer = slurry_flour_g(0.0, 1.0) / flour_to_target_g(0.0, 1.0)
    steps = max(1, nearest(grams / FLOUR_SPOON_G / batch_size(state.milk_g)))
    return (steps, *_range(steps, spread_spoons(state) * dearer))


def _half(steps: int) -> int:
    return max(1, ceil(steps / 2))


def slurry_flour(state: KitchenState) -> Dose | None:
    """Flour of a slurry to the target: about 1.55 times the dry flour, but without lumps.

    Half goes in before the first look. None unless milk and flour are known. Mass balance.

    >>> slurry_flour(KitchenState(milk_g=500, flour_g=85, flour_measured="weighed")).say
    '3 tablespoons'
    """
    steps = _slurry_steps(state)
    if steps is None or state.milk_g is None:
        return None
    return _dose(
        "flour",
        FLOUR_SPOON_G,
        state.milk_g,
        (*steps, _half(steps[0])),
        lambda start, expect: (
            "Stir smooth with the cold milk. Beat in the slurry of "
            f"{start} of flour first, cook 2 minutes at 85 °C (185 °F) or hotter, then look. "
            f"Expect to need {expect}."
        ),
    )


def slurry_milk(state: KitchenState) -> Dose | None:
    """Cold milk for that slurry: 1.5 times the mass of its flour, in whole spoons.

    >>> slurry_milk(KitchenState(milk_g=500, flour_g=85, flour_measured="weighed")).say
    '2 tablespoons'
    """
    steps = _slurry_steps(state)
    if steps is None or state.milk_g is None:
        return None
    per_flour = SLURRY_MILK_PER_FLOUR * FLOUR_SPOON_G / MILK_SPOON_G
    expected, low, high, start = (
        max(1, nearest(per_flour * one)) for one in (*steps, _half(steps[0]))
    )
    return _dose(
        "milk",
        MILK_SPOON_G,
        state.milk_g,
        (expected, low, high, start),
        lambda start, expect: (
            f"Cold, stirred smooth with the flour: {start} for the first half. "
            f"{expect} for the whole."
        ),
    )


def _minutes(value: int, low: int, high: int, note: str) -> Minutes:
    return Minutes(value, low, high, counted(value, "minute"), note)


GATE_LOW_MIN, GATE_MIN, GATE_HIGH_MIN, GATE_HIGH_KITCHEN_MIN = 3, 3, 4, 5
SLOW_KITCHEN_M = 2000.0


def minutes_to_the_gate(elevation_m: float | None) -> Minutes:
    """Minutes to cook an underheated paste on, counted from lazy bubbling (house rule).

    Three at 85 °C (185 °F) or hotter; up to 4, above 2,000 m up to 5. Never fewer than the gate's
    three. (Practice says "2 to 4 minutes more": common practice, no source.)

    >>> minutes_to_the_gate(2310).high, minutes_to_the_gate(None).high
    (5, 4)
    """
    high_up = elevation_m is not None and elevation_m >= SLOW_KITCHEN_M
    high = GATE_HIGH_KITCHEN_MIN if high_up else GATE_HIGH_MIN
    return _minutes(
        GATE_MIN,
        GATE_LOW_MIN,
        high,
        f"Count from the first lazy bubbles, at 85 °C (185 °F) or hotter: {GATE_MIN} to {high} "
        "minutes, beating all the while. Then look.",
    )


def minutes_to_drive_off(state: KitchenState) -> Minutes | None:
    """Minutes in an open pan to the target, to the nearest 2; None unless milk and flour known.

    5 g a minute for 500 g of milk (calibrated), in a pan that fits the batch; at least 2.

    >>> minutes_to_drive_off(KitchenState(milk_g=500, flour_g=92.2, flour_measured="weighed")).say
    '6 minutes'
    """
    paste = paste_now(state)
    if paste is None or state.milk_g is None:
        return None
    water = max(0.0, water_to_drive_off_g(paste.starch_g, paste.water_g))
    minutes = drying_min(state.milk_g, water)
    spread = spread_spoons(state) * FLOUR_SPOON_G * WATER_PER_FLOUR / DRYING_G_PER_MIN
    value = max(2, 2 * nearest(minutes / 2))
    low = max(2, 2 * _nearest_down((value - spread) / 2))
    high = max(2, 2 * nearest((value + spread) / 2))
    return _minutes(
        value,
        low,
        high,
        f"With the pan left open, working the paste gently: look after {low}, expect about "
        f"{value}, stop at {high} at the latest.",
    )


def minutes_to_cool() -> Minutes:
    """Minutes off the heat until yolks may go in: 2 to 8; measure (derived, three-fold spread).

    >>> minutes_to_cool().note
    '2 to 8 minutes, the shorter the more it is beaten; measure: 72 to 75 °C (162 to 167 °F).'
    """
    return Minutes(
        4,
        2,
        8,
        "2 to 8 minutes",
        "2 to 8 minutes, the shorter the more it is beaten; measure: 72 to 75 °C (162 to 167 °F).",
    )
