"""Quantities as cooks write them: read, printed, converted.

"1 1/2 cups", "¾ cup", "0,5 l", "8 fl oz", "1 h 30 min", "T" for tablespoon and "t" for teaspoon.
What is not understood is refused with a question, never guessed at: any text gives a value or one
``NotAQuantity``. The work done grows with the length of the text, which is capped.

Units (NIST Handbook 44, appendix C, from memory): the US cup of 236.588 ml, tablespoon, teaspoon
and fluid ounce; the avoirdupois pound and ounce; the international foot and inch.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from fractions import Fraction
from math import isfinite
from types import MappingProxyType

LONGEST_TEXT = 64
_LARGEST = 1_000_000_000
_ZERO_C = Fraction(27315, 100)


class NotAQuantity(ValueError):
    """The text is not one quantity. The message is a sentence for the person who wrote it."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: its id, what it measures, its size in the first unit of its kind, and its names."""

    id: str
    kind: str
    size: Fraction
    one: str
    many: str
    names: tuple[str, ...]


_CUP = Fraction("236.5882365")
_OUNCE = Fraction("28.349523125")


def _unit(id_: str, kind: str, size: Fraction | int, one: str, many: str, *names: str) -> Unit:
    return Unit(id_, kind, Fraction(size), one, many, names)


UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        unit.id: unit
        for unit in (
            # Temperatures have an offset as well; ``convert`` knows them by name.
            _unit("degC", "temperature", 1, "°C", "°C", "°c", "degc", "celsius", "°celsius"),
            _unit(
                "degF", "temperature", 1, "°F", "°F", "°f", "degf", "fahrenheit", "°fahrenheit", "f"
            ),
            _unit("g", "mass", 1, "g", "g", "g", "gram", "grams", "gr", "gm"),
            _unit("kg", "mass", 1000, "kg", "kg", "kg", "kilo", "kilos", "kilogram", "kilograms"),
            _unit("oz", "mass", _OUNCE, "oz", "oz", "oz", "ounce", "ounces"),
            _unit("lb", "mass", 16 * _OUNCE, "lb", "lb", "lb", "lbs", "pound", "pounds"),
            _unit("mm", "length", 1, "mm", "mm", "mm", "millimetre", "millimetres", "millimeters"),
            _unit("cm", "length", 10, "cm", "cm", "cm", "centimetre", "centimetres", "centimeters"),
            _unit("in", "length", Fraction("25.4"), "in", "in", "in", "inch", "inches", '"', "″"),
            _unit("m", "length", 1000, "m", "m", "m", "metre", "metres", "meter", "meters"),
            _unit("ft", "length", Fraction("304.8"), "ft", "ft", "ft", "foot", "feet", "'", "′"),
            _unit("min", "time", 1, "min", "min", "min", "mins", "minute", "minutes"),
            _unit("h", "time", 60, "h", "h", "h", "hr", "hrs", "hour", "hours"),
            _unit("ml", "volume", 1, "ml", "ml", "ml", "cc", "millilitre", "millilitres"),
            _unit("l", "volume", 1000, "l", "l", "l", "litre", "litres", "liter", "liters"),
            _unit("cup", "volume", _CUP, "cup", "cups", "cup", "cups"),
            _unit(
                "tbsp",
                "volume",
                _CUP / 16,
                "tablespoon",
                "tablespoons",
                "tbsp",
                "tbsps",
                "tbs",
                "tbl",
                "tablespoon",
                "tablespoons",
            ),
            _unit(
                "tsp",
                "volume",
                _CUP / 48,
                "teaspoon",
                "teaspoons",
                "tsp",
                "tsps",
                "teaspoon",
                "teaspoons",
            ),
            _unit(
                "floz",
                "volume",
                _CUP / 8,
                "fl oz",
                "fl oz",
                "fl oz",
                "floz",
                "fluid ounce",
                "fluid ounces",
            ),
        )
    }
)
"""Every unit by its id."""

KINDS = tuple(dict.fromkeys(unit.kind for unit in UNITS.values()))
"""What can be measured: temperature, mass, length, time, volume."""

