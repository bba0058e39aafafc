"""One rule in two forms: the YAML an author writes, and the fields of a page. Nothing is lost.

``fields_of`` reads the fields out of a text; ``with_fields`` writes changed fields into a text
and leaves all else as it stands: comments, quotation marks, line breaks, order. A comment beside
something that is written anew stays beside it, or moves to the line above. Reading the result
gives the fields that were asked for, exactly; fields that did not change give the text unchanged.
Text is scanned first and refused at its first alias, anchor or tag, or beyond the limits.

>>> from dataclasses import replace
>>> text = "smears:\\n  says: It smears  # as students say\\n  when: {stage: cut}\\n"
>>> fields = fields_of(text)
>>> fields.says, fields.when
('It smears', (('stage', 'cut'),))
>>> print(with_fields(text, replace(fields, says="It smears when cut")), end="")
smears:
  says: It smears when cut  # as students say
  when: {stage: cut}
"""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable
from collections.abc import Sequence as SequenceOf

from .edges import Edges, edges_of
from .nodes import PASTED, Limits, Mapping, Node, Scalar, Sequence, read_nodes
from .problems import BrokenBook
from .rulefields import ORDER, OUTCOMES, CaseFields, Pairs, RuleFields, fields_of, tidied

__all__ = [
    "OUTCOMES",
    "CaseFields",
    "Pairs",
    "RuleFields",
    "changed_words",
    "fields_of",
    "new_text",
    "scalar",
    "tidied",
    "with_fields",
]


def new_text(wanted: RuleFields) -> str:
    """A rule written from its fields alone, in the manner of the shipped files."""
    lines = [f"{wanted.name}:"]
    for key, value in _wanted(wanted).items():
        lines += _field_lines(key, value, 2)
    return "\n".join(lines) + "\n"


def with_fields(text: str, wanted: RuleFields, limits: Limits = PASTED) -> str:
    """The text with these fields; everything that need not change keeps its letters.

    Raises:
        BrokenBook: as ``fields_of``.
    """
    wanted = tidied(wanted)
    now = fields_of(text, limits)
    if now == wanted:
        return text
    root, _ = read_nodes(text, "", limits)
    edges = edges_of(text)
    assert isinstance(root, Mapping)
    inner = root.entries[0].value
    simple = not root.braces and isinstance(inner, Mapping) and not inner.braces
    if not simple or (
        now.name != wanted.name
        and edges.lines[root.entries[0].line - 1].strip() != (f"{now.name}:")
    ):
        return _anew(edges, wanted)
    assert isinstance(inner, Mapping)
    written = _Mapping(edges, inner, 2, len(edges.lines))
    lines = written.with_values(_wanted(now), _wanted(wanted))
    if lines is None:
        return _anew(edges, wanted)
    first = root.entries[0].line - 1
    head = [*edges.lines[:first], edges.lines[first].replace(now.name, wanted.name, 1)]
    head += edges.lines[first + 1 : written.first]
    result = "\n".join([*head, *lines])
    # Should the text be of a shape nobody thought of, the fields still hold and so do the comments.
    return result if _reads_as(result, wanted, limits) else _anew(edges, wanted)


def _reads_as(text: str, wanted: RuleFields, limits: Limits) -> bool:
    try:
        return fields_of(text, limits) == wanted
    except BrokenBook:
        return False


def _anew(edges: Edges, wanted: RuleFields) -> str:
    """The rule written from its fields, with every comment of the old text above it."""
    return "".join(f"{comment}\n" for comment in edges.comments()) + new_text(wanted)


# Writing

_WIDEST = 100
"""Characters of a line; names with values that need more stand below each other."""

_Value = str | Pairs | tuple[CaseFields, ...]


