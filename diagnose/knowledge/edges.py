"""Where the pieces of a YAML text begin and end, and where its comments stand."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ruamel.yaml import YAML
from ruamel.yaml.events import ScalarEvent

from .nodes import Node

_BLOCK_HEAD = re.compile(r"[|>][-+0-9]*[ \t]+(#.*)")


@dataclass(frozen=True)
class Edges:
    """The lines of a text that was scanned before, and what in them is sentence or comment."""

    lines: list[str]
    inside: list[list[tuple[int, int]]]
    """For each line, the stretches that belong to a word or sentence."""

    def comment(self, number: int) -> str | None:
        """The comment of a line, from its # on; None if it has none."""
        line, stretches = self.lines[number], self.inside[number]
        for place, letter in enumerate(line):
            if letter != "#" or (place and line[place - 1] not in " \t"):
                continue
            within = next((s for s in stretches if s[0] <= place < s[1]), None)
            if within is None:
                return line[place:].rstrip()
            head = _BLOCK_HEAD.match(line, within[0])
            if head:
                return head[1].rstrip()
        return None

    def comments(self, first: int = 0, end: int | None = None) -> list[str]:
        """The comments of some lines, in order."""
        stop = len(self.lines) if end is None else end
        found = (self.comment(number) for number in range(first, stop))
        return [comment for comment in found if comment is not None]

    def content_end(self, first: int, end: int, indent: int) -> int:
        """Without the blank lines, and comments no deeper than ``indent``, behind an entry."""
        while end > first + 1:
            line = self.lines[end - 1]
            alone = line.lstrip(" ")
            comment = alone.startswith("#") and not self.inside[end - 1]
            if line.strip() and not (comment and len(line) - len(alone) <= indent):
                break
            end -= 1
        return end

    def item_line(self, item: Node) -> int | None:
        """The line of an item's hyphen, if the item begins on that line."""
        line = self.lines[item.line - 1]
        return item.line - 1 if line.lstrip(" ").startswith("- ") else None


def edges_of(text: str) -> Edges:
    """The edges of a text that ``read_nodes`` has accepted."""
    # Line ends as the parser counts them; every text has been scanned before it comes here.
    lines = re.split("\r\n|[\n\r\x85\u2028\u2029]", text)
    inside: list[list[tuple[int, int]]] = [[] for _ in lines]
    for event in YAML(typ="safe", pure=True).parse(text):
        if not isinstance(event, ScalarEvent):
            continue
        start, end = event.start_mark, event.end_mark
        for number in range(start.line, min(end.line, len(lines) - 1) + 1):
            left = start.column if number == start.line else 0
            right = end.column if number == end.line else len(lines[number])
            if left < right:
                inside[number].append((left, right))
    return Edges(lines, inside)
