"""Failure modes: the ways a dough goes wrong that a book answers for, and how each is shown.

A book that lists them can be measured: every one is either walked from its complaint to its remedy
by a whole case, or is said not to be covered, and why.
"""

from __future__ import annotations

from . import keys
from .fields import Fields, Report
from .names import Names
from .nodes import Entry
from .part import Part


class FailureMode(Part):
    """One way the dough goes wrong: shown by a whole case, or not covered for a reason.

    Exactly one of ``case`` (the id of a whole case) and ``why_not`` (a sentence) is given.
    """

    id: str
    says: str
    case: str | None = None
    why_not: str | None = None
    line: int = 0


def read_failure_mode(entry: Entry, names: Names, report: Report) -> FailureMode | None:
    """One failure mode, or None after a mistake, each reported with its line."""
    fields = Fields(entry.value, f"failure mode {entry.key}", keys.FAILURE_MODE, report, entry.line)
    case = fields.name("case", "whole case", names.whole_cases) or None
    why_not = fields.optional_text("why not")
    if fields.has("case") and fields.has("why not"):
        fields.wrong(
            fields.line_of("why not"),
            "it has a whole case and a reason why it is not covered.",
            "Keep case if the book covers it, or why not if it does not.",
        )
    elif not fields.has_or_means("case") and not fields.has_or_means("why not"):
        fields.wrong(
            fields.line,
            "it says neither which whole case shows it nor why it is not covered.",
            "Add case: the name of a whole case, or why not: one sentence.",
        )
    mode = FailureMode(
        id=entry.key, says=fields.text("says"), case=case, why_not=why_not, line=entry.line
    )
    return mode if fields.ok else None
