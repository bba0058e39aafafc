"""Grams in the cups and spoons that a kitchen has, with the nearest amount that can be measured.

A volume stands for a mass only for a named ingredient, and only as "about": USDA SR27 household
measures give 125 g a cup of flour, 244 g of milk, 14.2 g a tablespoon of butter, 18 g of salt.
Grated cheese has no cup weight (see ``measuring``); it is given in ounces.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from .measuring import CUP_ML, SPOONS_PER_CUP, TEASPOONS_PER_SPOON, grams_of
from .refusing import require_amount

GRAMS_PER_OUNCE = 28.349523125
"""International avoirdupois ounce, exactly (NIST Handbook 44, appendix C)."""
TEASPOONS_PER_CUP = SPOONS_PER_CUP * TEASPOONS_PER_SPOON

_CUPS = tuple(map(Fraction, ("1/4", "1/3", "1/2", "2/3", "3/4")))
_TEASPOONS = tuple(map(Fraction, ("1/8", "1/4", "1/2", "3/4")))
_GLYPHS = {
    Fraction(1, 8): "⅛", Fraction(1, 4): "¼", Fraction(1, 3): "⅓", Fraction(1, 2): "½",
    Fraction(2, 3): "⅔", Fraction(3, 4): "¾",
}  # fmt: skip
CLOSE_ENOUGH = (0.05, 0.08, 0.13)
"""Shares by which a measure may be off: the simplest within the first is taken, then the second."""


def measure(ingredient: str, grams: float) -> str:
    """An amount in cups and spoons, or in ounces where no cup weight is known.

    Args:
        grams: from 0; under a quarter of the smallest spoon it is "a pinch".

    Raises:
        ValueError: for a negative or endless amount.

    >>> measure("milk", 500), measure("flour", 100), measure("salt", 4)
    ('2 cups', '⅔ cup and 2 tablespoons', '¾ teaspoon')
    >>> measure("cheese", 45), measure("butter", 40)
    ('1.6 oz', '2½ tablespoons and 1 teaspoon')
    """
    require_amount("An amount", grams)
    try:
        cup_g = grams_of(ingredient, CUP_ML)
    except ValueError:
        return f"{grams / GRAMS_PER_OUNCE:.1f} oz"
    return in_spoons(grams / cup_g * TEASPOONS_PER_CUP)


@lru_cache(maxsize=512)
def in_spoons(teaspoons: float) -> str:
    """A volume in teaspoons as the simplest cups and spoons near it, two at most.

    >>> in_spoons(3), in_spoons(0.01), in_spoons(96)
    ('1 tablespoon', 'a pinch', '2 cups')
    """
    if teaspoons < 1 / 16:
        return "a pinch"
    found = _singles(teaspoons)
    for amount, words, unit, steps in tuple(found):
        if amount < teaspoons:
            found += [
                (amount + more, f"{words} and {second}", unit, steps + also + 2)
                for more, second, other, also in _singles(teaspoons - amount)
                if other < unit
            ]
    for share in CLOSE_ENOUGH:
        near = [one for one in found if abs(one[0] - teaspoons) <= share * teaspoons]
        if near:
            return min(near, key=lambda one: (one[3], abs(one[0] - teaspoons)))[1]
    return min(found, key=lambda one: abs(one[0] - teaspoons))[1]


_One = tuple[float, str, int, int]
"""Teaspoons, words, size of the measure, and how many things have to be filled."""


def _singles(teaspoons: float) -> list[_One]:
    """What one kind of measure gives near an amount: whole ones, with a fraction or without."""
    found: list[_One] = []
    for name, size, parts, most in (
        ("cup", TEASPOONS_PER_CUP, _CUPS, 1_000),
        ("tablespoon", TEASPOONS_PER_SPOON, (Fraction(1, 2),), 3),
        ("teaspoon", 1, _TEASPOONS, 2),
    ):
        whole = int(teaspoons // size)
        for count in (whole, whole + 1):
            for part in (Fraction(0), *parts):
                amount = count + part
                if 0 < amount <= most:
                    one = float(amount * size), _words(amount, name), size, int(part > 0)
                    found.append(one)
    return found


def _words(amount: Fraction, name: str) -> str:
    whole, part = divmod(amount, 1)
    number = (str(whole) if whole else "") + _GLYPHS.get(part, "")
    return f"{number} {name}{'' if amount <= 1 else 's'}"
