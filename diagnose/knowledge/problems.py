"""What is wrong with something that was written, where, and what would be accepted.

One small value serves the reader, the lints, the machine face and the pages. It is made where the
mistake is found and printed the same everywhere: file, line, what, what to do. For something a cook
told there is no file; the field stands in its place.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

_LONGEST_QUOTE = 60
_LONGEST_LIST = 12
_CLOSE_ENOUGH = 0.6


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One mistake.

    ``file`` is empty and ``line`` is 0 when the mistake is in something told, not in a file;
    ``where`` then names the field, otherwise the entry ("rule undercooked-looks-wet") or nothing.

    >>> print(Problem("a.yaml", 58, "rule wet", '"stregth" is not known.', 'Try "strength".'))
    a.yaml, line 58, rule wet: "stregth" is not known. Try "strength".
    >>> print(Problem("", 0, "batch.milk_g", "5 is not possible", "give 50 to 20000 g."))
    batch.milk_g: 5 is not possible; give 50 to 20000 g.
    """

    file: str
    line: int
    where: str
    what: str
    advice: str

    def __str__(self) -> str:
        line = f"line {self.line}" if self.line else ""
        place = ", ".join(part for part in (self.file, line, self.where) if part)
        sentence = self.what
        if self.advice:
            joint = " " if self.what.endswith((".", "?", "!")) else "; "
            sentence += joint + self.advice
        return f"{place}: {sentence}" if place else sentence


class BrokenBook(Exception):
    """A book that cannot be used, with every problem found in it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def quoted(word: object) -> str:
    """A word of the author's or the cook's in quotation marks: one line, printable, not too long.

    >>> quoted("stregth")
    '"stregth"'
    """
    text = str(word)
    if len(text) > _LONGEST_QUOTE:
        text = text[: _LONGEST_QUOTE - 1] + "…"
    # Control characters and half surrogates must not reach a terminal, a log or a JSON encoder.
    return '"' + "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text) + '"'


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known name that looks most like the word, or None if none is close.

    >>> nearest("stregth", ["says", "strength"])
    'strength'
    """
    close = difflib.get_close_matches(word[:_LONGEST_QUOTE], list(known), 1, _CLOSE_ENOUGH)
    return close[0] if close else None


def listed(known: Iterable[str], joint: str = "and") -> str:
    """Names in a sentence: all of them while they are few, else the first dozen.

    >>> listed(["yes", "no"], "or")
    'yes or no'
    """
    names = list(known)
    if not names:
        return "none"
    if len(names) > _LONGEST_LIST:
        return ", ".join(names[:_LONGEST_LIST]) + f" … ({len(names)} in all)"
    if len(names) == 1:
        return names[0]
    return ", ".join(names[:-1]) + f" {joint} {names[-1]}"


def did_you_mean(word: str, known: Iterable[str], otherwise: str) -> str:
    """Advice for an unknown word: the nearest known one, or else the given sentence.

    >>> did_you_mean("slump", ["pours", "slumps"], "")
    'Did you mean "slumps"?'
    """
    close = nearest(word, known)
    return f'Did you mean "{close}"?' if close else otherwise
