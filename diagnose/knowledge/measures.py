"""Units as they are written beside a number in a book or in something told.

Arithmetic is the kitchen's; this module only knows which unit may stand for which.
"""

from __future__ import annotations

from diagnose.kitchen.quantities import convert

UNITS = ("degC", "g", "mm", "min", "m", "Tbsp", "%")
"""The units a reading may be kept in."""

_KINDS: tuple[tuple[str, ...], ...] = (
    ("degC", "degF"),
    ("g", "kg", "oz", "lb"),
    ("mm", "cm", "in", "m", "ft"),
    ("min", "h"),
    ("Tbsp",),
    ("%",),
)
_SIGNS = {"degC": "°C", "degF": "°F"}
_SPELLED = {"°C": "degC", "°F": "degF", "tbsp": "Tbsp"}

_DIGITS = 9
"""Decimals kept after a conversion, so that 185 °F is 85 °C and not a hair beside it."""


def unit_named(written: str) -> str | None:
    """The unit meant by what was written, or None.

    >>> unit_named("°F"), unit_named("degF"), unit_named("stone")
    ('degF', 'degF', None)
    """
    unit = _SPELLED.get(written, written)
    return unit if any(unit in kind for kind in _KINDS) else None


def accepted(unit: str) -> tuple[str, ...]:
    """The units that can be told for a reading kept in this one.

    >>> accepted("degC")
    ('degC', 'degF')
    """
    return next((kind for kind in _KINDS if unit in kind), (unit,))


def sign(unit: str) -> str:
    """The unit as it is printed after a number.

    >>> sign("degC")
    '°C'
    """
    return _SIGNS.get(unit, unit)


def to_unit(value: float, unit: str, to: str) -> float | None:
    """The value in another unit, or None if the two measure different things.

    >>> to_unit(185, "degF", "degC")
    85.0
    """
    if unit == to:
        return float(value)
    if to not in accepted(unit):
        return None
    return round(convert(value, unit, to), _DIGITS)


def shown(value: float, unit: str) -> str:
    """A number with its unit, at most one decimal.

    >>> shown(230, "degF")
    '230 °F'
    """
    return f"{round(value, 1):.10g} {sign(unit)}"
