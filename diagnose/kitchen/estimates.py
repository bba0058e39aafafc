"""A figure that is not known exactly: its low, central and high value, and how it is said."""

from collections.abc import Callable
from dataclasses import dataclass
from math import floor, isfinite

from .refusing import plain


@dataclass(frozen=True, slots=True)
class Estimate:
    """``low`` <= ``central`` <= ``high``, all in ``unit``; ``ValueError`` for anything else.

    Plan with ``high`` where late is worse than early.
    """

    low: float
    central: float
    high: float
    unit: str = "min"

    def __post_init__(self) -> None:
        if not all(isfinite(one) for one in (self.low, self.central, self.high)):
            raise ValueError(f"An estimate needs three numbers; got {self}.")
        if not self.low <= self.central <= self.high:
            raise ValueError(
                "An estimate goes from low by central to high; got "
                f"{plain(self.low)}, {plain(self.central)}, {plain(self.high)}."
            )

    @property
    def width(self) -> float:
        """From the low to the high value."""
        return self.high - self.low

    def map(self, change: Callable[[float], float]) -> "Estimate":
        """The same with each of the three numbers changed; ``change`` must keep their order."""
        return Estimate(change(self.low), change(self.central), change(self.high), self.unit)

    def plus(self, amount: float) -> "Estimate":
        """The same with ``amount`` added to each.

        >>> Estimate(2, 3, 5).plus(1).high
        6
        """
        return self.map(lambda value: value + amount)

    def rounded(self, step: float) -> "Estimate":
        """Each of the three to the nearest ``step``, halves up.

        >>> Estimate(76.1, 117.0, 158.0).rounded(10)
        Estimate(low=80, central=120, high=160, unit='min')
        """
        return self.map(lambda value: step * floor(round(value / step, 9) + 0.5))

    def say(self) -> str:
        """Only the range, as it may be printed: the central value alone would claim too much.

        >>> Estimate(80, 117, 160).say(), Estimate(8, 8, 8).say()
        ('80 to 160 min', '8 min')
        """
        unit = "°C" if self.unit == "degC" else self.unit
        if self.low == self.high:
            return f"{plain(self.low)} {unit}"
        return f"{plain(self.low)} to {plain(self.high)} {unit}"


def spread(central: float, share: float, unit: str = "min") -> Estimate:
    """An estimate that is uncertain by ``share`` of itself, either way.

    >>> spread(100, 0.35)
    Estimate(low=65.0, central=100, high=135.0, unit='min')
    """
    if not 0 <= share < 1:
        raise ValueError(f"A spread is a share from 0 to below 1; got {share}.")
    return Estimate(central * (1 - share), central, central * (1 + share), unit)
