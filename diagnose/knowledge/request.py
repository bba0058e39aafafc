"""Taking a request apart: JSON values to words and numbers, collecting every mistake.

Each getter returns something of the right type also after a mistake. Numbers are refused outside
their range, in the unit that was told; text is never taken for a number.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import TypeVar

from .measures import accepted, to_unit, unit_named
from .problems import Problem, listed, nearest, quoted

_MOST_ENTRIES = 200
_MOST_PROBLEMS = 50
_HAIR = 1e-6

Word = TypeVar("Word", bound=str)


class Request:
    """One request and the mistakes in it."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def wrong(self, field: str, what: str, advice: str) -> None:
        if len(self.problems) < _MOST_PROBLEMS:
            self.problems.append(Problem("", 0, field, what, advice))

    def check_keys(self, field: str, data: Mapping[object, object], known: Collection[str]) -> None:
        for key in first(data):
            if key not in known:
                self.unknown(inside(field, key), "field", key, known)
        if len(data) > _MOST_ENTRIES:
            self.wrong(
                field or "situation",
                f"{len(data):,} entries are too many",
                f"at most {_MOST_ENTRIES} are read.",
            )

    def unknown(self, field: str, kind: str, word: object, known: Collection[str]) -> None:
        close = nearest(word, known) if isinstance(word, str) else None
        accepted_words = f"known are {listed(known)}." if known else f"there is no {kind} here."
        advice = f'the nearest known {kind} is "{close}".' if close else accepted_words
        self.wrong(field, f"there is no {kind} {quoted(word)}", advice)

    def mapping(
        self, data: Mapping[object, object], key: str, known: Collection[str] | None = None
    ) -> Mapping[object, object]:
        value = data.get(key, {})
        if not isinstance(value, Mapping):
            self.wrong(key, f"{said(value)} is not an object", "an object in { } is accepted.")
            return {}
        if known is not None:
            self.check_keys(key, value, known)
        elif len(value) > _MOST_ENTRIES:
            self.wrong(
                key, f"{len(value):,} entries are too many", f"at most {_MOST_ENTRIES} are read."
            )
        return value

    def items(self, data: Mapping[object, object], key: str) -> Sequence[object]:
        value = data.get(key, [])
        if not isinstance(value, list | tuple):
            self.wrong(key, f"{said(value)} is not a list", "a list in [ ] is accepted.")
            return ()
        if len(value) > _MOST_ENTRIES:
            self.wrong(
                key, f"{len(value):,} entries are too many", f"at most {_MOST_ENTRIES} are read."
            )
            return ()
        return value

    def required(
        self, data: Mapping[object, object], key: str, kind: str, known: Sequence[str]
    ) -> str:
        if key not in data:
            self.wrong(key, f"the {kind} is missing", f"known are {listed(known)}.")
            return ""
        value = data[key]
        if isinstance(value, str) and value in known:
            return value
        self.unknown(key, kind, in_words(value), known)
        return ""

    def word(
        self, data: Mapping[object, object], field: str, key: str, words: Sequence[Word]
    ) -> Word | None:
        if key not in data:
            return None
        value = data[key]
        for word in words:
            if value == word:
                return word
        self.wrong(
            inside(field, key), f"{said(value)} is not accepted", f"give {listed(words, 'or')}."
        )
        return None

    def word_known(
        self, data: Mapping[object, object], field: str, key: str, known: Sequence[str]
    ) -> str:
        value = data.get(key)
        if isinstance(value, str) and value in known:
            return value
        if key not in data:
            self.wrong(inside(field, key), f"no {key} is told", f"known are {listed(known)}.")
        else:
            self.unknown(inside(field, key), key, in_words(value), known)
        return ""

    def finite(self, value: object, field: str, accepted_numbers: str) -> float | None:
        """The number, or None after saying why it is none."""
        if isinstance(value, int | float) and not isinstance(value, bool):
            try:
                number = float(value)
            except OverflowError:
                number = math.inf
            if math.isfinite(number):
                return number
            said_number = "a number without end" if number == number else "not a number"
            self.wrong(field, f"{said_number} is not possible", f"{accepted_numbers}.")
        elif value is None:
            self.wrong(field, "nothing is told", f"leave it out if it is not known; "
                       f"{accepted_numbers}.")  # fmt: skip
        elif isinstance(value, str):
            self.wrong(field, f"{quoted(value)} is text", f"{accepted_numbers}, without quotes.")
        else:
            self.wrong(field, f"{said(value)} is not a number", f"{accepted_numbers}.")
        return None

    def number(
        self,
        data: Mapping[object, object],
        field: str,
        key: str,
        possible: tuple[float, float, str],
    ) -> float | None:
        """A number from lowest to highest, in the unit that belongs to the field."""
        if key not in data:
            return None
        low, high, unit = possible
        accepted_numbers = f"a number from {low:g} to {high:g} {unit} is accepted"
        value = self.finite(data[key], inside(field, key), accepted_numbers)
        if value is None or low <= value <= high:
            return value
        self.wrong(inside(field, key), f"{value:.10g} is not possible", f"{accepted_numbers}.")
        return None

    def measured(
        self, told: object, field: str, unit: str, possible: tuple[float, float]
    ) -> float | None:
        """A value with its unit, in ``unit``; refused in the unit that was told."""
        units = accepted(unit)
        if not isinstance(told, Mapping):
            example = f'{{"value": {possible[0]:g}, "unit": "{unit}"}}'
            self.wrong(
                field, f"{said(told)} is not a value with its unit", f"{example} is accepted."
            )
            return None
        self.check_keys(field, told, ("value", "unit"))
        written = told.get("unit")
        told_unit = unit_named(written) if isinstance(written, str) else None
        if told_unit not in units:
            what = f"the unit {said(written)} does not fit" if "unit" in told else "no unit is told"
            self.wrong(inside(field, "unit"), what, f"accepted: {listed(units, 'or')}.")
            told_unit = None
        low, high, shown_unit = _limits(possible, unit, told_unit)
        between = f"a number from {low:.10g} to {high:.10g} {shown_unit} is accepted"
        if "value" not in told:
            self.wrong(inside(field, "value"), "no value is told", f"{between}.")
            return None
        value = self.finite(told["value"], inside(field, "value"), between)
        if value is None or told_unit is None:
            return None
        converted = to_unit(value, told_unit, unit)
        if converted is None or not possible[0] <= converted <= possible[1]:
            self.wrong(field, f"{value:.10g} {told_unit} is not possible", f"{between}.")
            return None
        return converted


