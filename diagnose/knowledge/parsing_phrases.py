"""Comparing phrases: from the words an author writes to something that can be judged.

Six ways to compare: ``below``, ``above``, ``at least``, ``at most``, ``between … and …``, or one
answer or several with ``or``; ``not`` before answers means *answered, and different*. A finding is
``present`` or ``absent``. Printing a phrase and reading it again gives the same phrase.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from .fields import RESERVED
from .measures import accepted, sign, to_unit, unit_named
from .phrases import Interval, OneOf, Presence
from .problems import did_you_mean, listed, nearest, quoted

_NUMBER = r"(-?[0-9]{1,9}(?:\.[0-9]{1,9})?)"
_UNIT = r"(?: ?(°C|°F|%|[A-Za-z]{1,6}))?"
_VALUE = re.compile(_NUMBER + _UNIT)
_ONE_SIDED = re.compile(rf"(below|above|at least|at most) {_NUMBER}{_UNIT}")
_BETWEEN = re.compile(rf"between {_NUMBER}{_UNIT} and {_NUMBER}{_UNIT}")
_LONGEST = 400


class NotAPhrase(ValueError):
    """What is wrong with a phrase, and what would be accepted."""

    def __init__(self, what: str, advice: str) -> None:
        super().__init__(f"{what} {advice}")
        self.what, self.advice = what, advice


def parse_answers(text: str, subject: str, answers: Collection[str]) -> OneOf:
    """Answers of a sign, or stages: ``pours or slumps``, ``not one-mass``.

    >>> parse_answers("pours or slumps", "paste-body", ["pours", "slumps", "one-mass"])
    OneOf(answers=('pours', 'slumps'), negated=False)
    """
    words = text.split(" or ")
    negated = words[0].startswith("not ")
    if negated:
        words[0] = words[0].removeprefix("not ")
    words = [word.strip() for word in words]
    for word in words:
        check_answer(word, subject, answers)
    if len(set(words)) < len(words):
        raise NotAPhrase(f"{quoted(text)} names an answer twice.", "Name each once.")
    if set(words) == set(answers):
        raise NotAPhrase(
            f"{quoted(text)} names every answer of {subject}, so it compares nothing.",
            "Leave some out.",
        )
    return OneOf(tuple(words), negated)


def check_answer(word: str, subject: str, answers: Collection[str]) -> None:
    """Refuse an answer that the sign does not have."""
    if word in answers:
        return
    if word in RESERVED or word in ("not looked", "not known"):
        raise NotAPhrase(
            f"nothing can be said about {subject} being {quoted(word)}.",
            "Nobody having looked is never a fact: leave it out.",
        )
    if word.startswith("not "):
        raise NotAPhrase(
            f"{quoted(word)} stands after another answer.",
            'Write "not" once, at the beginning: it holds for all that follow.',
        )
    close = nearest(word, answers)
    hint = f' Did you mean "{close}"?' if close and len(answers) > 6 else ""
    kind = "stage" if subject == "stage" else "answer"
    of = "" if subject == "stage" else f" to {subject}"
    raise NotAPhrase(
        f"there is no {kind} {quoted(word)}{of}.", f"The {kind}s are {listed(answers)}.{hint}"
    )


def parse_interval(text: str, subject: str, unit: str) -> Interval:
    """A stretch of a reading kept in ``unit``: ``below 85 °C``, ``between 72 and 85 °C``.

    Another unit of the same kind is converted; a number without a unit is refused.

    >>> parse_interval("at least 185 °F", "paste-temperature", "degC").low
    85.0
    """
    text = _tidy(text)
    one = _ONE_SIDED.fullmatch(text)
    if one:
        limit = _in_unit(one[2], one[3], subject, unit, text)
        low, high = (limit, None) if one[1] in ("above", "at least") else (None, limit)
        inside = one[1] in ("at least", "at most")
        return Interval(low, high, inside and low is not None, inside and high is not None, text)
    two = _BETWEEN.fullmatch(text)
    if two:
        low = _in_unit(two[1], two[2] or two[4], subject, unit, text)
        high = _in_unit(two[3], two[4], subject, unit, text)
        if low >= high:
            raise NotAPhrase(f"{quoted(text)} holds nothing.", "Write the lower number first.")
        return Interval(low, high, True, True, text)
    example = f"85 {sign(unit)}"
    raise NotAPhrase(
        f"{quoted(text)} does not compare {subject} with a number.",
        f"Write below, above, at least or at most {example}, or between 72 and {example}.",
    )


def parse_presence(text: str, subject: str) -> Presence:
    """A finding that is there or not.

    >>> parse_presence("absent", "starch-cooked")
    Presence(present=False)
    """
    if text in ("present", "absent"):
        return Presence(text == "present")
    raise NotAPhrase(
        f"{quoted(text)} says nothing about the finding {subject}.",
        did_you_mean(text, ("present", "absent"), "Write present or absent."),
    )


def parse_value(text: str, subject: str, unit: str) -> float:
    """A number with its unit, in the unit the reading is kept in.

    >>> parse_value("78 °C", "paste-temperature", "degC")
    78.0
    """
    text = _tidy(text)
    match = _VALUE.fullmatch(text)
    if not match:
        raise NotAPhrase(
            f"{quoted(text)} is not a value of {subject}.",
            f"Write a number and its unit, like 78 {sign(unit)}.",
        )
    return _in_unit(match[1], match[2], subject, unit, text)


def _tidy(text: str) -> str:
    if len(text) > _LONGEST:
        raise NotAPhrase(f"{quoted(text)} is too long.", "Compare with one number, or two.")
    return " ".join(text.split())


def joined(answers: Sequence[str]) -> str:
    """A list of answers as one phrase."""
    return " or ".join(answers)


def _in_unit(number: str, written: str | None, subject: str, unit: str, text: str) -> float:
    can_be = listed([sign(known) for known in accepted(unit)], "or")
    if not written:
        raise NotAPhrase(f"the number in {quoted(text)} has no unit.", f"Write {can_be} after it.")
    known = unit_named(written)
    value = to_unit(float(number), known, unit) if known else None
    if value is None:
        raise NotAPhrase(
            f"{subject} is not measured in {quoted(written)}.", f"Write {can_be} after the number."
        )
    return value
