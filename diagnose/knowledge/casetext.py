"""Plain values as YAML text and back: the quick half of reading and writing case files.

Written is a strict corner of YAML 1.2: block style, two spaces a level, names and numbers bare, all
other text in double quotes on one line with JSON's escapes. What was written here is read back by
lines in a small part of the time that scanning YAML takes; whatever deviates in the least (a
comment, a folded sentence, a flow list) is none of this module's business and read in full.
Nothing here expands or refers: the corner has no anchors, aliases, tags or directives.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence

from .case import JSON, NOT_TEXT
from .nodes import Entry, Limits, Node, Scalar
from .nodes import Mapping as MapNode
from .nodes import Sequence as ListNode

CASE = Limits(bytes=1_000_000, nodes=60_000, depth=20)
"""For one case file."""

_BARE = re.compile(r"[a-z][a-z0-9-]*")
_BARE_KEY = re.compile(r"[a-z][a-z0-9_-]*(?: [a-z][a-z0-9_-]*)*")
_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]{0,24})(?:\.[0-9]{1,24})?(?:[eE][+-]?[0-9]{1,3})?")
# Words that one or another version of YAML takes for something other than text.
_TURNED = frozenset(("true", "false", "null", "yes", "no", "on", "off", "y", "n"))
_LITERALS: Mapping[str, bool | None] = {"true": True, "false": False, "null": None}


def text_of(value: JSON) -> str:
    """The YAML text of a value; ends with a line end.

    >>> print(text_of({"paste-body": "slumps", "note": "no", "boil": 92.6, "tried": []}), end="")
    paste-body: slumps
    note: "no"
    boil: 92.6
    tried: []
    """
    if isinstance(value, Mapping | list | tuple) and value:
        return "\n".join(_block(value, "")) + "\n"
    return _inline(value) + "\n"


def _block(value: JSON, indent: str) -> Iterator[str]:
    if isinstance(value, Mapping):
        for key, inner in value.items():
            if _nested(inner):
                yield f"{indent}{_key(key)}:"
                yield from _block(inner, indent + "  ")
            else:
                yield f"{indent}{_key(key)}: {_inline(inner)}"
    elif isinstance(value, Sequence) and not isinstance(value, str):
        for inner in value:
            if _nested(inner):
                # The first line of what is inside stands beside the hyphen.
                lines = _block(inner, indent + "  ")
                yield f"{indent}- {next(lines)[len(indent) + 2 :]}"
                yield from lines
            else:
                yield f"{indent}- {_inline(inner)}"


def _nested(value: JSON) -> bool:
    return isinstance(value, Mapping | list | tuple) and bool(value)


def _key(key: str) -> str:
    bare = _BARE_KEY.fullmatch(key) and key not in _TURNED
    return key if bare else _in_quotes(key)


def _inline(value: JSON) -> str:
    if isinstance(value, str):
        bare = _BARE.fullmatch(value) and value not in _TURNED
        return value if bare else _in_quotes(value)
    if isinstance(value, Mapping):
        return "{}"
    if isinstance(value, list | tuple):
        return "[]"
    return json.dumps(value, allow_nan=False)


def _in_quotes(text: str) -> str:
    written = json.dumps(text, ensure_ascii=False)
    return NOT_TEXT.sub(lambda found: f"\\u{ord(found.group()):04x}", written)


def plain_of(node: Node) -> JSON:
    """The value of a node: bare numbers, true, false and null are what they say, the rest text."""
    if isinstance(node, Scalar):
        if node.quoted:
            return node.text
        if node.text in _LITERALS:
            return _LITERALS[node.text]
        if _NUMBER.fullmatch(node.text):
            number: JSON = json.loads(node.text)
            return number
        return node.text
    if isinstance(node, MapNode):
        return {entry.key: plain_of(entry.value) for entry in node.entries}
    return [plain_of(item) for item in node.items]


class _OtherText(Exception):
    """Not what is written here."""


def read_written(text: str, limits: Limits = CASE) -> Node | None:
    """The nodes of text that `text_of` wrote; None for any other text, which is no judgement.

    Where this gives nodes they are the same that reading YAML in full gives.
    """
    if len(text) > limits.bytes or not text.endswith("\n"):
        return None
    if not text.isascii() and len(text.encode("utf-8", "replace")) > limits.bytes:
        return None
    if NOT_TEXT.search(text) or "\t" in text:
        return None
    try:
        return _Lines(text, limits).root()
    except (_OtherText, ValueError, RecursionError):
        return None


class _Lines:
    """The lines of a text, consumed one by one."""

    def __init__(self, text: str, limits: Limits) -> None:
        self.lines = text[:-1].split("\n")
        self.at = 0
        self.limits = limits
        self.count = 0
        # What is left of a line whose hyphens were taken.
        self.indent, self.rest = 0, ""
        self._next()

    def root(self) -> Node:
        node = self._block(0, 1)
        if self.rest:
            raise _OtherText
        return node

    def _next(self) -> None:
        if self.at == len(self.lines):
            self.indent, self.rest = -1, ""
            return
        line = self.lines[self.at]
        self.at += 1
        self.rest = line.lstrip(" ")
        self.indent = len(line) - len(self.rest)
        if not self.rest:
            raise _OtherText

    def _block(self, indent: int, depth: int) -> Node:
        if self.indent != indent or depth > self.limits.depth:
            raise _OtherText
        return self._list(indent, depth) if self.rest[:2] == "- " else self._map(indent, depth)

    def _list(self, indent: int, depth: int) -> Node:
        line, items = self.at, []
        while self.indent == indent and self.rest[:2] == "- ":
            rest = self.rest[2:]
            if rest[:2] == "- " or _key_of(rest):
                self.indent, self.rest = indent + 2, rest
                items.append(self._block(indent + 2, depth + 1))
            else:
                items.append(self._scalar(rest, self.at))
                self._next()
        if self.indent > indent or (self.indent == indent and self.rest):
            raise _OtherText
        return self._counted(ListNode(tuple(items), line))

    def _map(self, indent: int, depth: int) -> Node:
        line, entries = self.at, dict[str, Entry]()
        while self.indent == indent and self.rest[:2] != "- ":
            found = _key_of(self.rest)
            if not found:
                raise _OtherText
            key, value = found
            here = self.at
            self.count += 1
            if key in entries:
                raise _OtherText
            if value is None:
                self._next()
                node = self._block(indent + 2, depth + 1)
            else:
                node = self._scalar(value, here)
                self._next()
            entries[key] = Entry(key, here, node)
        if self.indent > indent or (self.indent == indent and self.rest):
            raise _OtherText
        return self._counted(MapNode(tuple(entries.values()), line))

    def _scalar(self, text: str, line: int) -> Node:
        if text[0] == '"':
            # A half of a pair would be joined by JSON and not by YAML.
            if "\\ud" in text.lower():
                raise _OtherText
            return self._counted(Scalar(str(json.loads(text)), line, True))
        if text == "{}":
            return self._counted(MapNode((), line, True))
        if text == "[]":
            return self._counted(ListNode((), line))
        if _BARE.fullmatch(text) or _NUMBER.fullmatch(text):
            return self._counted(Scalar(text, line))
        raise _OtherText

    def _counted(self, node: Node) -> Node:
        self.count += 1
        if self.count > self.limits.nodes:
            raise _OtherText
        return node


_KEYED = re.compile(
    r'(?:"((?:[^"\\]|\\.)*)"|([a-z][a-z0-9_-]*(?: [a-z][a-z0-9_-]*)*)):(?: (\S.*))?'
)


def _key_of(rest: str) -> tuple[str, str | None] | None:
    """The key and what stands behind it, if the line holds an entry."""
    found = _KEYED.fullmatch(rest)
    if not found:
        return None
    written, bare, value = found.groups()
    if written is None:
        return bare, value
    if "\\ud" in written.lower():
        raise _OtherText
    return str(json.loads(f'"{written}"')), value
