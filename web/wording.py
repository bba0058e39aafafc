"""Words and numbers as a cook reads them."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.filling import in_grams_too
from diagnose.kitchen.quantities import convert
from diagnose.knowledge.situations import INGREDIENTS

UNITS: Mapping[str, str] = {
    "degC": "°C",
    "degF": "°F",
    "g": "g",
    "kg": "kg",
    "oz": "oz",
    "lb": "lb",
    "mm": "mm",
    "cm": "cm",
    "in": "in",
    "m": "m",
    "ft": "ft",
    "min": "min",
    "h": "h",
    "Tbsp": "Tbsp",
    "%": "%",
}
"""A unit's name in the files → as it is printed."""

CHOICES: Mapping[str, tuple[str, ...]] = {
    "degC": ("degC", "degF"),
    "g": ("g", "oz", "lb"),
    "mm": ("mm", "cm", "in"),
    "m": ("m", "ft"),
    "min": ("min", "h"),
}
"""The units in which a cook may give a reading of this unit; others only in their own."""

RESULTS: Mapping[str, str] = {
    "worked": "It worked",
    "no-change": "No change",
    "worse": "Worse",
    "cannot": "I can't do this",
}

FLOUR_MEASURED: Mapping[str, str] = {
    "unknown": "Not said",
    "weighed": "Weighed on a scale",
    "spooned": "Spooned into the cup, levelled",
    "dipped": "Cup dipped into the bag, levelled",
    "sifted-first": "Sifted first, then measured by the cup",
    "sifted-after": "Measured by the cup, then sifted",
}


FIELDS: Mapping[str, str] = {
    "elevation_m": "Elevation, m",
    "water_boils_at": "Water boils at",
    "milk_g": "Milk, g",
    "flour_g": "Flour, g",
    "flour_measured": "Flour measured",
    "salt_g": "Salt, g",
    "yolks": "Egg yolks",
    "cheese_g": "Hard cheese, g",
    "butter_g": "Butter, g",
    "simmer_min": "Minutes simmered",
    "cook_min": "Minutes cooked",
    "serve_in_min": "Minutes to serving",
}
"""The fields of kitchen and batch."""


def number(value: float) -> str:
    """A number without a tail of zeros.

    >>> number(500.0), number(92.6)
    ('500', '92.6')
    """
    return f"{value:.10g}"


def with_unit(value: float, unit: str) -> str:
    """A number with its unit as printed.

    >>> with_unit(78.0, "degC")
    '78 °C'
    """
    return f"{number(value)} {UNITS.get(unit, unit)}"


def minutes(value: float) -> str:
    """A stretch of time in whole minutes, hours once it is long.

    >>> minutes(3), minutes(1), minutes(65), minutes(120)
    ('3 minutes', '1 minute', '1 h 5 min', '2 h')
    """
    whole = round(value)
    if whole < 60:
        return f"{whole} minute{'' if whole == 1 else 's'}"
    hours, rest = divmod(whole, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def seconds(value: float) -> str:
    """A short stretch of time given in minutes: minutes and seconds.

    >>> seconds(0.2), seconds(1.5), seconds(2.0)
    ('12 s', '1 min 30 s', '2 min')
    """
    whole, rest = divmod(round(value * 60), 60)
    return " ".join([f"{whole} min"] * bool(whole) + [f"{rest} s"] * bool(rest or not whole))


def full_stop(sentence: str) -> str:
    """A sentence that ends as one.

    >>> full_stop("It slumps"), full_stop("Does it slump?")
    ('It slumps.', 'Does it slump?')
    """
    return sentence if sentence.endswith((".", "?", "!")) else f"{sentence}."


def evidence(strength: str) -> str:
    """How strongly a rule or a row of the table speaks, for a cook.

    >>> evidence("moderate for"), evidence("concludes")
    ('moderate evidence', '')
    """
    word, _, side = strength.partition(" ")
    return f"{word} evidence" if side == "for" else ""


def thousands(value: float) -> str:
    """A whole number with its thousands set apart.

    >>> thousands(2310)
    '2,310'
    """
    return f"{value:,.0f}"


def height(metres: float) -> str:
    """An elevation in both units.

    >>> height(2310)
    '2,310 m (7,579 ft)'
    """
    return f"{thousands(metres)} m ({thousands(convert(metres, 'm', 'ft'))} ft)"


FOR_TEMPLATES: Mapping[str, object] = {
    "number": number,
    "with_unit": with_unit,
    "in_minutes": minutes,
    "in_seconds": seconds,
    "thousands": thousands,
    "height": height,
    "in_grams_too": in_grams_too,
    "evidence": evidence,
    "UNITS": UNITS,
    "RESULTS": RESULTS,
    "FLOUR_MEASURED": FLOUR_MEASURED,
    "INGREDIENTS": INGREDIENTS,
}
"""What templates may call."""
