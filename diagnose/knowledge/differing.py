"""What changed in one part of the book, in words: line by line of what it says, not of how.

>>> was = "one:\\n  strength: slight\\n  when: {paste-body: slumps}\\n"
>>> now = "one:\\n  strength: strong # two trials\\n  when: {paste-body: slumps}\\n"
>>> [str(change) for change in changes(was, now)]
['strength: was “slight”, is now “strong”']
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from .nodes import Mapping, Node, Scalar, read_nodes


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing said: where, and what it was and is; None where it was not, or is no more said."""

    where: str
    was: str | None
    now: str | None

    def __str__(self) -> str:
        if self.was is None:
            return f"{self.where}: new, “{self.now}”"
        if self.now is None:
            return f"{self.where}: no more, was “{self.was}”"
        return f"{self.where}: was “{self.was}”, is now “{self.now}”"


def changes(before: str | None, after: str | None) -> tuple[Difference, ...]:
    """What two texts of one part say differently, in the order of the first, then of the second.

    Notes behind a # and the way of writing say nothing, so they are no difference. A text that
    cannot be read is compared as a whole.
    """
    was, now = _said(before), _said(after)
    return tuple(
        Difference(where, was.get(where), now.get(where))
        for where in dict.fromkeys((*was, *now))
        if was.get(where) != now.get(where)
    )


def _said(text: str | None) -> dict[str, str]:
    if text is None:
        return {}
    root, problems = read_nodes(text, "")
    if problems or not isinstance(root, Mapping) or not root.entries:
        return {"text": text}
    said: dict[str, str] = {}
    for where, what in _leaves(root.entries[0].value, ""):
        # Of a list the same place may be said twice; both count.
        said[where] = f"{said[where]}; {what}" if where in said else what
    return said


def _leaves(node: Node, where: str) -> Iterator[tuple[str, str]]:
    if isinstance(node, Scalar):
        yield where or "text", node.text
    elif isinstance(node, Mapping):
        for entry in node.entries:
            yield from _leaves(entry.value, f"{where}, {entry.key}" if where else entry.key)
    else:
        for number, item in enumerate(node.items, 1):
            inside = isinstance(item, Mapping)
            yield from _leaves(item, f"{where} {number}" if inside else where)
