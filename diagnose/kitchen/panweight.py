"""The pan-weight check: what the cooked paste weighs, against what it should.

What went in, less what the pan holds, is the water driven off. It says something only where flour
and milk were weighed: at the same weight, flour dipped or sifted by the cup is another paste.
The window of 45 to 75 g for 500 g of milk is a house rule (it needs trials at the stove); the
classes are those of ``balance``.
"""

from dataclasses import dataclass

from .balance import (
    driven_off_from_pan_g,
    paste_class,
    possible_classes,
    printed_grams,
    starch_g,
    starch_share,
    water_g,
)
from .estimates import Estimate
from .evaporation import batch_size, cooking_g, simmering_g
from .refusing import require_amount, require_positive

WINDOW_LOW_G, WINDOW_HIGH_G = 45.0, 75.0
"""g of water driven off for 500 g of milk (house rule)."""
READING_GOOD_TO_G = 7.0
"""Two readings of a kitchen scale, each good to 5 g."""


@dataclass(frozen=True, slots=True)
class PanWeight:
    """The check. ``word`` is "right", "too little left", "too much left" or "a misweigh"."""

    word: str
    driven_off_g: float
    should_hold_g: Estimate
    """What the pan should hold, without the pan: print to the nearest 5."""
    classes: tuple[str, ...]
    """Every word the paste's body may have, a class edge being uncertain; empty for none."""
    say: str


def should_hold_g(milk_g: float, flour_g: float, salt_g: float) -> Estimate:
    """What the pan should hold (g), without the pan; ``ValueError`` for a negative amount.

    Mass balance with the house window: the house batch, 604 g, should hold 529 to 559 g, 536 g by
    the usual path.

    >>> should_hold_g(500, 100, 4)
    Estimate(low=529.0, central=536.0, high=559.0, unit='g')
    """
    require_positive("Milk", milk_g)
    require_positive("Flour", flour_g)
    require_amount("Salt", salt_g)
    went_in, size = milk_g + flour_g + salt_g, batch_size(milk_g)
    usual = simmering_g(milk_g, None) + cooking_g(milk_g, None)
    return Estimate(
        went_in - WINDOW_HIGH_G * size,
        round(went_in - usual, 9),
        went_in - WINDOW_LOW_G * size,
        "g",
    )


def pan_weight_check(milk_g: float, flour_g: float, salt_g: float, contents_g: float) -> PanWeight:
    """Whether the pan's contents, without the pan, are what they should be for weighed ingredients.

    A reading counts as right when it is within what two readings are good to (7 g). A pan holding
    more than went in is a misweigh. ``ValueError`` for impossible amounts, among them contents so
    small that more water would have left than there was. Mass balance; house batch:

    >>> pan_weight_check(500, 100, 4, 540).word, pan_weight_check(500, 100, 4, 580).word
    ('right', 'too much left')
    >>> pan_weight_check(500, 100, 4, 580).say
    'The pan holds 580 g and should hold 530 to 560 g: 25 g of water had left. Cook on if it looks \
soft; at 560 g look again.'
    """
    should = should_hold_g(milk_g, flour_g, salt_g)
    off = driven_off_from_pan_g(milk_g + flour_g + salt_g, contents_g)
    share = starch_share(starch_g(flour_g), water_g(milk_g, flour_g, off))
    try:
        paste_class(share)
        classes = tuple(found.word for found in possible_classes(share))
    except ValueError:  # further out than the words were drawn for
        classes = ()
    low, high = printed_grams(should.low), printed_grams(should.high)
    holds = f"The pan holds {printed_grams(contents_g)} g"
    if off < -READING_GOOD_TO_G:
        word = "a misweigh"
        say = (
            f"{holds}, more than the {milk_g + flour_g + salt_g:.0f} g that went in. Was the empty "
            "pan's weight taken off, and was everything weighed?"
        )
    elif contents_g > should.high + READING_GOOD_TO_G:
        word = "too much left"
        say = (
            f"{holds} and should hold {low} to {high} g: {max(0, printed_grams(off))} g of water "
            f"had left. Cook on if it looks soft; at {high} g look again."
        )
    elif contents_g < should.low - READING_GOOD_TO_G:
        word = "too little left"
        say = (
            f"{holds} and should hold {low} to {high} g: {printed_grams(off)} g of water had left. "
            "Stop cooking. If it is stiff, beat in warm milk by the spoon."
        )
    else:
        word, say = "right", f"{holds} and should hold {low} to {high} g. That is right."
    return PanWeight(word, off, should, classes, say)
