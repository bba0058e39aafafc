"""Heat through a slab, solved in full: finite volumes across, the matrix exponential in time.

An independent peer of the kitchen's lumped model: no Biot number, no first term, no fitted time
constant. ``scipy.linalg.expm`` makes it exact in time for faces that stay as they are.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm
from scipy.optimize import brentq

Profile = NDArray[np.float64]


@dataclass(frozen=True)
class Face:
    """Heat transfer coefficient (W/m2K) and what is beyond it (°C); 1e7 is perfect contact."""

    h: float
    beyond_c: float


@dataclass(frozen=True)
class Period:
    """So many minutes with these faces."""

    minutes: float
    top: Face
    bottom: Face


@dataclass(frozen=True)
class Wall:
    """A slab: thickness in mm, k in W/mK, density times specific heat in J/m3K."""

    mm: float
    k: float
    rho_cp: float
    cells: int = 60

    def uniform(self, start_c: float) -> Profile:
        """Everywhere at ``start_c``."""
        return np.full(self.cells, start_c)

    def after(self, profile: Profile, period: Period) -> Profile:
        """The profile, bottom to top, at the end of ``period``."""
        dx = self.mm / 1000 / self.cells
        inner = self.k / dx
        matrix = np.zeros((self.cells, self.cells))
        source = np.zeros(self.cells)
        for one in range(self.cells - 1):
            matrix[one, one] -= inner
            matrix[one, one + 1] += inner
            matrix[one + 1, one + 1] -= inner
            matrix[one + 1, one] += inner
        for cell, face in ((0, period.bottom), (-1, period.top)):
            through = 1 / (1 / face.h + dx / 2 / self.k)
            matrix[cell, cell] -= through
            source[cell] += through * face.beyond_c
        matrix, source = matrix / (self.rho_cp * dx), source / (self.rho_cp * dx)
        steady = np.linalg.solve(matrix, -source)
        result: Profile = steady + expm(matrix * period.minutes * 60) @ (profile - steady)
        return result

    def warmest_c(self, start_c: float, periods: Sequence[Period], minutes: float) -> float:
        """The warmest point after ``minutes`` of the periods, one after the other."""
        profile = self.uniform(start_c)
        for period in periods:
            spent = min(minutes, period.minutes)
            profile = self.after(profile, Period(spent, period.top, period.bottom))
            minutes -= spent
            if minutes <= 0:
                break
        return float(profile.max())

    def minutes_to_c(self, start_c: float, periods: Sequence[Period], target_c: float) -> float:
        """Minutes until the warmest point is at ``target_c``."""
        found: float = brentq(
            lambda t: self.warmest_c(start_c, periods, t) - target_c, 1.0, 2000.0, xtol=0.02
        )
        return found
