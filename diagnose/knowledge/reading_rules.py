"""Reading what links facts to causes: the evidence table, rules with their cases, retired rules."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from typing import Literal, get_args

from . import keys
from .book import Condition, EvidenceRow, Retired, Rule, RuleCase, Standing, Strength, Weight
from .fields import Fields, Report
from .measures import UNITS
from .names import Names
from .nodes import Entry, Node
from .nodes import Sequence as ListNode
from .parsing_phrases import (
    NotAPhrase,
    check_answer,
    joined,
    parse_answers,
    parse_interval,
    parse_presence,
    parse_value,
)
from .phrases import Interval, Phrase, Value
from .problems import listed, quoted
from .reading_vocabulary import read_source, scalar_text

STRENGTHS: tuple[Strength, ...] = get_args(Strength)
STANDINGS: tuple[Standing, ...] = get_args(Standing)
WEIGHTS: tuple[Weight, ...] = get_args(Weight)
OUTCOMES = ("concludes", "points to", "points away from", "rules out")
_WITH_STRENGTH = ("points to", "points away from")
_DATE = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")
_LABEL = re.compile("[a-z][a-z0-9-]{1,40}")


def read_evidence_row(node: Node, names: Names, report: Report) -> EvidenceRow | None:
    """One row of the evidence table."""
    fields = Fields(node, "evidence", keys.EVIDENCE, report)
    of = fields.text("of")
    about = fields.name("about", "cause", names.causes)
    fields.where = f"evidence of {of} about {about}"
    part = EvidenceRow(
        of=of,
        about=about,
        answers=dict(_weights(fields, names, of)),
        why=fields.text("why"),
        source=read_source(fields, names),
        group=_group(fields),
        line=node.line,
    )
    return part if fields.ok else None


def _weights(fields: Fields, names: Names, of: str) -> Iterator[tuple[str, Weight]]:
    known = names.signs.get(of) or names.bands.get(of)
    if known is None and of in names.scaled:
        fields.wrong(
            fields.line_of("of"),
            f"{of} has no bands, so it has no answers that could be weighed.",
            f"Add bands to {of}, or write a rule that compares it.",
        )
    elif known is None and of:
        askable = (*names.signs, *names.bands)
        fields.report.unknown(
            fields.line_of("of"), fields.where, "sign or reading with bands", of, askable
        )
    for entry in fields.entries("answers"):
        if known is not None:
            try:
                check_answer(entry.key, of, known)
            except NotAPhrase as fault:
                fields.wrong(entry.line, fault.what, fault.advice)
        text = scalar_text(entry, fields)
        yield entry.key, fields.word_of(text, entry.key, WEIGHTS, entry.line)


def _group(fields: Fields) -> str | None:
    group = fields.optional_text("group")
    if group and not _LABEL.fullmatch(group):
        fields.wrong(
            fields.line_of("group"),
            f"{quoted(group)} cannot be a name.",
            "Use small letters, digits and hyphens, like look-of-paste.",
        )
    return group


def read_rule(entry: Entry, names: Names, report: Report) -> Rule | None:
    """One rule with its cases."""
    fields = Fields(entry.value, f"rule {entry.key}", keys.RULE, report, entry.line)
    outcome = _outcome(fields)
    when = tuple(_conditions(fields, "when", names))
    unless = tuple(_conditions(fields, "unless", names))
    part = Rule(
        id=entry.key,
        says=fields.text("says"),
        when=when,
        unless=unless,
        concludes=_target(fields, "concludes", names),
        points_to=_target(fields, "points to", names),
        points_away_from=_target(fields, "points away from", names),
        rules_out=_target(fields, "rules out", names),
        strength=_strength(fields, outcome),
        group=_group(fields),
        why=fields.text("why"),
        source=read_source(fields, names),
        standing=fields.word("standing", STANDINGS),
        known_gaps=fields.optional_text("known gaps"),
        cases=tuple(_cases(fields, names)),
        line=entry.line,
    )
    return part if fields.ok else None


def _outcome(fields: Fields) -> str:
    written = [key for key in OUTCOMES if fields.has(key)]
    if not written and not any(fields.has_or_means(key) for key in OUTCOMES):
        fields.wrong(
            fields.line, "the rule has no outcome.", f"Add one of {listed(OUTCOMES, 'or')}."
        )
    elif len(written) > 1:
        fields.wrong(
            fields.line_of(written[1]),
            f"the rule has more than one outcome: {listed(written)}.",
            "Keep one, and write a second rule for the other.",
        )
    return written[0] if written else ""


def _target(fields: Fields, key: str, names: Names) -> str | None:
    if not fields.has(key):
        return None
    if key == "concludes":
        return fields.name(key, "finding", names.findings)
    return fields.name(key, "cause", names.causes)


def _strength(fields: Fields, outcome: str) -> Strength | None:
    if outcome in _WITH_STRENGTH:
        if fields.has("strength"):
            return fields.word("strength", STRENGTHS)
        if not fields.has_or_means("strength"):
            fields.wrong(
                fields.line_of(outcome),
                f'"{outcome}" needs a strength.',
                f"Add strength: {listed(STRENGTHS, 'or')}.",
            )
    elif outcome and fields.has("strength"):
        fields.wrong(
            fields.line_of("strength"),
            f'"{outcome}" has no strength.',
            "Take the strength out; a finding is there or not, and what is ruled out is out.",
        )
    return None


def _conditions(fields: Fields, key: str, names: Names) -> Iterator[Condition]:
    for entry in fields.entries(key):
        condition = _condition(entry, fields, names)
        if condition is not None:
            yield condition


def _condition(entry: Entry, fields: Fields, names: Names) -> Condition | None:
    kind = fact_kind(entry.key, names)
    if kind is None:
        fields.report.unknown(
            entry.line, fields.where, "sign, reading or finding", entry.key, names.facts
        )
        return None
    if isinstance(entry.value, ListNode):
        text = joined([fields.text_of(item, entry.key) for item in entry.value.items])
    else:
        text = scalar_text(entry, fields)
    if not text:
        fields.wrong(
            entry.line, f"nothing is compared with {entry.key}.", "Write what it has to be."
        )
        return None
    try:
        return Condition(subject=entry.key, kind=kind, phrase=_phrase(text, entry.key, kind, names))
    except NotAPhrase as fault:
        fields.wrong(entry.line, fault.what, fault.advice)
        return None


FactKind = Literal["sign", "reading", "computed", "finding", "stage"]


def fact_kind(subject: str, names: Names) -> FactKind | None:
    """What kind of fact a name in a condition or a case means; None if there is none."""
    if subject == "stage":
        return "stage"
    if subject in names.signs:
        return "sign"
    if subject in names.readings:
        return "reading"
    if subject in names.computed:
        return "computed"
    return "finding" if subject in names.findings else None


def _phrase(text: str, subject: str, kind: FactKind, names: Names) -> Phrase:
    if kind == "stage":
        return parse_answers(text, subject, names.stages)
    if kind == "sign":
        return parse_answers(text, subject, names.signs[subject])
    if kind == "finding":
        return parse_presence(text, subject)
    if text in names.bands.get(subject, ()):
        raise NotAPhrase(
            f"{quoted(text)} is a band of {subject}, and bands are for the evidence table.",
            "Compare with the numbers themselves, like below 85 °C.",
        )
    unit = names.scaled[subject]
    if unit not in UNITS:  # reported where the reading is described
        return Interval(None, None, False, False, text)
    return parse_interval(text, subject, unit)


def _cases(fields: Fields, names: Names) -> Iterator[RuleCase]:
    for node in fields.items("cases"):
        inner = Fields(node, f"{fields.where}, a case", keys.CASE, fields.report)
        told: dict[str, Value] = {}
        for entry in inner.entries("told", may_be_empty=True):
            value = _told(entry, inner, names)
            if value is not None:
                told[entry.key] = value
        outcome = inner.word("rule", ("silent", "speaks"))
        yield RuleCase(told=told, speaks=outcome == "speaks")


def _told(entry: Entry, fields: Fields, names: Names) -> Value | None:
    kind = fact_kind(entry.key, names)
    if kind is None:
        fields.report.unknown(
            entry.line, fields.where, "sign, reading or finding", entry.key, names.facts
        )
        return None
    text = scalar_text(entry, fields)
    try:
        return _told_value(text, entry.key, kind, names)
    except NotAPhrase as fault:
        fields.wrong(entry.line, fault.what, fault.advice)
        return None


def _told_value(text: str, subject: str, kind: FactKind, names: Names) -> Value:
    if kind in ("reading", "computed"):
        unit = names.scaled[subject]
        return parse_value(text, subject, unit) if unit in UNITS else 0.0
    if kind == "finding":
        if not parse_presence(text, subject).present:
            raise NotAPhrase(
                f"the finding {subject} cannot be told to be absent.",
                "Leave it out: what is not told is absent.",
            )
        return text
    answers = names.stages if kind == "stage" else names.signs[subject]
    check_answer(text, subject, answers)
    return text


def read_retired(entry: Entry, names: Names, report: Report) -> Retired | None:
    """One rule that was taken out."""
    fields = Fields(entry.value, f"retired rule {entry.key}", keys.RETIRED, report, entry.line)
    if entry.key in names.rules:
        fields.wrong(
            entry.line,
            f"the name {quoted(entry.key)} belongs to a retired rule and is used again.",
            "Give the new rule a name of its own.",
        )
    when = fields.text("when")
    if when and not _is_date(when):
        fields.wrong(
            fields.line_of("when"),
            f"{quoted(when)} is not a date.",
            "Write year, month and day, like 2025-01-31.",
        )
    replaced_by = None
    if fields.has("replaced by"):
        replaced_by = fields.name("replaced by", "rule", names.rules)
    part = Retired(
        id=entry.key, when=when, why=fields.text("why"), replaced_by=replaced_by, line=entry.line
    )
    return part if fields.ok else None


def _is_date(text: str) -> bool:
    if not _DATE.fullmatch(text):
        return False
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True
