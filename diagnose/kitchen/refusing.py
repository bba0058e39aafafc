"""How the kitchen refuses a number: one sentence, naming the value and what would be accepted.

Nothing is clamped. A number outside the range an equation was checked for raises ``ValueError``.
"""

from math import isfinite


def plain(value: float) -> str:
    """A number as a cook would write it: no exponent, at most two decimals.

    >>> plain(3500.0), plain(-430.0), plain(85.25)
    ('3,500', '-430', '85.25')
    """
    return f"{value:,.2f}".rstrip("0").rstrip(".")


def require_between(what: str, value: float, low: float, high: float, unit: str) -> None:
    """Raise ``ValueError`` with a sentence unless ``low <= value <= high`` (and value finite).

    >>> require_between("An elevation", 9000, -430, 3500, "m")
    Traceback (most recent call last):
    ...
    ValueError: An elevation of 9,000 m is outside the accepted range, -430 to 3,500 m.
    """
    if not isfinite(value):
        raise ValueError(
            f"{what} must be a number from {plain(low)} to {plain(high)} {unit}; got {value}."
        )
    if not low <= value <= high:
        raise ValueError(
            f"{what} of {plain(value)} {unit} is outside the accepted range, "
            f"{plain(low)} to {plain(high)} {unit}."
        )


def require_amount(what: str, value: float, unit: str = "g") -> None:
    """Raise ``ValueError`` with a sentence unless ``value`` is finite and not below zero.

    >>> require_amount("Milk", -5)
    Traceback (most recent call last):
    ...
    ValueError: Milk of -5 g is not possible; zero or more is accepted.
    """
    if not isfinite(value):
        raise ValueError(f"{what} must be a number in {unit}, zero or more; got {value}.")
    if value < 0:
        raise ValueError(
            f"{what} of {plain(value)} {unit} is not possible; zero or more is accepted."
        )


def require_positive(what: str, value: float, unit: str = "g") -> None:
    """Raise ``ValueError`` with a sentence unless ``value`` is finite and above zero.

    >>> require_positive("Milk", 0)
    Traceback (most recent call last):
    ...
    ValueError: Milk of 0 g is not possible; more than zero is accepted.
    """
    if not isfinite(value):
        raise ValueError(f"{what} must be a number in {unit}, more than zero; got {value}.")
    if value <= 0:
        raise ValueError(
            f"{what} of {plain(value)} {unit} is not possible; more than zero is accepted."
        )
