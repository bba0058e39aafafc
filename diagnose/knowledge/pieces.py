"""A long text of named entries cut where one entry ends and the next begins.

A book of ten thousand lines of which one rule changed is then read by that rule alone. A cut is
only a guess from the margin: whoever reads the pieces checks that each is whole by itself, and
reads the text in one go where any is not.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

TOGETHER = 8
"""Entries in a piece: each piece costs about a third of a millisecond beside its reading."""
LONG = 30_000
"""Characters; a shorter text is not worth cutting."""

_OTHER_BREAKS = re.compile("[\r\x85\u2028\u2029]|^(?:---|\\.\\.\\.|%)", re.MULTILINE)
_OUTER = re.compile("[A-Za-z]")
_INNER = re.compile("  [A-Za-z0-9\"']")
_HEADING = re.compile(r"[A-Za-z][A-Za-z ]*:[ ]*(?:#.*)?")


@dataclass(frozen=True, slots=True)
class Piece:
    """Some lines of a text, to be read by themselves."""

    text: str
    first: int
    """Lines before it."""
    section: str = ""
    """The name of the section it stands in; empty for a piece that is a whole section."""


def pieces(text: str) -> list[Piece] | None:
    """The pieces of a text, in order; None if it is short, or not laid out like that.

    >>> [p.first for p in cut(["a: b", "c:", "  d: e", "  f: g"])]
    [0, 2]
    """
    if len(text) < LONG or _OTHER_BREAKS.search(text):
        return None
    return cut(text.split("\n"))


def cut(lines: list[str]) -> list[Piece] | None:
    """The pieces of these lines; None if they do not begin at the margin."""
    outer = [n for n, line in enumerate(lines) if _OUTER.match(line)]
    if not outer or any(line.strip() and not line.startswith("#") for line in lines[: outer[0]]):
        return None
    found = []
    for first, end in zip(outer, [*outer[1:], len(lines)], strict=True):
        found += _inside(lines, first, end)
    return found


def _inside(lines: list[str], first: int, end: int) -> list[Piece]:
    whole = [Piece("\n".join(lines[first:end]), first)]
    if not _HEADING.fullmatch(lines[first]):
        return whole
    inner = [n for n in range(first + 1, end) if _INNER.match(lines[n])][::TOGETHER]
    before = lines[first + 1 : inner[0]] if inner else []
    if not inner or any(line.strip() and not line.lstrip().startswith("#") for line in before):
        return whole
    name = lines[first].partition(":")[0]
    ends = [*inner[1:], end]
    return [Piece("\n".join(lines[a:b]), a, name) for a, b in zip(inner, ends, strict=True)]
