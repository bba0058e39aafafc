"""The computations a knowledge file may name: readings, doses and minutes.

Each takes a ``KitchenState`` and gives None when an input it needs is not known; nothing is
guessed in its place. ``needs`` must be known; ``uses`` are taken into account where they are.
Both are in the words an author writes (``state.INPUTS``). None of them refuses a state for which
``paste.contradictions`` finds nothing.
"""

from collections.abc import Mapping

from . import doses, doses_swaps
from .atmosphere import elevation_from_boil_m, water_boils_at_c
from .balance import TARGET_SHARE, pan_contents_at_share_g
from .correction import water_to_drive_off_g
from .evaporation import cooking_g, simmering_g
from .later_stages import LATER_MINUTES, LATER_READINGS
from .measuring import FLOUR_SPOON_G, MILK_CUP_G
from .mixing import after_yolks_c
from .named import Computation, DoseComputation, MinutesComputation, by_name
from .paste import (
    Paste,
    flour_used_g,
    paste_before_remedies,
    paste_now,
    salt_or_house_g,
    went_in_g,
)
from .state import KitchenState


def boiling_point_c(state: KitchenState) -> float | None:
    """The boil of water here (°C): measured, else from the elevation."""
    if state.boil_c is not None:
        return state.boil_c
    return None if state.elevation_m is None else water_boils_at_c(state.elevation_m)


def elevation_known_m(state: KitchenState) -> float | None:
    """The elevation (m): told, else from the measured boil."""
    if state.elevation_m is not None:
        return state.elevation_m
    return None if state.boil_c is None else elevation_from_boil_m(state.boil_c)


def _thermometer_reads_high(state: KitchenState) -> float | None:
    if state.boil_c is None or state.elevation_m is None:
        return None
    return state.boil_c - water_boils_at_c(state.elevation_m)


def _paste_below_boil(state: KitchenState) -> float | None:
    boil = boiling_point_c(state)
    return None if boil is None or state.paste_c is None else boil - state.paste_c


def _share(state: KitchenState) -> float | None:
    paste = paste_now(state)
    return None if paste is None else paste.share


def _share_before_remedies(state: KitchenState) -> float | None:
    paste = paste_before_remedies(state)
    return None if paste is None else paste.share


def _flour_over_told(state: KitchenState) -> float | None:
    used = flour_used_g(state)
    if used is None or state.flour_g is None or state.flour_measured == "unknown":
        return None
    return used - state.flour_g


def _flour_per_cup_of_milk(state: KitchenState) -> float | None:
    used = flour_used_g(state)
    if used is None or not state.milk_g:
        return None
    spoons = (used + state.flour_added_g) / FLOUR_SPOON_G
    return spoons / ((state.milk_g + state.milk_added_g) / MILK_CUP_G)


def _expected_pan_contents(state: KitchenState) -> float | None:
    """By the usual path, not by the minutes told: what the pan *should* hold."""
    all_in = went_in_g(state)
    if all_in is None or not state.milk_g:
        return None
    if state.pan_weighed_last:
        all_in += state.flour_added_g + state.milk_added_g
    return all_in - simmering_g(state.milk_g, None) - cooking_g(state.milk_g, None)


def _pan_contents_over_expected(state: KitchenState) -> float | None:
    expected = _expected_pan_contents(state)
    if expected is None or state.pan_contents_g is None:
        return None
    return state.pan_contents_g - expected


def _pan_contents_at_target(state: KitchenState) -> float | None:
    used, salt = flour_used_g(state), salt_or_house_g(state)
    if not used or not state.milk_g or salt is None:
        return None
    return pan_contents_at_share_g(
        state.milk_g + state.milk_added_g, used + state.flour_added_g, salt, TARGET_SHARE
    )


def _told_paste(state: KitchenState) -> Paste | None:
    """The paste, only where the water that left rests on something told."""
    paste = paste_now(state)
    return None if paste is None or paste.basis == "usual path" else paste


