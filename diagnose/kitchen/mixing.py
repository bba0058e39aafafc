"""Temperatures when yolk, cheese and butter meet the paste, and the light for adding yolks.

Specific heats by the equations of Choi and Okos (1986) on USDA SR27 compositions. Never print:
seconds to set, the yolks' own temperature, log reductions, a ratio at which fat oils out.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import exp

from .refusing import require_amount, require_between, require_positive

PASTE_CP = 3.52
"""kJ/kgK, Choi and Okos (1986) on the house paste."""
YOLK_CP = 3.12
CHEESE_CP = 2.58
BUTTER_CP = 2.34
YOLK_G = 17.0
"""g, one large yolk: USDA SR27 01125."""
FRIDGE_C = 4.0

EGG_RULE_C = 68.0
"""For eggs not served at once, held for 17 s (FDA, *Key Temperatures for Egg Safety*). For eggs
served at once 63 °C for 15 s; home advice for egg-and-milk mixtures is 71 °C (160 °F)."""

_GAS_J_PER_MOL_K = 8.314462618
_YOLK_J_PER_MOL = 470_000.0


def mixed_c(parts: Iterable[tuple[float, float, float]]) -> float:
    """Temperature (°C) of a mixture of ``(g, kJ/kgK, °C)``: sum(m cp T)/sum(m cp).

    No heat is lost and no fat melts in this sum. ``ValueError`` for nothing at all.

    >>> round(mixed_c([(536, PASTE_CP, 75), (34, YOLK_CP, 4)]), 1)
    71.2
    """
    heat = capacity = 0.0
    for grams, cp, temperature_c in parts:
        require_amount("An ingredient", grams)
        require_positive("A specific heat", cp, "kJ/kgK")
        heat += grams * cp * temperature_c
        capacity += grams * cp
    require_positive("What is mixed", capacity, "kJ/K")
    return heat / capacity


def after_yolks_c(
    paste_g: float, paste_c: float, yolks: float, yolk_start_c: float = FRIDGE_C
) -> float:
    """Temperature (°C) when ``yolks`` large yolks are beaten into all of the paste.

    The yolks' own temperature is worth under 1 °C. Derived (mixing).

    >>> round(after_yolks_c(536, 85, 2), 1)
    80.7
    """
    return mixed_c([(paste_g, PASTE_CP, paste_c), (yolks * YOLK_G, YOLK_CP, yolk_start_c)])


def tempered_yolk_c(
    paste_g: float, paste_c: float, yolk_g: float, yolk_start_c: float = FRIDGE_C
) -> float:
    """Temperature (°C) when some hot paste is stirred into a bowl of yolk. Derived (mixing).

    >>> round(tempered_yolk_c(80, 85, 34), 0)
    63.0
    """
    return mixed_c([(paste_g, PASTE_CP, paste_c), (yolk_g, YOLK_CP, yolk_start_c)])


def after_cheese_and_butter_c(
    mass_g: float,
    mass_c: float,
    cheese_g: float,
    butter_g: float,
    cheese_start_c: float = 20.0,
    butter_start_c: float = 5.0,
) -> float:
    """Temperature (°C) when cheese and butter are beaten into paste with yolks. Derived (mixing).

    >>> round(after_cheese_and_butter_c(570, 75, 45, 40))
    69
    """
    return mixed_c(
        [
            (mass_g, PASTE_CP, mass_c),
            (cheese_g, CHEESE_CP, cheese_start_c),
            (butter_g, BUTTER_CP, butter_start_c),
        ]
    )


@dataclass(frozen=True, slots=True)
class YolkLight:
    """Whether yolks may go in: a light, said in words as well, and what to do."""

    light: str
    say: str
    do: str


_WAIT = YolkLight("red", "Wait: over 85 °C (185 °F)", "Wait, or change to a heavy cool bowl.")
_TEMPER = YolkLight(
    "amber",
    "With care: 75 to 85 °C (167 to 185 °F)",
    "Temper with 4 to 6 tablespoons of the paste, or beat in within 10 seconds.",
)
_GO = YolkLight("green", "Now: 72 to 75 °C (162 to 167 °F)", "Beat in, no hurry.")
_WARM = YolkLight(
    "amber",
    "Cool: under 72 °C (162 °F)",
    "Beat in, then warm gently to 72 °C (162 °F) for the egg rule.",
)


def yolk_light(paste_c: float) -> YolkLight:
    """The light for adding yolks to paste at ``paste_c`` (0 to 105 °C; ``ValueError`` outside).

    Derived from the setting of undiluted yolk, an upper bound on the risk, and the FDA's 68 °C.
    What scrambles is yolk lying on a hot pan or hot paste, not the mass. H. McGee, *On Food and
    Cooking* (2004): undiluted yolk thickens at 65 and sets at 70 °C.

    >>> yolk_light(90).light, yolk_light(80).light, yolk_light(74).light, yolk_light(60).light
    ('red', 'amber', 'green', 'amber')
    """
    require_between("A paste temperature", paste_c, 0.0, 105.0, "°C")
    if paste_c > 85.0:
        return _WAIT
    if paste_c > 75.0:
        return _TEMPER
    return _GO if paste_c >= 72.0 else _WARM


def yolk_rate_ratio(from_c: float, to_c: float) -> float:
    """How many times faster undiluted yolk sets at ``to_c`` than at ``from_c`` (56 to 75 °C).

    Arrhenius with 470 kJ/mol: Vega and Mercade-Prieto, Food Biophysics 6:152, 2011 (abstract).
    ``ValueError`` outside: the rate stops rising above 75 °C. Not to be shown.

    >>> round(yolk_rate_ratio(65, 66), 3)
    1.637
    """
    for temperature_c in (from_c, to_c):
        require_between("A yolk temperature", temperature_c, 56.0, 75.0, "°C")
    inverse = 1 / (from_c + 273.15) - 1 / (to_c + 273.15)
    return exp(_YOLK_J_PER_MOL / _GAS_J_PER_MOL_K * inverse)