def first(data: object) -> list[object]:
    """The keys that are read: enough for any cook, few enough for any clock."""
    return list(data)[:_MOST_ENTRIES] if isinstance(data, Mapping) else []


def inside(field: str, key: object) -> str:
    """The name of a field inside another."""
    name = quoted(key)[1:-1]
    return f"{field}.{name}" if field else name


def _limits(possible: tuple[float, float], unit: str, told: str | None) -> tuple[float, float, str]:
    """The range in the unit that was told, rounded inwards so that its ends are accepted."""
    low = None if told is None else to_unit(possible[0], unit, told)
    high = None if told is None else to_unit(possible[1], unit, told)
    if low is None or high is None or told is None:
        return (*possible, unit)
    return (math.ceil(low * 100 - _HAIR) / 100, math.floor(high * 100 + _HAIR) / 100, told)


def in_words(value: object) -> object:
    """A word as it is, anything else in words."""
    return value if isinstance(value, str) else said(value)


def said(value: object) -> str:
    """What was told, in a few words."""
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "nothing"
    if isinstance(value, int | float):
        return quoted(_digits(value))[1:-1]
    return "a list" if isinstance(value, list | tuple) else "an object"


def _digits(value: float) -> str:
    try:
        return f"{float(value):.10g}"
    except OverflowError:
        return "a number without end"
