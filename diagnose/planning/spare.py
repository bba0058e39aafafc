"""How much more to have on hand: from the batches that were counted here, with an honest start.

Where few were counted the house rule, one in five lost, still weighs in: it stands for five batches
of which one was lost, and each counted batch weighs as much as one of these. That is the mean of a
beta distribution (1 and 4, then what was counted); with 1 and 1 it is the rule of succession
(Laplace, *Essai philosophique sur les probabilités*, 1814, from memory).
"""

from __future__ import annotations

from math import ceil, log

from diagnose.kitchen.refusing import require_amount, require_between

FAILS_UNCOUNTED = 0.2
"""Chance that a batch is lost where nobody has counted: one in five (house rule)."""
WEIGHS_BATCHES = 5
"""The house rule weighs as much as so many counted batches (house rule)."""
SURE = 0.95
MOST_CHANCE = 0.9


def chance_lost_from(lost: int, counted: int) -> float:
    """The chance that a batch is lost, where ``lost`` of ``counted`` were.

    ``ValueError`` unless 0 <= lost <= counted. Never above 0.9: where more were lost no spare
    helps. Nothing counted leaves the house rule.

    >>> chance_lost_from(0, 0), chance_lost_from(4, 15), chance_lost_from(0, 5)
    (0.2, 0.25, 0.1)
    """
    require_amount("Lost batches", lost, "batches")
    require_amount("Counted batches", counted, "batches")
    if lost > counted:
        raise ValueError(f"{lost} batches cannot be lost of {counted}.")
    known = FAILS_UNCOUNTED * WEIGHS_BATCHES + lost
    return min(MOST_CHANCE, known / (WEIGHS_BATCHES + counted))


def batches_on_hand(chance_lost: float | None = None, sure: float = SURE) -> int:
    """Batches to buy for, so that at least one comes out with a chance of ``sure``.

    ``chance_lost`` is counted in this kitchen (0 to 0.9); None, not counted, is one in five (house
    rule). ``sure`` from 0.5 to 0.999. ``ValueError`` outside. 1 - lost^n >= sure: two.

    >>> batches_on_hand(), batches_on_hand(0.0), batches_on_hand(0.5)
    (2, 1, 5)
    """
    lost = FAILS_UNCOUNTED if chance_lost is None else chance_lost
    require_between("A chance of losing a batch", lost, 0.0, MOST_CHANCE, "")
    require_between("How sure", sure, 0.5, 0.999, "")
    if lost == 0:
        return 1
    return max(1, ceil(round(log(1 - sure) / log(lost), 9)))