def _driven_off(state: KitchenState) -> float | None:
    paste = _told_paste(state)
    return None if paste is None else paste.driven_off_g


def _driven_off_share(state: KitchenState) -> float | None:
    paste = _told_paste(state)
    return None if paste is None or not state.milk_g else 100 * paste.driven_off_g / state.milk_g


def _water_to_target(state: KitchenState) -> float | None:
    paste = paste_now(state)
    return None if paste is None else water_to_drive_off_g(paste.starch_g, paste.water_g)


def _flour_spoons_short(state: KitchenState) -> float | None:
    paste = paste_now(state)
    if paste is None or not state.milk_g:
        return None
    return doses.flour_steps_short(paste, state.milk_g)


def _milk_spoons_short(state: KitchenState) -> float | None:
    paste = paste_now(state)
    if paste is None or not state.milk_g:
        return None
    return doses.milk_steps_short(paste, state.milk_g)


def _paste_after_yolks(state: KitchenState) -> float | None:
    paste = paste_now(state)
    if paste is None or state.paste_c is None or state.yolks is None:
        return None
    return after_yolks_c(paste.total_g, state.paste_c, state.yolks)


_BATCH = ("milk", "flour")
_WATER = ("minutes simmered", "minutes cooked", "pan contents", "salt")
_PASTE = ("flour measured", *_WATER)

READINGS: Mapping[str, Computation] = by_name(
    (
        Computation(
            "boiling-point",
            "degC",
            ("elevation",),
            boiling_point_c,
            uses=("boiling water",),
            means="where water boils in this kitchen; a measured boil is used before the elevation",
        ),
        Computation(
            "thermometer-reads-high",
            "degC",
            ("boiling water", "elevation"),
            _thermometer_reads_high,
            means="measured boil of water over the computed one; beyond 1 the thermometer is off",
        ),
        Computation(
            "paste-below-boil",
            "degC",
            ("paste temperature", "elevation"),
            _paste_below_boil,
            uses=("boiling water",),
            means="how far the paste is below the boil of water here",
        ),
        Computation(
            "starch-share",
            "%",
            _BATCH,
            _share,
            uses=_PASTE,
            means="starch in starch + water of the paste now, remedies counted in",
        ),
        Computation(
            "starch-share-before-remedies",
            "%",
            _BATCH,
            _share_before_remedies,
            uses=_PASTE,
            means="the same before any remedy was tried",
        ),
        Computation(
            "flour-really-used",
            "g",
            ("flour",),
            flour_used_g,
            uses=("flour measured",),
            means="what the flour weighed by the way it was measured",
        ),
        Computation(
            "flour-over-told",
            "g",
            ("flour", "flour measured"),
            _flour_over_told,
            means="flour that came in beyond what was meant, by the way it was measured",
        ),
        Computation(
            "flour-per-cup-of-milk",
            "tbsp",
            _BATCH,
            _flour_per_cup_of_milk,
            uses=("flour measured",),
            means="tablespoons of flour for each cup of milk",
        ),
        Computation(
            "expected-pan-contents",
            "g",
            _BATCH,
            _expected_pan_contents,
            uses=("flour measured", "salt"),
            means="what the pan should hold after the usual path, without the pan",
        ),
        Computation(
            "pan-contents-over-expected",
            "g",
            (*_BATCH, "pan contents"),
            _pan_contents_over_expected,
            uses=("flour measured", "salt"),
            means="what the pan holds beyond that",
        ),
        Computation(
            "pan-contents-at-target",
            "g",
            _BATCH,
            _pan_contents_at_target,
            uses=("flour measured", "salt"),
            means="what the pan holds when this paste has reached the target",
        ),
        Computation(
            "water-driven-off",
            "g",
            _BATCH,
            _driven_off,
            uses=_PASTE,
            means="water that left, by pan weight or by both minutes; negative: more than was told",
        ),
        Computation(
            "water-driven-off-share",
            "%",
            _BATCH,
            _driven_off_share,
            uses=_PASTE,
            means="the same in per cent of the milk",
        ),
        Computation(
            "water-to-drive-off",
            "g",
            _BATCH,
            _water_to_target,
            uses=_PASTE,
            means="water to boil off to the target; negative when past it",
        ),
        Computation(
            "flour-spoons-short",
            "tbsp",
            _BATCH,
            _flour_spoons_short,
            uses=_PASTE,
            means="tablespoons of flour per 500 g milk to the target; negative when past it",
        ),
        Computation(
            "milk-spoons-short",
            "tbsp",
            _BATCH,
            _milk_spoons_short,
            uses=_PASTE,
            means="tablespoons of milk per 500 g milk to the target; negative when past it",
        ),
        Computation(
            "paste-after-yolks",
            "degC",
            ("paste temperature", "yolks", *_BATCH),
            _paste_after_yolks,
            uses=_PASTE,
            means="the paste once cold yolks are beaten in",
        ),
        *LATER_READINGS,
    )
)

