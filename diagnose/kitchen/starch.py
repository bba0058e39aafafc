"""Whether the starch has had its heat: the gate before any flour.

An undercooked paste only *looks* wet. Until it has been at 85 °C or hotter, lazily bubbling, for
3 minutes, the first advice is heat, never flour. The size of the gate is a house rule; the
kinetics below only show why a threshold of that kind is sensible, and are never shown to a cook
(published kinetics for wheat disagree widely; no percentage is printed).
"""

from math import exp, log

from .refusing import require_amount, require_between

GATE_C = 85.0
GATE_MIN = 3.0

_RATE_PER_S = 2.8e18
_ACTIVATION_J_PER_MOL = 139_000.0
_GAS_J_PER_MOL_K = 8.314462618


def gate_passed(paste_c: float | None, minutes_bubbling: float | None) -> bool | None:
    """Whether the paste was at 85 °C or hotter, lazily bubbling, for 3 minutes (house rule).

    None, not known, unless what is known settles it: a paste that never reached 85 °C or did not
    bubble for 3 minutes has not passed, whatever the other answer would be.

    >>> gate_passed(78, None), gate_passed(92, 5), gate_passed(92, None)
    (False, True, None)
    """
    if paste_c is not None and paste_c < GATE_C:
        return False
    if minutes_bubbling is not None:
        require_amount("Time", minutes_bubbling, "min")
        if minutes_bubbling < GATE_MIN:
            return False
    return None if paste_c is None or minutes_bubbling is None else True


def gelatinized_98_min(paste_c: float) -> float:
    """Minutes until 98 % of the starch has gelatinized at a steady ``paste_c`` (70 to 100 °C).

    First order, k = 2.8e18 exp(-139000/RT) per s: Zanoni et al., LWT 28:314, 1995 (bread crumb;
    read second-hand): 4.4 min at 85 °C. A step, never a percentage: not to be shown. ``ValueError``
    outside the range.

    >>> round(gelatinized_98_min(85), 1)
    4.4
    """
    require_between("A paste temperature", paste_c, 70.0, 100.0, "°C")
    kelvin = paste_c + 273.15
    per_s = _RATE_PER_S * exp(-_ACTIVATION_J_PER_MOL / (_GAS_J_PER_MOL_K * kelvin))
    return log(1 / 0.02) / per_s / 60.0