def _wanted(wanted: RuleFields) -> dict[str, _Value]:
    """The entries that these fields stand for, in the book's order; what is empty is left out."""
    source = tuple((key, text) for key, text in (("see", wanted.see), ("at", wanted.at)) if text)
    values: dict[str, _Value] = {
        "says": wanted.says,
        "when": wanted.when,
        "unless": wanted.unless,
        wanted.outcome: wanted.target,
        "strength": wanted.strength,
        "group": wanted.group,
        "why": wanted.why,
        "source": source,
        "standing": wanted.standing,
        "known gaps": wanted.known_gaps,
        "cases": wanted.cases,
    }
    return {key: value for key, value in values.items() if value}


def scalar(text: str, inside: bool) -> str:
    """A text as YAML: plain where that reads back the same, else in quotation marks."""
    for written in (text, json.dumps(text, ensure_ascii=False)):
        line = f"a: {{b: {written}}}" if inside else f"a: {written}"
        root, problems = read_nodes(line, "", PASTED)
        node = root.get("a") if isinstance(root, Mapping) else None
        if inside and isinstance(node, Mapping) and len(node.entries) == 1:
            node = node.get("b")
        if not problems and isinstance(node, Scalar) and node.text == text:
            return written
    return json.dumps(text)


def _name(text: str) -> str:
    """A name as a key: quoted where it would not read back."""
    root, problems = read_nodes(f"{{{text}: b}}", "", PASTED)
    keys = [e.key for e in root.entries] if isinstance(root, Mapping) and not problems else []
    return text if keys == [text] else json.dumps(text, ensure_ascii=False)


def _braces(pairs: Pairs) -> str:
    return "{" + ", ".join(f"{_name(n)}: {scalar(text, True)}" for n, text in pairs) + "}"


def _case_line(case: CaseFields) -> str:
    return f"{{told: {_braces(case.told)}, rule: {scalar(case.rule, True)}}}"


def _field_lines(key: str, value: _Value, indent: int) -> list[str]:
    space = " " * indent
    if isinstance(value, str):
        return [f"{space}{_name(key)}: {scalar(value, False)}"]
    if value and isinstance(value[0], CaseFields):
        cases = [case for case in value if isinstance(case, CaseFields)]
        return [f"{space}{key}:", *(f"{space}  - {_case_line(case)}" for case in cases)]
    line = f"{space}{key}: {_braces(_only_pairs(value))}"
    if len(line) <= _WIDEST:
        return [line]
    inner = [f"{space}  {_name(n)}: {scalar(text, False)}" for n, text in _only_pairs(value)]
    return [f"{space}{key}:", *inner]


def _only_pairs(value: _Value) -> Pairs:
    assert not isinstance(value, str)
    return tuple(each for each in value if isinstance(each, tuple))


