"""Reading whole cases: a consultation with a known answer, told as the machine face takes it."""

from __future__ import annotations

import re

from . import keys
from .book import Dough, WholeCase
from .fields import Fields, Report
from .names import Names
from .nodes import Entry, Mapping, Node, Scalar
from .reading_vocabulary import read_source
from .situations import read_situation

_NUMBER = re.compile(r"-?[0-9]{1,9}(?:\.[0-9]{1,9})?")


def read_whole_case(
    entry: Entry, names: Names, report: Report, dough: Dough | None
) -> WholeCase | None:
    """One whole case. Without a dough everything but the situation itself is checked."""
    fields = Fields(entry.value, f"whole case {entry.key}", keys.WHOLE_CASE, report, entry.line)
    node = fields.node("situation")
    situation = plain(node) if node is not None else {}
    if not isinstance(situation, dict):
        fields.wrong(
            fields.line_of("situation"), "a situation has names.", "Begin with stage, then signs."
        )
        situation = {}
    elif node is not None and dough is not None:
        _check_situation(fields, situation, dough)
    if not fields.has("first cause") and not fields.has("first remedy"):
        fields.wrong(
            fields.line,
            "the case does not say what must come first.",
            "Add first cause, first remedy, or both.",
        )
    part = WholeCase(
        id=entry.key,
        story=fields.text("story"),
        situation=situation,
        first_cause=fields.name("first cause", "cause", names.causes) or None,
        first_remedy=fields.name("first remedy", "remedy", names.remedies) or None,
        never=fields.names("never", "cause or remedy", (*names.causes, *names.remedies)),
        source=read_source(fields, names),
        line=entry.line,
    )
    return part if fields.ok else None


def _check_situation(fields: Fields, situation: dict[str, object], dough: Dough) -> None:
    if "dough" in situation:
        fields.wrong(
            fields.line_of("situation"), "a whole case does not name its dough.", "Take it out."
        )
        return
    _, problems = read_situation({"dough": dough.id, **situation}, dough)
    for problem in problems:
        fields.report.add(
            fields.line_of("situation"),
            f"{fields.where}, {problem.where}",
            problem.what,
            problem.advice,
        )


def plain(node: Node) -> object:
    """A node as JSON would hold it; an unquoted number becomes a number, all else stays text."""
    if isinstance(node, Scalar):
        if not node.quoted and _NUMBER.fullmatch(node.text):
            return float(node.text) if "." in node.text else int(node.text)
        return node.text
    if isinstance(node, Mapping):
        return {entry.key: plain(entry.value) for entry in node.entries}
    return [plain(item) for item in node.items]
