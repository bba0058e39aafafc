"""The fields of a rule, as a page shows them, and reading them out of a rule's text."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from .nodes import PASTED, Limits, Mapping, Node, Scalar, Sequence, read_nodes
from .problems import BrokenBook, Problem

Pairs = tuple[tuple[str, str], ...]
"""Names with their texts, in order."""


@dataclass(frozen=True, slots=True)
class CaseFields:
    """One case beside a rule: what was told, and whether the rule ``speaks`` or is ``silent``."""

    told: Pairs
    rule: str


@dataclass(frozen=True, slots=True)
class RuleFields:
    """A rule as the fields of a page: every value the text of the author, empty if left out."""

    name: str
    says: str = ""
    when: Pairs = ()
    unless: Pairs = ()
    outcome: str = "points to"
    """Which of the four outcomes it has."""
    target: str = ""
    strength: str = ""
    group: str = ""
    why: str = ""
    see: str = ""
    at: str = ""
    standing: str = "draft"
    known_gaps: str = ""
    cases: tuple[CaseFields, ...] = ()


OUTCOMES = ("points to", "points away from", "rules out", "concludes")
ORDER = (
    "says",
    "when",
    "unless",
    *OUTCOMES,
    "strength",
    "group",
    "why",
    "source",
    "standing",
    "known gaps",
    "cases",
)


def fields_of(text: str, limits: Limits = PASTED) -> RuleFields:
    """The fields of the one rule in a text.

    Raises:
        BrokenBook: it is not the text of one entry, or not of a shape that has such fields.
    """
    name, entries = _entry(text, limits)
    outcomes = [key for key in entries if key in OUTCOMES]
    if len(outcomes) > 1:
        raise _no_form(entries[outcomes[1]].line, "it has more than one outcome")
    unknown = [key for key in entries if key not in ORDER]
    if unknown:
        raise _no_form(entries[unknown[0]].line, f'the form has no field "{unknown[0]}"')
    source = entries.get("source")
    see = at = ""
    if source is not None:
        told = dict(_pairs(source))
        if set(told) - {"see", "at"}:
            raise _no_form(source.line, "its source has more than see and at")
        see, at = told.get("see", ""), told.get("at", "")
    return RuleFields(
        name=name,
        says=_text(entries.get("says")),
        when=_pairs(entries.get("when")),
        unless=_pairs(entries.get("unless")),
        outcome=outcomes[0] if outcomes else "points to",
        target=_text(entries[outcomes[0]]) if outcomes else "",
        strength=_text(entries.get("strength")),
        group=_text(entries.get("group")),
        why=_text(entries.get("why")),
        see=see,
        at=at,
        standing=_text(entries.get("standing")),
        known_gaps=_text(entries.get("known gaps")),
        cases=_cases(entries.get("cases")),
    )


def tidied(wanted: RuleFields) -> RuleFields:
    """The fields with runs of spaces and line breaks in their sentences made one space."""
    sentences = {
        one.name: " ".join(value.split())
        for one in fields(wanted)
        if isinstance(value := getattr(wanted, one.name), str)
    }
    return replace(
        wanted,
        **sentences,
        when=_tidy(wanted.when),
        unless=_tidy(wanted.unless),
        cases=tuple(replace(c, told=_tidy(c.told)) for c in wanted.cases),
    )


def _tidy(pairs: Pairs) -> Pairs:
    return tuple((name, " ".join(text.split())) for name, text in pairs)


def _no_form(line: int, what: str) -> BrokenBook:
    advice = "Change it in the text beside the form."
    return BrokenBook([Problem("", line, "", f"the form cannot show this rule: {what}.", advice)])


def _entry(text: str, limits: Limits) -> tuple[str, dict[str, Node]]:
    root, problems = read_nodes(text, "", limits)
    if root is None or problems:
        raise BrokenBook(problems)
    if not isinstance(root, Mapping) or len(root.entries) != 1:
        advice = "It begins with the rule's name and a colon, and holds one rule."
        raise BrokenBook([Problem("", root.line, "", "this is not the text of a rule.", advice)])
    entry = root.entries[0]
    if not isinstance(entry.value, Mapping):
        raise _no_form(entry.line, "it has no fields")
    return entry.key, {each.key: each.value for each in entry.value.entries}


def _text(node: Node | None) -> str:
    if node is None:
        return ""
    if not isinstance(node, Scalar):
        raise _no_form(node.line, "a list or names stand where one sentence is wanted")
    return " ".join(node.text.split())


def _pairs(node: Node | None) -> Pairs:
    if node is None or (isinstance(node, Scalar) and node.empty):
        return ()
    if not isinstance(node, Mapping):
        raise _no_form(node.line, "names with values are wanted here")
    found = []
    for entry in node.entries:
        if isinstance(entry.value, Sequence):
            found.append((entry.key, " or ".join(_text(item) for item in entry.value.items)))
        else:
            found.append((entry.key, _text(entry.value)))
    return tuple(found)


def _cases(node: Node | None) -> tuple[CaseFields, ...]:
    if node is None or (isinstance(node, Scalar) and node.empty):
        return ()
    if not isinstance(node, Sequence):
        raise _no_form(node.line, "its cases are not a list")
    return tuple(_case(item) for item in node.items)


def _case(node: Node) -> CaseFields:
    told = node.get("told") if isinstance(node, Mapping) else None
    rule = node.get("rule") if isinstance(node, Mapping) else None
    if not isinstance(node, Mapping) or {e.key for e in node.entries} - {"told", "rule"}:
        raise _no_form(node.line, "a case has more than told and rule")
    return CaseFields(_pairs(told), _text(rule))
