"""Bands: named stretches of a reading, which stand for its answers in the evidence table."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from .book import Band
from .phrases import Interval, Truth


def band_of(bands: Sequence[Band], value: float | None) -> Band | None:
    """The band that holds the value; None if there is no value or no band.

    Where two bands share a single limit the earlier one holds it.
    """
    if value is None:
        return None
    return next((band for band in bands if band.phrase.judge(value) is Truth.YES), None)


def band_fault(bands: Sequence[Band], low: float, high: float) -> tuple[str, str] | None:
    """What keeps the bands from covering low … high once, and what to do; None if nothing does.

    Two bands may share a limit (the earlier holds it); they may not share a stretch, and nothing
    between may be left out, not even a single value.
    """
    spans = sorted((_span(band) for band in bands), key=lambda span: span[:2])
    for lower, upper in pairwise(spans):
        if upper[0] < lower[2]:
            return (
                f"the bands {lower[4].id} and {upper[4].id} overlap.",
                f"Let {upper[4].id} begin where {lower[4].id} ends, at {lower[2]:g}.",
            )
        if upper[0] > lower[2]:
            return (
                f"no band holds the values between {lower[2]:g} and {upper[0]:g}.",
                f"Let {upper[4].id} begin where {lower[4].id} ends.",
            )
        if not lower[3] and upper[1]:
            return (
                f"no band holds {lower[2]:g} itself.",
                'Write "at least" or "at most" on one side of the limit.',
            )
    first, last = spans[0], spans[-1]
    if first[0] > low or (first[0] == low and first[1] and math.isfinite(low)):
        return (f"no band holds the lowest values, from {low:g}.", "Add a band below the first.")
    if last[2] < high or (last[2] == high and not last[3] and math.isfinite(high)):
        return (f"no band holds the highest values, to {high:g}.", "Add a band above the last.")
    return None


def _span(band: Band) -> tuple[float, int, float, bool, Band]:
    """Low end, 1 if it is left out, high end, whether that is held, and the band."""
    phrase = band.phrase
    if not isinstance(phrase, Interval):
        raise TypeError("a band is a stretch of a scale")
    low = -math.inf if phrase.low is None else phrase.low
    high = math.inf if phrase.high is None else phrase.high
    return (low, int(not phrase.low_inside), high, phrase.high_inside, band)
