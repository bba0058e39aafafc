"""The comparing phrases of a rule: what they mean, how they are judged, how they are printed.

A phrase is judged against what is known and answers *yes*, *no* or *unknown*. Nothing that was
not looked at ever counts as "no": an unanswered sign gives *unknown*, and only a finding may be
tested for being absent.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass

Value = str | float
"""An answer's name, or a number in the reading's own unit."""
PRESENT = "present"
"""The value of a finding that holds. No answer may have this name."""


class Truth(enum.Enum):
    """Met, not met, or nobody looked."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class OneOf:
    """One answer, or any of a list; negated, "answered, and different"."""

    answers: tuple[str, ...]
    negated: bool = False

    def judge(self, value: Value | None) -> Truth:
        """Yes or no once there is an answer.

        >>> OneOf(("pours", "slumps")).judge("slumps")
        <Truth.YES: 'yes'>
        >>> OneOf(("pours",), negated=True).judge(None)
        <Truth.UNKNOWN: 'unknown'>
        """
        if value is None:
            return Truth.UNKNOWN
        return Truth.YES if (value in self.answers) is not self.negated else Truth.NO

    def __str__(self) -> str:
        listed = " or ".join(self.answers)
        return f"not {listed}" if self.negated else listed


@dataclass(frozen=True, slots=True)
class Interval:
    """A stretch of a reading's scale; a missing end is open to infinity.

    ``below`` and ``above`` leave their limit out, ``at least``, ``at most`` and ``between`` take
    it in. Limits are in the reading's own unit.
    """

    low: float | None
    high: float | None
    low_inside: bool
    high_inside: bool
    words: str

    def judge(self, value: Value | None) -> Truth:
        """Yes if the number lies in the stretch, unknown if there is none.

        >>> Interval(None, 85.0, False, False, "below 85 °C").judge(78.0)
        <Truth.YES: 'yes'>
        """
        if value is None:
            return Truth.UNKNOWN
        if not isinstance(value, int | float):
            return Truth.NO
        if self.low is not None and (
            value < self.low or (value == self.low and not self.low_inside)
        ):
            return Truth.NO
        if self.high is not None and (
            value > self.high or (value == self.high and not self.high_inside)
        ):
            return Truth.NO
        return Truth.YES

    def __str__(self) -> str:
        return self.words


@dataclass(frozen=True, slots=True)
class Presence:
    """A finding that is present, or absent (also true while nothing has established it)."""

    present: bool

    def judge(self, value: Value | None) -> Truth:
        """A finding is always either there or not: this phrase is never unknown."""
        return Truth.YES if (value is not None) is self.present else Truth.NO

    def __str__(self) -> str:
        return "present" if self.present else "absent"


Phrase = OneOf | Interval | Presence
