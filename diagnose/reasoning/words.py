"""What the authors' words are worth, and the words a cook reads instead of numbers.

Authors and cooks deal in words only. The factors are a house scale: each step of evidence is
about one doubling to trebling of the odds, so that "decisive" still leaves doubt about a rare
cause. None of them has been measured; confirmed cases may one day move them in the open.
"""

from __future__ import annotations

import math
from typing import Final

from diagnose.knowledge.book import Commonness, Effort, Strength, Weight, Works

FACTOR: Final[dict[Weight, float]] = {
    "decisive for": 20.0,
    "strong for": 8.0,
    "moderate for": 3.0,
    "slight for": 1.5,
    "slight against": 1 / 1.5,
    "moderate against": 1 / 3,
    "strong against": 1 / 8,
    "rules out": 1 / 50,
}
"""Factor on the odds of a cause. "Rules out" is never nothing: a cook may be mistaken."""

SAYS_NOTHING: Final = "says nothing"
"""A factor of one."""

PRIOR: Final[dict[Commonness, float]] = {
    "very common": 8.0,
    "common": 4.0,
    "occasional": 2.0,
    "rare": 0.5,
}
"""How common a cause is, relative to the others of its stage, before anything is told."""

SOMETHING_ELSE: Final = "something-else"
PRIOR_SOMETHING_ELSE: Final = 2.0

WORKS: Final[dict[Works, float]] = {
    "nearly always": 0.9,
    "usually": 0.75,
    "often": 0.5,
    "sometimes": 0.25,
}
"""Chance that a remedy helps when the cause is the one it is for."""

WORSE_MINUTES: Final = 12.0
"""What a remedy that "makes it worse" costs, in minutes of a cook's evening. One that "ruins it"
costs the batch instead (``options.RUINS``)."""

EFFORT_MINUTES: Final[dict[Effort, float]] = {
    "glance": 0.2,
    "remember": 0.2,
    "touch": 0.4,
    "taste": 0.5,
    "test": 1.5,
    "measure": 1.5,
}
"""What answering costs, in minutes."""


def nats(weight: Weight) -> float:
    """The natural logarithm of a word's factor.

    >>> round(nats("strong for"), 2)
    2.08
    """
    return math.log(FACTOR[weight])


def nats_for(strength: Strength) -> float:
    """The weight of a rule that points to a cause; negate it for one that points away."""
    return nats(f"{strength} for")  # type: ignore[arg-type]  # every strength has its "for"


def chance_in_words(chance: float) -> str:
    """How a cook reads a chance.

    >>> chance_in_words(0.81)
    'very likely'
    """
    for least, words in ((0.75, "very likely"), (0.5, "likely"), (0.2, "possible")):
        if chance >= least:
            return words
    return "less likely" if chance >= 0.07 else "unlikely"
