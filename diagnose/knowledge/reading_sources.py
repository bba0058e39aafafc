"""Reading ``sources.yaml``: every book, table and own trial, once, with how it was looked at."""

from __future__ import annotations

from typing import Literal, get_args

from . import keys
from .book import SourceEntry
from .fields import Fields, Report, check_name
from .nodes import SHIPPED, Limits, Mapping, read_nodes
from .problems import Problem

SourceKind = Literal[
    "book", "paper", "standard", "table", "guide", "own trial", "practice", "house rule"
]
Mark = Literal["read", "read in abstract", "second-hand", "computed", "derived", "memory", "none"]
KINDS: tuple[SourceKind, ...] = get_args(SourceKind)
MARKS: tuple[Mark, ...] = get_args(Mark)


def read_sources(
    text: str, file: str, limits: Limits = SHIPPED
) -> tuple[tuple[SourceEntry, ...], list[Problem]]:
    """The entries that could be read, in the order written, and every problem found."""
    root, problems = read_nodes(text, file, limits)
    if root is None:
        return (), problems
    report = Report(file)
    if not isinstance(root, Mapping):
        report.add(
            root.line, "", "this file needs keys with entries.", "Begin with a key and a colon."
        )
        return (), problems + report.problems
    found: list[SourceEntry] = []
    for entry in root.entries:
        if not check_name(entry, "source", report):
            continue
        fields = Fields(entry.value, f"source {entry.key}", keys.SOURCE_ENTRY, report, entry.line)
        part = SourceEntry(
            key=entry.key,
            kind=fields.word("kind", KINDS),
            by=fields.text("by"),
            title=fields.text("title"),
            year=fields.optional_text("year"),
            where=fields.optional_text("where"),
            mark=fields.word("mark", MARKS),
            checked=fields.optional_text("checked"),
            line=entry.line,
        )
        if fields.ok:
            found.append(part)
    return tuple(found), problems + report.problems
