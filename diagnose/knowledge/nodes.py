"""YAML text to plain nodes that remember their lines.

Only the grammar of YAML 1.2 is used. Every scalar stays the text that was written, so that ``no``
is a word and ``0250`` keeps its zero; what a text means is decided by whoever reads the node.
Nodes are built from parser events with a stack of our own: a pasted text is refused at its first
alias, anchor, tag or excess, before anything has been expanded or nested deeply.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from .pieces import pieces
from .problems import Problem, quoted
from .syntax import syntax_problem


@dataclass(frozen=True, slots=True)
class Limits:
    """How much is read before a text is refused; bytes of UTF-8, nodes, levels of nesting."""

    bytes: int
    nodes: int
    depth: int


SHIPPED = Limits(bytes=4_000_000, nodes=400_000, depth=20)
"""For files of the program's own."""
PASTED = Limits(bytes=20_000, nodes=2_000, depth=20)
"""For anything pasted or imported."""


@dataclass(frozen=True, slots=True)
class Scalar:
    """One piece of text. ``quoted`` tells ``""`` from nothing written at all."""

    text: str
    line: int
    quoted: bool = False

    @property
    def empty(self) -> bool:
        """Whether nothing was written."""
        return not self.text and not self.quoted


@dataclass(frozen=True, slots=True)
class Sequence:
    """A list."""

    items: tuple[Node, ...]
    line: int


@dataclass(frozen=True, slots=True)
class Entry:
    """One name in a mapping, with the line it stands on."""

    key: str
    line: int
    value: Node


@dataclass(frozen=True, slots=True)
class Mapping:
    """Names and values, each name once, in the order written. ``braces``: written as {…}."""

    entries: tuple[Entry, ...]
    line: int
    braces: bool = False

    def get(self, key: str) -> Node | None:
        """The value of that name, or None."""
        return next((entry.value for entry in self.entries if entry.key == key), None)


Node = Scalar | Sequence | Mapping


class _Refused(Exception):
    """Reading stops here."""

    def __init__(self, line: int, what: str, advice: str) -> None:
        self.line, self.what, self.advice = line, what, advice


class _Open:
    """A list or mapping that is being filled."""

    __slots__ = ("braces", "entries", "items", "key", "line", "mapping")

    def __init__(self, line: int, mapping: bool, braces: bool) -> None:
        self.line, self.mapping, self.braces = line, mapping, braces
        self.items: list[Node] = []
        self.entries: dict[str, Entry] = {}
        self.key: Scalar | None = None


def read_nodes(text: str, file: str, limits: Limits = SHIPPED) -> tuple[Node | None, list[Problem]]:
    """The nodes of one text, and every problem found on the way; None when it cannot be read.

    Refused: doubled names (both lines are given; reading goes on), aliases, anchors, tags,
    directives, a second document, names that are not text, and more than the limits allow.

    >>> read_nodes("a: no", "x.yaml")[0]
    Mapping(entries=(Entry(key='a', line=1, value=Scalar(text='no', line=1, quoted=False)),), \
line=1, braces=False)
    """
    node, problems = _read(text, file, limits)
    return node, list(problems)


@lru_cache(maxsize=8)
def _read(text: str, file: str, limits: Limits) -> tuple[Node | None, tuple[Problem, ...]]:
    """The same, kept for texts read again: scanning is nearly all the work of loading a book."""
    doubled: list[Problem] = []
    try:
        text = text.removeprefix("\ufeff")
        _check_characters(text, limits)
        assembled = _assembled(text, limits)
        if assembled is not None:
            return assembled, ()
        return _build(text, file, limits, doubled), tuple(doubled)
    except _Refused as refusal:
        problem = Problem(file, refusal.line, "", refusal.what, refusal.advice)
    except YAMLError as error:
        problem = syntax_problem(error, text, file)
    return None, (*doubled, problem)


def _assembled(text: str, limits: Limits) -> Mapping | None:
    """A long text read entry by entry, of which those read before are not read again.

    None if anything at all is out of the ordinary: it is then read in one go, which says what.
    """
    found = pieces(text)
    if found is None:
        return None
    outer: list[Entry] = []
    inner: dict[str, list[Entry]] = {}
    headings: dict[str, tuple[int, int]] = {}
    total = 1
    for piece in found:
        read = _moved(piece.text, piece.first, limits)
        if read is None:
            return None
        entries, count = read
        total += count
        if not piece.section:
            outer += entries
            continue
        if piece.section not in inner:
            inner[piece.section] = []
            headings[piece.section] = (len(outer), entries[0].line)
            outer.append(entries[0])  # its place; the section is put there when all is read
        inner[piece.section] += entries
    lines = text.split("\n")
    for name, held in inner.items():
        place, line = headings[name]
        heading = next(n for n in range(line - 2, -1, -1) if lines[n].startswith(f"{name}:")) + 1
        outer[place] = Entry(name, heading, Mapping(tuple(held), line))
        total += 2
        if len({entry.key for entry in held}) < len(held):
            return None
    if total > limits.nodes or len({entry.key for entry in outer}) < len(outer):
        return None
    return Mapping(tuple(outer), outer[0].line)


