"""Amounts for a batch that is not quite the written one: cake flour, skim milk, salt left out, and
a paste too stiff to stir. They scale with the flour or the milk, in the spoons a cook has.
"""

from .doses import Dose, counted, nearest
from .evaporation import batch_size
from .measuring import FLOUR_SPOON_G, MILK_SPOON_G, TEASPOONS_PER_SPOON
from .state import KitchenState

CAKE_FLOUR_SHARE = (0.05, 0.10)
"""More cake flour than all-purpose, for the same stiffness (common practice, no source)."""
BUTTER_TEASPOON_G = 14.2 / TEASPOONS_PER_SPOON
"""4.7 g, USDA SR27 01145: 14.2 g a tablespoon."""
SALT_TEASPOON_G = 6.0
"""g of table salt a teaspoon, USDA SR27 02047."""
HALVES = 2
HOUSE_SALT_G = 4.0
"""For 500 g of milk (house batch)."""


def _spoons(of: str, unit: str, spoon_g: float, counts: tuple[int, int, int], note: str) -> Dose:
    """A dose of ``counts``: expected, low and high; the low end goes in before the first look."""
    expected, low, high = (max(1, count) for count in counts)
    return Dose(
        of=of,
        grams=expected * spoon_g,
        count=expected,
        unit=unit,
        low=low,
        high=high,
        start_with=low,
        say=counted(expected, unit),
        note=note,
    )


def cake_flour_extra(state: KitchenState) -> Dose | None:
    """Cake flour beyond the written weight, in teaspoons; None unless the flour is known.

    5 to 10 g for 100 g (common practice, no source). Cake flour has less protein to take up water
    (USDA SR27 20084: 8.2 g in 100 g; all-purpose, 20081: 10.3 g).

    >>> cake_flour_extra(KitchenState(flour_g=100)).say
    '3 teaspoons'
    """
    if not state.flour_g:
        return None
    teaspoon_g = FLOUR_SPOON_G / TEASPOONS_PER_SPOON
    low, high = (nearest(share * state.flour_g / teaspoon_g) for share in CAKE_FLOUR_SHARE)
    middle = nearest(sum(CAKE_FLOUR_SHARE) / 2 * state.flour_g / teaspoon_g)
    note = f"Cake flour beyond the written weight: between {low} and {high}."
    return _spoons("flour", "teaspoon", teaspoon_g, (middle, low, high), note)


def milk_to_free_the_spoon(state: KitchenState) -> Dose | None:
    """Hot milk that lets a stiff, still raw paste be stirred; None unless the milk is known.

    15 to 30 g for 500 g of milk (common practice, no source); the paste is judged again after
    the heat. A spoonful is 15.25 g (USDA SR27 01077).

    >>> dose = milk_to_free_the_spoon(KitchenState(milk_g=500))
    >>> dose.start_with, dose.high
    (1, 2)
    """
    if not state.milk_g:
        return None
    size = batch_size(state.milk_g)
    if size < 0.75:
        unit, per, each = "teaspoon", TEASPOONS_PER_SPOON * size, MILK_SPOON_G / TEASPOONS_PER_SPOON
    else:
        unit, per, each = "tablespoon", size, MILK_SPOON_G
    low, high = max(1, nearest(per)), max(1, nearest(2 * per))
    note = f"Hot milk, to get the spoon moving: between {low} and {high}."
    return _spoons("milk", unit, each, (low, low, high), note)


def butter_for_skim(state: KitchenState) -> Dose | None:
    """Butter beyond the written weight when the milk is skim, for the taste; None without milk.

    5 g for 500 g of milk. In full the 16 g of fat that skim milk lacks would be 20 g of butter
    (USDA SR27 01077 and 01085; derived); a quarter of it is a house rule.

    >>> butter_for_skim(KitchenState(milk_g=500)).say
    '1 teaspoon'
    """
    if not state.milk_g:
        return None
    count = nearest(5.0 * batch_size(state.milk_g) / BUTTER_TEASPOON_G)
    note = "Butter beyond the written weight, later, for the taste."
    return _spoons("butter", "teaspoon", BUTTER_TEASPOON_G, (count, count, count), note)


def salt_for_the_milk(state: KitchenState) -> Dose | None:
    """Fine salt that was left out, in half teaspoons; None unless the milk is known.

    4 g for 500 g of milk (house batch): 0.84 % of the dough, in the comfortable 0.7 to 1.1 %
    (common practice, no source). A teaspoon of table salt weighs 6 g (USDA SR27 02047). The count
    is rounded down, since salt cannot be taken out again.

    >>> salt_for_the_milk(KitchenState(milk_g=500)).say
    '1 half teaspoon'
    """
    if not state.milk_g:
        return None
    half_g = SALT_TEASPOON_G / HALVES
    wanted = HOUSE_SALT_G * batch_size(state.milk_g) / half_g
    low, high = int(wanted), nearest(wanted)
    note = f"Fine salt: {low} first, then taste; at most {max(low, high)}."
    return _spoons("salt", "half teaspoon", half_g, (low, low, max(low, high)), note)