_BY_NAME = MappingProxyType({name: unit for unit in UNITS.values() for name in unit.names})
# Names for a size that has no unit of its own: read, then kept in the unit beside it.
_SCALED = MappingProxyType(
    {"dl": ("ml", 100), "decilitre": ("ml", 100), "cl": ("ml", 10), "centilitre": ("ml", 10)}
)
_NOT_ONE_SIZE = frozenset(
    {"pint", "pints", "pt", "quart", "quarts", "qt", "gallon", "gallons", "stick", "sticks"}
)
_DEGREES = frozenset({"°", "deg", "degree", "degrees"})
_GLYPHS = MappingProxyType(
    {
        "½": "1/2",
        "⅓": "1/3",
        "⅔": "2/3",
        "¼": "1/4",
        "¾": "3/4",
        "⅕": "1/5",
        "⅖": "2/5",
        "⅗": "3/5",
        "⅘": "4/5",
        "⅙": "1/6",
        "⅚": "5/6",
        "⅛": "1/8",
        "⅜": "3/8",
        "⅝": "5/8",
        "⅞": "7/8",
    }
)
_TIDY = str.maketrans({"⁄": "/", "∕": "/", "−": "-", "–": "-", "º": "°", "’": "'", "”": '"'})

# One number token; every piece is bounded and none can match the empty text twice over.
_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+")
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+")
_GROUPED = re.compile(r"-?[1-9][0-9]{0,2}(?: [0-9]{3})+")
_WORD = re.compile(r"[^\W\d_]+\.?|°|\"|″|'|′")

EXAMPLES = MappingProxyType(
    {
        "temperature": "78 °C",
        "mass": "300 g",
        "length": "15 mm",
        "time": "1 h 30 min",
        "volume": "1 1/2 cups",
    }
)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with the id of its unit, in the unit it was written in."""

    value: float
    unit: str

    @property
    def kind(self) -> str:
        """What it measures."""
        return UNITS[self.unit].kind

    def to(self, unit: str) -> float:
        """The value in another unit of the same kind (see ``convert``)."""
        return convert(self.value, self.unit, unit)


def convert(value: float, unit: str, to: str) -> float:
    """Convert between two unit ids of one kind; ``ValueError`` for unknown ids or unlike kinds.

    Source: NIST Handbook 44, appendix C (from memory): 1 foot = 304.8 mm, 1 pound = 453.592 37 g.

    >>> convert(7000, "ft", "m"), convert(185, "degF", "degC"), convert(1, "lb", "g")
    (2133.6, 85.0, 453.59237)
    """
    for one in (unit, to):
        if one not in UNITS:
            raise ValueError(f'"{one}" is not a unit. Accepted: {", ".join(UNITS)}.')
    source, target = UNITS[unit], UNITS[to]
    if source.kind != target.kind:
        raise ValueError(
            f"{source.many} measure {source.kind} and {target.many} measure {target.kind}; "
            "one cannot be turned into the other."
        )
    if not isfinite(value):
        raise ValueError(f"A number is wanted to convert; got {value}.")
    if unit == to:
        return value
    if source.kind == "temperature":
        exact = Fraction(value)
        return float((exact - 32) * 5 / 9) if to == "degC" else float(exact * 9 / 5 + 32)
    return float(Fraction(value) * source.size / target.size)


def parse(text: str, kind: str | None = None, bare: str | None = None) -> Quantity:
    """Read one quantity; ``NotAQuantity`` with a sentence for anything else.

    ``kind`` is what is wanted ("mass", "volume", ...), ``bare`` the unit id a number without a
    unit has. Cups and spoons are US ones (236.588 ml; NIST Handbook 44, appendix C).

    >>> parse("1 1/2 cups"), parse("0,5 l"), parse("1 h 30 min"), parse("2 T")
    (Quantity(value=1.5, unit='cup'), Quantity(value=0.5, unit='l'), \
Quantity(value=90.0, unit='min'), Quantity(value=2.0, unit='tbsp'))
    >>> parse("1,500 g")
    Traceback (most recent call last):
    ...
    diagnose.kitchen.quantities.NotAQuantity: "1,500" can be read two ways. Did you mean 1500 \
