"""What a school changed in its book, as one text: to be read by another school, or shipped.

The text is YAML: ``additions: 1``, the version of the shipped book, and a list of parts, each with
its text as a block. Reading it is reading a stranger's text: no aliases, anchors or tags, limits on
size; each part is checked like one that is typed in, and nothing goes live before the whole book
with it has passed every check.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from diagnose.knowledge.editions import SECTIONS, Edit, PartName, check_part
from diagnose.knowledge.nodes import Limits, Node, Scalar, read_nodes
from diagnose.knowledge.nodes import Mapping as MappingNode
from diagnose.knowledge.nodes import Sequence as SequenceNode
from diagnose.knowledge.problems import Problem

FORMAT = "1"
LIMITS = Limits(bytes=60_000, nodes=2_000, depth=6)
"""A whole file; each text in it has the limits of one that is pasted."""
_ODD = ("\r", "\x85", "\u2028", "\u2029", "\ufeff")
"""Letters that end a line for some readers, so that a block of lines would not keep them."""
Kind = Literal["new", "same", "changed here too", "changed", "taken out"]


@dataclass(frozen=True, slots=True)
class Incoming:
    """One part that a file brings, beside what stands here."""

    part: PartName
    here: str | None
    theirs: str | None
    kind: Kind


class NotAdditions(ValueError):
    """A file that cannot be read as additions; every problem is a sentence."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, problems)))


def written(edits: Sequence[Edit], book: str) -> str:
    """Additions as text.

    >>> one = PartName("d-d", "rules", "one")
    >>> text = written([Edit(one, "one:\\n  says: a # said\\n")], "0123")
    >>> read(text) == [Edit(one, "one:\\n  says: a # said\\n")]
    True
    """
    lines = [f"additions: {FORMAT}", f'book: "{book}"', "parts:" if edits else "parts: []"]
    for edit in edits:
        part = edit.part
        lines += [
            f"  - dough: {part.dough}",
            f"    section: {part.section}",
            f"    name: {part.name}",
        ]
        if edit.text is None:
            lines.append("    taken out: yes")
        elif any(letter in edit.text for letter in _ODD):
            lines.append(f"    text: {_quoted(edit.text)}")
        else:
            lines.append("    text: |2")
            lines += [
                f"      {line}" if line else "" for line in edit.text.rstrip("\n").split("\n")
            ]
    return "\n".join(lines) + "\n"


def read(text: str) -> list[Edit]:
    """The parts in a text of additions, each checked by itself.

    Raises `NotAdditions`.
    """
    root, problems = read_nodes(text, "", LIMITS)
    if problems or not isinstance(root, MappingNode):
        raise NotAdditions(problems or [_problem(1, "this is not a file of additions.")])
    if _word(root.get("additions")) != FORMAT:
        raise NotAdditions([_problem(1, f'the file does not begin with "additions: {FORMAT}".')])
    parts = root.get("parts")
    if not isinstance(parts, SequenceNode):
        raise NotAdditions([_problem(root.line, "there is no list of parts.")])
    edits: list[Edit] = []
    for item in parts.items:
        edit, found = _edit(item)
        problems += found
        if edit is not None:
            if any(edit.part == other.part for other in edits):
                problems.append(_problem(item.line, f"{edit.part} stands here twice."))
            edits.append(edit)
    if problems:
        raise NotAdditions(problems)
    return edits


def compare(
    edits: Sequence[Edit],
    here: Mapping[PartName, str | None],
    changed: Mapping[PartName, str | None],
) -> list[Incoming]:
    """What each part of a file would do here.

    ``here``: those parts as they stand; ``changed``: what was changed here. Where both schools
    changed one part, differently, a person must choose.
    """
    found = []
    for edit in edits:
        now = here.get(edit.part)
        kind: Kind
        if _same(now, edit.text):
            kind = "same"
        elif edit.part in changed:
            kind = "changed here too"
        elif now is None:
            kind = "new"
        else:
            kind = "taken out" if edit.text is None else "changed"
        found.append(Incoming(edit.part, now, edit.text, kind))
    return found


def _quoted(text: str) -> str:
    """A text in quotation marks, in which YAML reads every escaped letter as it was."""
    quoted = json.dumps(text, ensure_ascii=False)
    for letter in _ODD:
        quoted = quoted.replace(letter, f"\\u{ord(letter):04x}")
    return quoted


def _same(one: str | None, other: str | None) -> bool:
    return one == other or (
        one is not None and other is not None and one.rstrip("\n") == other.rstrip("\n")
    )


def _edit(item: Node) -> tuple[Edit | None, list[Problem]]:
    if not isinstance(item, MappingNode):
        return None, [_problem(item.line, "this is not a part.")]
    words = {key: _word(item.get(key)) for key in ("dough", "section", "name")}
    if words["section"] not in SECTIONS:
        return None, [_problem(item.line, "this part names no section that can be changed.")]
    part = PartName(words["dough"], words["section"], words["name"])
    if _word(item.get("taken out")) == "yes":
        return Edit(part, None), []
    text = _word(item.get("text"))
    found = check_part(part, text)
    return (None, found) if found else (Edit(part, text), [])


def _word(node: Node | None) -> str:
    return node.text if isinstance(node, Scalar) else ""


def _problem(line: int, what: str) -> Problem:
    return Problem("", line, "", what, "Save the file anew on the page Our additions.")
