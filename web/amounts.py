"""A cook's text for an amount, in the one unit the kitchen works in, with what was understood."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.kitchen.measuring import grams_of
from diagnose.kitchen.quantities import (
    UNITS,
    NotAQuantity,
    Quantity,
    convert,
    echo,
    parse,
    parse_number,
)


@dataclass(frozen=True, slots=True)
class Understood:
    """A value in the kitchen's unit, and the sentence that says what was understood."""

    value: float
    echo: str


def grams(text: str, ingredient: str) -> Understood:
    """Grams of an ingredient; a bare number is grams; volumes only where a cup weight is known.

    Raises ``NotAQuantity`` with a sentence. A cup of whole milk is 244 g (USDA SR27 01077).

    >>> grams("2 cups", "milk")
    Understood(value=488.0, echo='2 cups = about 488 g')
    """
    if ingredient == "milk" and _bare_ounces(text):
        raise NotAQuantity(
            f'"{text}" of milk: by weight or by volume? Write it in g, or as "fl oz".'
        )
    quantity = parse(text, bare="g")
    kind = UNITS[quantity.unit].kind
    if kind == "volume":
        try:
            weight = grams_of(ingredient, quantity.to("ml"))
        except ValueError as refused:
            raise NotAQuantity(str(refused)) from None
        return Understood(round(weight, 1), f"{_said(quantity)} = about {weight:.0f} g")
    if kind != "mass":
        raise NotAQuantity(f'"{text}" is a {kind}; a weight is wanted here, like 500 g.')
    return Understood(round(quantity.to("g"), 1), echo(quantity))


def metres(text: str) -> Understood:
    """An elevation in metres; the unit has to be written.

    >>> metres("7000 ft")
    Understood(value=2133.6, echo='7000 ft = 2134 m')
    """
    below = text.startswith(("-", "−"))
    quantity = parse(text.lstrip("-− ") if below else text, "length")
    value = quantity.to("m")
    return Understood(-value if below else value, f"{'-' if below else ''}{echo(quantity)}")


def celsius(text: str) -> Understood:
    """A temperature in degrees Celsius, echoed in the unit the cook used.

    >>> celsius("199 °F").echo
    '199 °F'
    """
    quantity = parse(text, "temperature")
    return Understood(round(quantity.to("degC"), 2), echo(quantity))


def minutes(text: str) -> Understood:
    """A stretch of time in minutes; a bare number is minutes.

    >>> minutes("2 h 30 min")
    Understood(value=150.0, echo='150 min = 2 h 30 min')
    """
    quantity = parse(text, "time", "min")
    return Understood(quantity.to("min"), echo(quantity))


def count(text: str) -> Understood:
    """A plain number of things.

    >>> count("2")
    Understood(value=2.0, echo='2')
    """
    value = parse_number(text)
    return Understood(value, f"{value:g}")


def reading(text: str, unit: str) -> Quantity:
    """A measured number: its own unit if one is written, else the unit chosen beside it.

    Raises ``NotAQuantity``, also for a unit that measures something else.

    >>> reading("78", "degC"), reading("172 °F", "degC")
    (Quantity(value=78.0, unit='degC'), Quantity(value=172.0, unit='degF'))
    """
    if unit not in UNITS:
        return Quantity(parse_number(text), unit)
    return parse(text, UNITS[unit].kind, unit)


def in_unit(value: float, unit: str, to: str) -> float:
    """A value in another unit; units that only a book knows stay as they are.

    >>> in_unit(85.0, "degC", "degF")
    185.0
    """
    return value if unit == to else convert(value, unit, to)


def _bare_ounces(text: str) -> bool:
    words = text.lower().rstrip(".").split()
    return (
        bool(words)
        and words[-1].lstrip("0123456789./½¼¾⅓⅔") in ("oz", "ounce", "ounces")
        and not ("fl" in words or "fluid" in words)
    )


def _said(quantity: Quantity) -> str:
    return echo(quantity).partition(" = ")[0]