or 1.500?
    """
    if kind is not None and kind not in KINDS:
        raise ValueError(f'"{kind}" is not a kind of quantity. Accepted: {", ".join(KINDS)}.')
    if bare is not None and bare not in UNITS:
        raise ValueError(f'"{bare}" is not a unit. Accepted: {", ".join(UNITS)}.')
    reader = _Reader(text, kind)
    parts = [reader.part(bare)]
    while not reader.done:
        reader.refuse_unless_a_number_follows()
        parts.append(reader.part(None))
    unit, exact = _together(parts)
    if kind is not None and unit.kind != kind:
        raise NotAQuantity(
            f'"{text.strip()}" is a {unit.kind}; a {kind} is wanted here, like {EXAMPLES[kind]}.'
        )
    if exact < 0 and unit.kind != "temperature":
        raise NotAQuantity(f'"{text.strip()}" is below zero. Write zero or more.')
    if abs(exact) > _LARGEST:
        raise NotAQuantity(f'"{text.strip()}" is too large for a kitchen.')
    return Quantity(float(exact), unit.id)


def parse_number(text: str) -> float:
    """Read one plain number, zero or more, with no unit; ``NotAQuantity`` for anything else.

    >>> parse_number("1½"), parse_number("2")
    (1.5, 2.0)
    """
    reader = _Reader(text, None)
    exact = reader.number()
    if not reader.done:
        raise NotAQuantity(f'A number without a unit is wanted, like 2. What is "{reader.rest}"?')
    if exact < 0:
        raise NotAQuantity(f'"{text.strip()}" is below zero. Write zero or more.')
    if exact > _LARGEST:
        raise NotAQuantity(f'"{text.strip()}" is too large for a kitchen.')
    return float(exact)


class _Reader:
    """Walks once through the text, taking a number, then a unit."""

    def __init__(self, text: str, kind: str | None) -> None:
        self.example = EXAMPLES[kind] if kind else EXAMPLES["mass"]
        if len(text) > LONGEST_TEXT:
            raise NotAQuantity(
                f"That is longer than {LONGEST_TEXT} letters. Write one quantity, "
                f"like {self.example}."
            )
        tidy = text.translate(_TIDY)
        for glyph, written in _GLYPHS.items():
            tidy = tidy.replace(glyph, f" {written} ")
        self.text, self.at, self.kind = " ".join(tidy.split()), 0, kind
        if not self.text:
            raise NotAQuantity(f"Nothing is written. Write a quantity, like {self.example}.")

    @property
    def rest(self) -> str:
        return self.text[self.at :].strip()

    @property
    def done(self) -> bool:
        return not self.rest

    def _space(self) -> None:
        while self.text[self.at : self.at + 1] == " ":
            self.at += 1

    def _take(self, mark: str) -> bool:
        if self.text.startswith(mark, self.at):
            self.at += len(mark)
            return True
        return False

    def refuse_unless_a_number_follows(self) -> None:
        self._space()
        if not _NUMBER.match(self.text, self.at):
            raise self._left_over()

    def _left_over(self) -> NotAQuantity:
        return NotAQuantity(
            f'"{self.rest}" was left over in "{self.text}". '
            f"Write one quantity, like {self.example}."
        )

    def part(self, bare: str | None) -> tuple[Unit, Fraction]:
        value = self.number()
        return self.unit(value, bare)

    def number(self) -> Fraction:
        """A whole, decimal, fraction or mixed number."""
        self._space()
        negative = self._take("-")
        self._space()
        whole, is_whole = self._plain()
        value = whole
        if self._slash():
            value = self._over(whole, is_whole)
        else:
            back = self.at
            dash = self._take("-")
            self._space()
            if _NUMBER.match(self.text, self.at):
                top, top_whole = self._plain()
                if self._slash():
                    value = self._mixed(whole, is_whole, self._over(top, top_whole))
                elif dash:
                    raise NotAQuantity(
                        f'"{self.text}" looks like a range. Write one number, like {self.example}.'
                    )
                elif self.text[back] == " ":
                    joined = self.text[: self.at].replace(" ", "")
                    meant = (
                        f"Did you mean {joined}?"
                        if _GROUPED.fullmatch(self.text[: self.at])
                        else "Write one."
                    )
                    raise NotAQuantity(f'"{self.text}" has two numbers side by side. {meant}')
                else:
                    self.at = back
            else:
                self.at = back
        return -value if negative else value

    def _slash(self) -> bool:
        back = self.at
        self._space()
        if self._take("/"):
            self._space()
            return True
        self.at = back
        return False

    def _plain(self) -> tuple[Fraction, bool]:
        """One number token: its value, and whether it is a whole number."""
        found = _NUMBER.match(self.text, self.at)
        if not found:
            raise NotAQuantity(
                f'No number was found at "{self.rest or self.text}". Write it in digits, '
                f"like {self.example}."
            )
        token = found.group()
        self.at = found.end()
        if _THOUSANDS.fullmatch(token):
            joined = token.replace(",", "")
            if token.count(",") == 1:
                raise NotAQuantity(
                    f'"{token}" can be read two ways. Did you mean {joined} '
                    f"or {token.replace(',', '.')}?"
                )
            raise NotAQuantity(
                f'"{token}" has separators between the digits. Did you mean {joined}?'
            )
        marks = token.count(",") + token.count(".")
        if marks > 1:
            raise NotAQuantity(f'"{token}" has more than one decimal mark. Write it as 1.5 or 1,5.')
        if len(token.replace(",", ".").split(".")[0]) > 10:
            raise NotAQuantity(f'"{token}" is too large for a kitchen.')
        return Fraction(token.replace(",", ".").removesuffix(".")), marks == 0

    def _over(self, top: Fraction, top_whole: bool) -> Fraction:
        bottom, bottom_whole = self._plain()
        if not (top_whole and bottom_whole) or self._slash():
            raise NotAQuantity(
                f'"{self.text}" is not a fraction this can read. Write it like 1/2 or 0.5.'
            )
        if bottom == 0:
            raise NotAQuantity(f'"{self.text}" divides by zero. Write a fraction like 1/2.')
        return top / bottom

    def _mixed(self, whole: Fraction, is_whole: bool, fraction: Fraction) -> Fraction:
        if not is_whole or fraction >= 1:
            raise NotAQuantity(
                f'"{self.text}" mixes a number and a fraction in a way that can be read twice. '
                "Write it like 1 1/2."
            )
        return whole + fraction

    def unit(self, value: Fraction, bare: str | None) -> tuple[Unit, Fraction]:
        """The unit after a number; two words at most ("fl oz")."""
        words: list[str] = []
        ends: list[int] = []
        at = self.at
        while len(words) < 2:
            while self.text[at : at + 1] == " ":
                at += 1
            found = _WORD.match(self.text, at)
            if not found:
                break
            words.append(found.group().removesuffix("."))
            at = found.end()
            ends.append(at)
        if not words:
            return self._no_unit(value, bare)
        for count in (2, 1):
            if len(words) < count:
                continue
            degrees = count == 2 and words[0].lower() in _DEGREES
            joined = "°" + words[1] if degrees else " ".join(words[:count])
            unit = self._named(joined)
            if unit is not None:
                self.at = ends[count - 1]
                return unit[0], value * unit[1]
        return self._unknown_unit(words[0])

    def _named(self, name: str) -> tuple[Unit, int] | None:
        if name == "T":
            return UNITS["tbsp"], 1
        if name == "t":
            return UNITS["tsp"], 1
        if name == "C" and self.kind != "volume":
            return UNITS["degC"], 1
        if name.lower() in _DEGREES:
            raise NotAQuantity(f'"{self.text}": is that °C or °F? Write it like 78 °C or 172 °F.')
        lower = name.lower()
        if lower == "c":
            if self.kind == "temperature":
                return UNITS["degC"], 1
            if self.kind == "volume":
                return UNITS["cup"], 1
            raise NotAQuantity(f'"{self.text}": did you mean cups or °C? Write "cup" or "°C".')
        if lower == "m" and self.kind == "time":
            return UNITS["min"], 1
        if lower in _SCALED:
            unit, times = _SCALED[lower]
            return UNITS[unit], times
        return (_BY_NAME[lower], 1) if lower in _BY_NAME else None

    def _no_unit(self, value: Fraction, bare: str | None) -> tuple[Unit, Fraction]:
        if self.rest:
            if self.rest.startswith(":"):
                raise NotAQuantity(
                    f'"{self.text}" can be read two ways. Write it like 1 h 30 min or 90 min.'
                )
            raise self._left_over()
        if bare is None:
            raise NotAQuantity(
                f'"{self.text}" has no unit. {float(value):g} of what? '
                f"Write it like {self.example}."
            )
        return UNITS[bare], value

    def _unknown_unit(self, word: str) -> tuple[Unit, Fraction]:
        lower = word.lower()
        if lower in _NOT_ONE_SIZE:
            raise NotAQuantity(
                f'"{word}" is not the same amount everywhere. Write it in ml, l, cups or g.'
            )
        units = [unit.many for unit in UNITS.values() if self.kind in (None, unit.kind)]
        long_names = [
            name
            for name, unit in _BY_NAME.items()
            if len(name) > 2 and name.isalpha() and self.kind in (None, unit.kind)
        ]
        near = get_close_matches(lower, long_names, n=1, cutoff=0.6)
        if near and near[0][0] == lower[0]:
            raise NotAQuantity(f'"{word}" is not a unit this knows. Did you mean {near[0]}?')
        raise NotAQuantity(f'"{word}" is not a unit this knows. Known: {", ".join(units)}.')


def _together(parts: list[tuple[Unit, Fraction]]) -> tuple[Unit, Fraction]:
    """Add "1 h" and "30 min", in the last unit; units must shrink and the parts must fit."""
    unit, total = parts[0]
    for smaller, value in parts[1:]:
        if smaller.kind != unit.kind or unit.kind == "temperature" or smaller.size >= unit.size:
            raise NotAQuantity(
                f'"{unit.many}" and "{smaller.many}" cannot be put together. '
                f"Write one quantity, like {EXAMPLES[unit.kind]}."
            )
        times = unit.size / smaller.size
        if value >= times:
            raise NotAQuantity(
                f"{float(value):g} {smaller.many} is more than fits after {unit.many}. "
                f"Write one quantity, like {EXAMPLES[unit.kind]}."
            )
        unit, total = smaller, total * times + value
    return unit, total


_PRINTED_PARTS = (2, 3, 4, 8)
_PRINTED_AS_FRACTIONS = frozenset({"cup", "tbsp", "tsp", "in", "lb"})


def show(quantity: Quantity) -> str:
    """Print a quantity so that reading it back gives the same value.

    Cups, spoons, inches and pounds are printed in halves, thirds, quarters and eighths where they
    are whole ones of these.

    >>> show(Quantity(1.5, "cup")), show(Quantity(0.5, "l")), show(Quantity(78.0, "degC"))
    ('1 1/2 cups', '0.5 l', '78 °C')
    """
    unit = UNITS[quantity.unit]
    number = _as_fraction(quantity.value) if quantity.unit in _PRINTED_AS_FRACTIONS else None
    name = unit.one if abs(quantity.value) <= 1 else unit.many
    return f"{number or _as_decimal(quantity.value)} {name}"


def _as_fraction(value: float) -> str | None:
    if value < 0:
        return None
    whole = int(value)
    for parts in _PRINTED_PARTS:
        top = round((value - whole) * parts)
        if 0 < top < parts and float(whole + Fraction(top, parts)) == value:
            return f"{whole} {top}/{parts}" if whole else f"{top}/{parts}"
    return None


def _as_decimal(value: float) -> str:
    if value == int(value):
        return str(int(value))
    text = repr(value)
    if "e" not in text:
        return text
    digits, _, power = text.partition("e-")
    sign, digits = ("-", digits[1:]) if digits.startswith("-") else ("", digits)
    return f"{sign}0.{'0' * (int(power) - 1)}{digits.replace('.', '')}"


_METRIC = MappingProxyType(
    {
        "oz": "g",
        "lb": "g",
        "in": "mm",
        "ft": "m",
        "cup": "ml",
        "tbsp": "ml",
        "tsp": "ml",
        "floz": "ml",
    }
)


def echo(quantity: Quantity) -> str:
    """What was understood, to be shown beside the field, with the metric amount where it helps.

    A temperature stays in the unit the cook used. Whole numbers from 10 up, else one decimal.

    >>> echo(Quantity(1.5, "cup")), echo(Quantity(185.0, "degF")), echo(Quantity(7000.0, "ft"))
    ('1 1/2 cups = 355 ml', '185 °F', '7000 ft = 2134 m')
    """
    said = show(quantity)
    if quantity.unit == "min" and quantity.value >= 60 and quantity.value == int(quantity.value):
        hours, minutes = divmod(int(quantity.value), 60)
        return f"{said} = {hours} h {minutes} min" if minutes else f"{said} = {hours} h"
    metric = _METRIC.get(quantity.unit)
    if metric is None:
        return said
    value = quantity.to(metric)
    return f"{said} = {value:.0f} {metric}" if value >= 10 else f"{said} = {value:.1f} {metric}"
