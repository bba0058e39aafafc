"""What the clock and the larder allow: being late, giving up, and what a fresh batch needs."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from diagnose.knowledge.book import HouseBatch, Stage

START_OVER_EXTRA = 10.0
"""Minutes that a fresh batch costs beyond its stove time: scales, washing up, ingredients."""
TOO_LATE_TO_NOTICE = 15.0
"""Minutes lost, beyond starting over, when a batch that is not right is carried on."""
LATE_DINNER = 45.0
"""What being late for the hour of serving weighs, in minutes, however late; house rule."""
GO_WITHOUT = 90.0
"""What having no dish at all weighs, in minutes beyond those of starting over; house rule."""

End = Literal["start-over", "go-without"]
"""What is left if no remedy of a course helps."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What the clock and the larder allow."""

    minutes_left: float | None = None
    """Minutes until serving less those from this stage to the plate; below 0 it is late already."""
    can_start_over: bool = True

    def late(self, clock: float) -> float:
        """What it costs to have this stage right after so many minutes.

        >>> Limits(20.0).late(20.0), Limits(20.0).late(21.0), Limits().late(600.0)
        (0.0, 45.0, 0.0)
        """
        left = self.minutes_left
        return 0.0 if left is None or clock <= left + 1e-9 else LATE_DINNER

    def end(self, start_over: float, clock: float = 0.0) -> float:
        """What is lost by giving up after so many minutes, at ``start_over`` minutes a batch.

        A cook who cannot start over loses the dish: never less than a fresh batch that comes late.

        >>> Limits(20.0).end(30.0), Limits(can_start_over=False).end(30.0)
        (75.0, 120.0)
        """
        if not self.can_start_over:
            return start_over + GO_WITHOUT
        return start_over + self.late(clock + start_over)

    @property
    def way_out(self) -> End:
        """What is left if nothing helps."""
        return "start-over" if self.can_start_over else "go-without"


NO_LIMITS = Limits()


def limits_for(
    stage: Stage, serve_in_min: float | None, house: HouseBatch, missing: Collection[str]
) -> Limits:
    """The limits at a stage: the hour of serving, and what there is none left of.

    ``missing`` are words for what a remedy adds or a batch needs: milk, flour, salt, yolks,
    cheese, butter.
    """
    left = None if serve_in_min is None else serve_in_min - stage.minutes_to_plate
    return Limits(left, not needed(house) & frozenset(missing))


def needed(house: HouseBatch) -> frozenset[str]:
    """What a fresh batch cannot be made without."""
    amounts = {
        "milk": house.milk_g,
        "flour": house.flour_g,
        "salt": house.salt_g,
        "yolks": house.yolks,
        "cheese": house.cheese_g,
        "butter": house.butter_g,
    }
    return frozenset(name for name, amount in amounts.items() if amount > 0)


def carry_on_loss(fine: float, start_over: float, limits: Limits = NO_LIMITS) -> float:
    """Minutes lost by carrying on, if something is wrong after all.

    ``fine`` is the chance that nothing is.
    """
    wrong = TOO_LATE_TO_NOTICE + limits.end(start_over, TOO_LATE_TO_NOTICE)
    return fine * limits.late(0.0) + (1 - fine) * wrong