@lru_cache(maxsize=2048)
def _moved(text: str, by: int, limits: Limits) -> tuple[tuple[Entry, ...], int] | None:
    """The entries of a piece, with the lines they have in the whole text, and their nodes."""
    read = _piece(text, Limits(limits.bytes, limits.nodes, limits.depth - 1))
    return read and (tuple(_lower(entry, by) for entry in read[0]), read[1])


@lru_cache(maxsize=1024)
def _piece(text: str, limits: Limits) -> tuple[tuple[Entry, ...], int] | None:
    doubled: list[Problem] = []
    counted = [0]
    try:
        root = _build(text, "", limits, doubled, counted)
    except (_Refused, YAMLError):
        return None
    if doubled or not isinstance(root, Mapping) or root.braces:
        return None
    return root.entries, counted[0]


def _lower(entry: Entry, by: int) -> Entry:
    return Entry(entry.key, entry.line + by, _lower_node(entry.value, by))


def _lower_node(node: Node, by: int) -> Node:
    if isinstance(node, Scalar):
        return Scalar(node.text, node.line + by, node.quoted)
    if isinstance(node, Sequence):
        return Sequence(tuple(_lower_node(item, by) for item in node.items), node.line + by)
    entries = tuple(_lower(entry, by) for entry in node.entries)
    return Mapping(entries, node.line + by, node.braces)


def _check_characters(text: str, limits: Limits) -> None:
    size = len(text.encode("utf-8", "surrogatepass"))
    if size > limits.bytes:
        raise _Refused(
            1,
            f"the text is {size:,} bytes long; at most {limits.bytes:,} are read.",
            "Split it, or leave something out.",
        )
    # What YAML 1.2 calls printable; checked here so that the place can be named.
    bad = re.search(
        "[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]", text
    )
    if bad:
        line = text.count("\n", 0, bad.start()) + 1
        code = f"U+{ord(bad.group()):04X}"
        raise _Refused(line, f"there is a character that is not text ({code}).", "Take it out.")


def _build(
    text: str, file: str, limits: Limits, doubled: list[Problem], counted: list[int] | None = None
) -> Node | None:
    root: Node | None = None
    stack: list[_Open] = []
    count = documents = 0
    for event in YAML(typ="safe", pure=True).parse(text):
        line = event.start_mark.line + 1
        if isinstance(event, DocumentStartEvent):
            documents += 1
            _check_document(event, documents, line)
            continue
        node: Node
        if isinstance(event, MappingStartEvent | SequenceStartEvent):
            _check_plain(event, line)
            if len(stack) >= limits.depth:
                raise _Refused(
                    line,
                    f"entries are nested more than {limits.depth} deep.",
                    "Write them flatter.",
                )
            mapping = isinstance(event, MappingStartEvent)
            stack.append(_Open(line, mapping, bool(event.flow_style)))
            continue
        if isinstance(event, ScalarEvent):
            _check_plain(event, line)
            node = Scalar(event.value, line, event.style is not None)
        elif isinstance(event, AliasEvent):
            raise _Refused(
                line,
                "a word that begins with * stands for another place, and that is not read.",
                "Write the entry out, or put the word in quotation marks.",
            )
        elif isinstance(event, MappingEndEvent | SequenceEndEvent):
            node = _closed(stack.pop())
        else:
            continue
        count += 1
        if count > limits.nodes:
            raise _Refused(
                line, f"there are more than {limits.nodes:,} entries.", "Split the text."
            )
        if stack:
            _put(stack[-1], node, file, doubled)
        else:
            root = node
    if root is None or (isinstance(root, Scalar) and root.empty):
        raise _Refused(1, "there is nothing in this file.", 'Begin it with "format: 1".')
    if counted is not None:
        counted[0] = count
    return root


def _check_document(event: DocumentStartEvent, documents: int, line: int) -> None:
    if documents > 1:
        raise _Refused(line, "a line of three hyphens starts a second document.", "Take it out.")
    if event.version or event.tags:
        raise _Refused(line, "a line that begins with % is not read.", "Take it out.")


def _check_plain(event: Event, line: int) -> None:
    if getattr(event, "anchor", None) is not None:
        raise _Refused(
            line,
            "a word that begins with & marks a place to refer to, and such marks are not read.",
            "Take it out, or put the word in quotation marks.",
        )
    if getattr(event, "ctag", None) is not None:
        raise _Refused(
            line,
            "a word that begins with ! is a tag, and tags are not read.",
            "Take it out, or put the word in quotation marks.",
        )


def _closed(frame: _Open) -> Node:
    if frame.mapping:
        return Mapping(tuple(frame.entries.values()), frame.line, frame.braces)
    return Sequence(tuple(frame.items), frame.line)


def _put(frame: _Open, node: Node, file: str, doubled: list[Problem]) -> None:
    if not frame.mapping:
        frame.items.append(node)
        return
    if frame.key is None:
        if not isinstance(node, Scalar):
            raise _Refused(
                node.line,
                "a name stands where a list or braces are written.",
                "If a sentence begins with { or [, put it in quotation marks.",
            )
        frame.key = node
        return
    key, frame.key = frame.key, None
    earlier = frame.entries.get(key.text)
    if earlier:
        doubled.append(
            Problem(
                file,
                key.line,
                "",
                f"{quoted(key.text)} is written twice, here and in line {earlier.line}.",
                "Keep one of the two.",
            )
        )
        return
    frame.entries[key.text] = Entry(key.text, key.line, node)
