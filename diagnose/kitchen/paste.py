"""The paste of one batch as it is now, from whatever was told of it."""

from dataclasses import dataclass

from .atmosphere import HIGHEST_BOIL_C, HIGHEST_M, LOWEST_BOIL_C, LOWEST_M
from .balance import (
    HOUSE_SALT_SHARE,
    driven_off_from_pan_g,
    starch_g,
    starch_share,
    water_g,
)
from .evaporation import cooking_g, drying_g, simmering_g
from .measuring import flour_really_used_g
from .refusing import plain
from .state import KitchenState

SMALLEST_MILK_G, LARGEST_MILK_G = 50.0, 50_000.0
"""Batches that can be reckoned with (house rule): below, a teaspoon is more than any answer."""


@dataclass(frozen=True, slots=True)
class Paste:
    """Starch, water and all of the paste (g), and where the water driven off was taken from."""

    starch_g: float
    water_g: float
    total_g: float
    driven_off_g: float
    basis: str
    """"pan" (its contents were weighed), "minutes" (both were told) or "usual path" (assumed)."""

    @property
    def share(self) -> float:
        """c, per cent starch in starch + water."""
        return starch_share(self.starch_g, self.water_g)


def flour_used_g(state: KitchenState) -> float | None:
    """What the flour really weighed (g), before any added by a remedy."""
    if state.flour_g is None:
        return None
    return flour_really_used_g(state.flour_g, state.flour_measured)


def salt_or_house_g(state: KitchenState) -> float | None:
    """The salt (g): as told, else 0.8 % of the milk."""
    if state.salt_g is not None or state.milk_g is None:
        return state.salt_g
    return HOUSE_SALT_SHARE * state.milk_g


def went_in_g(state: KitchenState) -> float | None:
    """Milk + flour + salt (g), before anything added by a remedy."""
    flour, salt = flour_used_g(state), salt_or_house_g(state)
    if state.milk_g is None or flour is None or salt is None:
        return None
    return state.milk_g + flour + salt


def paste_now(state: KitchenState) -> Paste | None:
    """The paste as it is now, remedies counted in; None unless milk and flour are known.

    The water that left is taken from the pan's weight where it was weighed; else from the minutes,
    the usual 6 and 4.5 standing in for minutes not told. ``ValueError`` when more water would have
    left than went in (see ``contradictions``). House batch, usual path: 536 g, c 15.49.

    >>> paste = paste_now(KitchenState(milk_g=500, flour_g=100, flour_measured="weighed"))
    >>> round(paste.total_g), round(paste.share, 2), paste.basis
    (536, 15.49, 'usual path')
    """
    flour, all_in = flour_used_g(state), went_in_g(state)
    if not state.milk_g or flour is None or all_in is None:
        return None
    added = state.flour_added_g + state.milk_added_g
    cooked_on = drying_g(state.milk_g, state.cooked_more_min)
    if state.pan_contents_g is None:
        off = simmering_g(state.milk_g, state.simmer_min)
        off += cooking_g(state.milk_g, state.cook_min) + cooked_on
        told = state.simmer_min is not None and state.cook_min is not None
        basis = "minutes" if told else "usual path"
    elif state.pan_weighed_last:
        off = driven_off_from_pan_g(all_in + added, state.pan_contents_g)
        basis = "pan"
    else:
        off = driven_off_from_pan_g(all_in, state.pan_contents_g) + cooked_on
        basis = "pan"
    flour += state.flour_added_g
    return Paste(
        starch_g=starch_g(flour),
        water_g=water_g(state.milk_g + state.milk_added_g, flour, off),
        total_g=all_in + added - off,
        driven_off_g=off,
        basis=basis,
    )


def paste_before_remedies(state: KitchenState) -> Paste | None:
    """The paste as it was before any remedy was tried; None unless milk and flour are known.

    None too when the pan was weighed only after the remedies: that weight says nothing of before.
    """
    if state.pan_weighed_last and (
        state.flour_added_g or state.milk_added_g or state.cooked_more_min
    ):
        return None
    return paste_now(
        KitchenState(
            milk_g=state.milk_g,
            flour_g=state.flour_g,
            flour_measured=state.flour_measured,
            salt_g=state.salt_g,
            simmer_min=state.simmer_min,
            cook_min=state.cook_min,
            pan_contents_g=state.pan_contents_g,
        )
    )


def contradictions(state: KitchenState) -> list[str]:
    """One sentence for each number, or pair of numbers, that cannot be; empty when all is well.

    When this is empty, no computation refuses the state.

    >>> contradictions(KitchenState(milk_g=500, flour_g=100, pan_contents_g=1700))
    ["The pan's contents of 1,700 g are far more than the 604 g that went in. Was the empty pan's \
weight taken off?"]
    """
    found = []
    if state.elevation_m is not None and not LOWEST_M <= state.elevation_m <= HIGHEST_M:
        found.append(
            f"An elevation of {plain(state.elevation_m)} m is outside the accepted range, "
            f"{plain(LOWEST_M)} to {plain(HIGHEST_M)} m."
        )
    if state.boil_c is not None and not LOWEST_BOIL_C <= state.boil_c <= HIGHEST_BOIL_C:
        found.append(
            f"Water boiling at {plain(state.boil_c)} °C belongs to no kitchen from "
            f"{plain(LOWEST_M)} to {plain(HIGHEST_M)} m: {LOWEST_BOIL_C:.1f} to "
            f"{HIGHEST_BOIL_C:.1f} °C is accepted. Check the thermometer."
        )
    if state.paste_c is not None and not 0.0 <= state.paste_c <= 105.0:
        found.append(
            f"A paste temperature of {plain(state.paste_c)} °C is outside the accepted range, "
            "0 to 105 °C."
        )
    if state.milk_g is not None and not SMALLEST_MILK_G <= state.milk_g <= LARGEST_MILK_G:
        found.append(
            f"Milk of {plain(state.milk_g)} g is outside the accepted range, "
            f"{plain(SMALLEST_MILK_G)} to {plain(LARGEST_MILK_G)} g."
        )
    if state.flour_g == 0:
        found.append("Flour of 0 g is not possible; more than zero is accepted.")
    if state.pan_contents_g == 0:
        found.append("The pan's contents of 0 g are not possible; more than zero is accepted.")
    return found or _weights_against_each_other(state)


def _weights_against_each_other(state: KitchenState) -> list[str]:
    all_in = went_in_g(state)
    if all_in is None:
        return []
    if state.pan_contents_g is not None:
        held = all_in
        if state.pan_weighed_last:
            held += state.flour_added_g + state.milk_added_g
        if state.pan_contents_g > 1.5 * held:
            sentence = (
                f"The pan's contents of {plain(state.pan_contents_g)} g are far more than the "
                f"{held:,.0f} g that went in. Was the empty pan's weight taken off?"
            )
            return [sentence]
    try:
        paste_now(state)
        paste_before_remedies(state)
    except ValueError as refused:
        return [str(refused)]
    return []
