"""A slab cooling as one body, stage by stage: each stage an air temperature and a time constant.

The resistance inside the slab is added through its Biot number. Properties are those of the
finished house dough at 30 °C (Choi and Okos, 1986, on USDA SR27, with 3 % air: see ``thermal``).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

from .refusing import require_between

CONDUCTIVITY_W_MK, DENSITY_KG_M3, SPECIFIC_HEAT_J_KGK = 0.494, 1045.0, 3332.0
"""Finished house dough at 30 °C; its 3 % of air is calibrated."""
THINNEST_MM, THICKEST_MM = 10.0, 25.0
"""The range over which the model was compared with the full solution."""


@dataclass(frozen=True, slots=True)
class Stage:
    """So many minutes in air of ``air_c``; endless as ``math.inf``."""

    minutes: float
    air_c: float
    tau_min: float


def time_constant_min(thickness_mm: float, top_w_m2k: float, bottom_w_m2k: float) -> float:
    """Minutes in which the slab's distance from the air around it falls to 37 %.

    tau = rho cp a (1 + Bi/3)/(h_t + h_b) with Bi = h_t a_t/k and a_t = a h_t/(h_t + h_b), a the
    thickness. ``ValueError`` outside 10 to 25 mm, 0.1 to 200 W/m2K above and 0 to 200 below.
    Derived: 15 mm with 9 above and 9 below, 51 min.

    >>> round(time_constant_min(15, 9, 9))
    51
    """
    require_between("A slab", thickness_mm, THINNEST_MM, THICKEST_MM, "mm")
    require_between("A heat transfer coefficient", top_w_m2k, 0.1, 200.0, "W/m2K")
    require_between("A heat transfer coefficient", bottom_w_m2k, 0.0, 200.0, "W/m2K")
    both = top_w_m2k + bottom_w_m2k
    a = thickness_mm / 1000.0
    biot = top_w_m2k * (a * top_w_m2k / both) / CONDUCTIVITY_W_MK
    return DENSITY_KG_M3 * SPECIFIC_HEAT_J_KGK * a * (1 + biot / 3) / both / 60.0


def after_c(start_c: float, stages: Sequence[Stage], minutes: float) -> float:
    """The warmest point (°C) after ``minutes``. One time constant: 37 % of the way is left.

    >>> round(after_c(60, [Stage(1000, 10, 50)], 50), 1)
    28.4
    """
    now = start_c
    for stage in stages:
        spent = min(minutes, stage.minutes)
        now = stage.air_c + (now - stage.air_c) * exp(-spent / stage.tau_min)
        minutes -= spent
        if minutes <= 0:
            break
    return now


def until_min(start_c: float, stages: Sequence[Stage], target_c: float) -> float | None:
    """Minutes until the warmest point is at ``target_c`` or below; None when it never is.

    >>> round(until_min(60, [Stage(1000, 10, 50)], 28.4))
    50
    >>> until_min(60, [Stage(1000, 10, 50)], 10) is None
    True
    """
    now, passed = start_c, 0.0
    for stage in stages:
        if now <= target_c:
            return passed
        if stage.air_c < target_c:
            needed: float = stage.tau_min * log((now - stage.air_c) / (target_c - stage.air_c))
            if needed <= stage.minutes:
                return passed + needed
        now = after_c(now, (stage,), stage.minutes)
        passed += stage.minutes
    return passed if now <= target_c and passed < float("inf") else None