class _Mapping:
    """The lines of one block mapping, entry by entry."""

    def __init__(self, edges: Edges, node: Mapping, depth: int, after: int) -> None:
        self.edges, self.node, self.depth = edges, node, depth
        entries = node.entries
        self.starts = [entry.line - 1 for entry in entries]
        self.first = self.starts[0] if self.starts else after
        self.ends = [*self.starts[1:], after]
        line = edges.lines[self.first] if self.starts else ""
        self.indent = len(line) - len(line.lstrip(" "))

    def with_values(self, now: dict[str, _Value], wanted: dict[str, _Value]) -> list[str] | None:
        """The lines with other values; None if they cannot be told apart line by line."""
        if len(set(self.starts)) < len(self.starts):
            return None
        kept = [entry.key for entry in self.node.entries if entry.key in wanted]
        order = [key for key in wanted if key in kept]
        lines: list[str] = []
        left = list(wanted)
        pieces: dict[str, list[str]] = {}
        for entry, start, end in zip(self.node.entries, self.starts, self.ends, strict=True):
            key = entry.key
            content = self.edges.content_end(start, end, self.indent)
            tail = self.edges.lines[content:end]
            if key not in wanted:
                if key in OUTCOMES and (other := next((k for k in OUTCOMES if k in wanted), "")):
                    # Another outcome takes the place of the old one.
                    pieces[key] = self._written(other, wanted[other], start, content) + tail
                    left.remove(other)
                    continue
                comments = self.edges.comments(start, content)
                pieces[key] = [" " * self.indent + c for c in comments] + tail
                continue
            left.remove(key)
            if now.get(key) == wanted[key]:
                pieces[key] = self.edges.lines[start:end]
            else:
                pieces[key] = self._changed(entry.value, key, now, wanted, start, content) + tail
        if [key for key in order if key in kept] != kept and self.depth > 2:
            return None
        for entry in self.node.entries:
            lines += pieces[entry.key]
        for key in left:
            self._insert(lines, key, wanted[key])
        return lines

    def _changed(
        self, node: Node, key: str, now: dict[str, _Value], wanted: dict[str, _Value],
        start: int, content: int,
    ) -> list[str]:  # fmt: skip
        value, old = wanted[key], now.get(key)
        if (
            isinstance(node, Mapping) and not node.braces and node.entries
            and not isinstance(value, str) and not isinstance(old, str)
        ):  # fmt: skip
            inner = _Mapping(self.edges, node, self.depth + 2, content)
            if inner.first > start:
                before: dict[str, _Value] = dict(_only_pairs(old or ()))
                after: dict[str, _Value] = dict(_only_pairs(value))
                lines = inner.with_values(before, after)
                if lines is not None and after:
                    return [*self.edges.lines[start : inner.first], *lines]
        if (
            isinstance(node, Sequence) and node.items and key == "cases"
            and not isinstance(value, str) and not isinstance(old, str)
        ):  # fmt: skip
            lines = self._items(node, old or (), value, start, content)
            if lines is not None:
                return lines
        return self._written(key, value, start, content)

    def _items(
        self, node: Sequence, old: SequenceOf[object], new: SequenceOf[object],
        start: int, content: int,
    ) -> list[str] | None:  # fmt: skip
        """The lines of a list of cases, each item that stays as it was written."""
        firsts = [self.edges.item_line(item) for item in node.items]
        if None in firsts or len(set(firsts)) < len(firsts):
            return None
        starts = [line for line in firsts if line is not None]
        if starts[0] <= start:
            return None
        ends = [*starts[1:], content]
        text = self.edges.lines[starts[0]]
        indent = len(text) - len(text.lstrip(" "))
        lines = self.edges.lines[start : starts[0]]
        for tag, a, b, c, d in difflib.SequenceMatcher(None, old, new, False).get_opcodes():
            if tag == "equal":
                for place in range(a, b):
                    lines += self.edges.lines[starts[place] : ends[place]]
                continue
            for place in range(a, b):
                comments = self.edges.comments(starts[place], ends[place])
                lines += [" " * indent + comment for comment in comments]
            for case in new[c:d]:
                assert isinstance(case, CaseFields)
                lines.append(" " * indent + "- " + _case_line(case))
        return lines

    def _written(self, key: str, value: _Value, start: int, content: int) -> list[str]:
        """A field written anew, with the comments of its old lines."""
        lines = _field_lines(key, value, self.indent)
        comments = self.edges.comments(start, content)
        if len(comments) == 1 and len(lines) == 1 and content == start + 1:
            return [f"{lines[0]}  {comments[0]}"]
        return [*(" " * self.indent + comment for comment in comments), *lines]

    def _insert(self, lines: list[str], key: str, value: _Value) -> None:
        """Put a new field before the first field that follows it in the book's order."""
        new = _field_lines(key, value, self.indent)
        later = ORDER[ORDER.index(key) + 1 :] if key in ORDER and self.depth == 2 else ()
        for number, line in enumerate(lines):
            at_margin = line[: self.indent].isspace() and line[self.indent : self.indent + 1] != " "
            if at_margin and any(line[self.indent :].startswith(f"{k}:") for k in later):
                lines[number:number] = new
                return
        end = len(lines)
        while end and not lines[end - 1].strip():
            end -= 1
        lines[end:end] = new


def changed_words(before: str, after: str) -> Iterable[tuple[str, str]]:
    """Lines of a change: (``" "``, ``"-"`` or ``"+"``, the line), for showing."""
    for line in difflib.ndiff(before.splitlines(), after.splitlines()):
        if line[0] in " -+":
            yield line[0], line[2:]