DOSES: Mapping[str, DoseComputation] = by_name(
    (
        DoseComputation(
            "flour-by-the-spoon",
            _BATCH,
            doses.flour_by_the_spoon,
            uses=_PASTE,
            means="flour to the target, by the spoon, then look",
        ),
        DoseComputation(
            "one-spoon-of-flour",
            ("milk",),
            doses.one_spoon_of_flour,
            means="a single step, where the flour in the batch is not known",
        ),
        DoseComputation(
            "altitude-spoonful",
            ("milk", "elevation"),
            lambda state: doses.altitude_spoonful(state, elevation_known_m(state)),
            uses=("boiling water",),
            means="one step of the practice at altitude (common practice, no source), from 900 m",
        ),
        DoseComputation(
            "milk-to-loosen",
            _BATCH,
            doses.milk_to_loosen,
            uses=_PASTE,
            means="warm milk to the target, by the spoon",
        ),
        DoseComputation(
            "milk-to-re-emulsify",
            ("milk",),
            doses.milk_to_re_emulsify,
            means="warm milk for a dough that oils out (house rule)",
        ),
        DoseComputation(
            "slurry-flour",
            _BATCH,
            doses.slurry_flour,
            uses=_PASTE,
            means="flour of a slurry to the target",
        ),
        DoseComputation(
            "slurry-milk",
            _BATCH,
            doses.slurry_milk,
            uses=_PASTE,
            means="cold milk for that slurry",
        ),
        DoseComputation(
            "cake-flour-extra",
            ("flour",),
            doses_swaps.cake_flour_extra,
            means="cake flour beyond the written weight (common practice, no source)",
        ),
        DoseComputation(
            "milk-to-free-the-spoon",
            ("milk",),
            doses_swaps.milk_to_free_the_spoon,
            means="hot milk that lets a stiff raw paste be stirred (common practice, no source)",
        ),
        DoseComputation(
            "butter-for-skim",
            ("milk",),
            doses_swaps.butter_for_skim,
            means="butter beyond the written weight when the milk is skim (house rule)",
        ),
        DoseComputation(
            "salt-for-the-milk",
            ("milk",),
            doses_swaps.salt_for_the_milk,
            means="fine salt that was left out, rounded down",
        ),
    )
)

MINUTES: Mapping[str, MinutesComputation] = by_name(
    (
        MinutesComputation(
            "minutes-to-the-gate",
            (),
            lambda state: doses.minutes_to_the_gate(elevation_known_m(state)),
            uses=("elevation", "boiling water"),
            means="cook on, from the first lazy bubbles (house rule)",
        ),
        MinutesComputation(
            "minutes-to-drive-off",
            _BATCH,
            doses.minutes_to_drive_off,
            uses=_PASTE,
            means="open pan, to the target, to the nearest 2",
        ),
        MinutesComputation(
            "minutes-to-cool",
            (),
            lambda _: doses.minutes_to_cool(),
            means="off the heat until yolks may go in; measure",
        ),
        *LATER_MINUTES,
    )
)
