"""A rule as the boxes of a form, and back, with nothing lost on the way.

``Sheet`` is the whole form as somebody left it: also lines that were struck, and text that is no
phrase yet. ``fields_of_sheet`` is the rule it stands for.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from diagnose.knowledge.book import Dough
from diagnose.knowledge.fields import NAME
from diagnose.knowledge.parsing_phrases import NotAPhrase
from diagnose.knowledge.ruletext import OUTCOMES, CaseFields, Pairs, RuleFields, tidied

from .editing_rows import MOST_ROWS, Row, boxes_of, judged, phrase_of, row_of, rows_from
from .forms import FieldProblem

MOST_CASES = 60
LONGEST_NAME = 41
_SMALL_WORDS = frozenset(
    re.findall(
        "[a-z]+",
        "a an and are as at be but by for from has have in is it its of on or that the then this "
        "to was were which with",
    )
)


@dataclass(frozen=True, slots=True)
class Example:
    """A case beside the rule, as the form holds it."""

    told: Pairs
    rule: str
    kept: bool = True


@dataclass(frozen=True, slots=True)
class Sheet:
    """The form as it stands."""

    fields: RuleFields
    """What has a box of its own; ``when``, ``unless`` and ``cases`` are below."""
    when: tuple[Row, ...] = ()
    unless: tuple[Row, ...] = ()
    examples: tuple[Example, ...] = ()
    in_step: bool = False
    """Whether the examples are written anew from the conditions."""
    base: Pairs = ()
    """What was told in the case the rule was made from."""


def sheet_of(fields: RuleFields, dough: Dough) -> Sheet:
    """The form for a rule as it is written."""
    return Sheet(
        fields=replace(fields, when=(), unless=(), cases=()),
        when=tuple(row_of(name, text, dough) for name, text in fields.when),
        unless=tuple(row_of(name, text, dough) for name, text in fields.unless),
        examples=tuple(Example(case.told, case.rule) for case in fields.cases),
    )


def fields_of_sheet(sheet: Sheet, dough: Dough) -> RuleFields:
    """The rule that a form stands for; lines that were struck are left out."""
    return tidied(
        replace(
            sheet.fields,
            when=_pairs(sheet.when, dough),
            unless=_pairs(sheet.unless, dough),
            cases=tuple(CaseFields(e.told, e.rule) for e in sheet.examples if e.kept),
        )
    )


def _pairs(rows: tuple[Row, ...], dough: Dough) -> Pairs:
    return tuple((row.subject, phrase_of(row, dough)) for row in rows if row.kept)


def boxes_of_sheet(sheet: Sheet) -> dict[str, str]:
    """The form's fields as a browser sends them."""
    fields = sheet.fields
    boxes = {
        "says": fields.says,
        "name": fields.name,
        "outcome": fields.outcome,
        "target": fields.target,
        "strength": fields.strength,
        "group": fields.group,
        "why": fields.why,
        "see": fields.see,
        "at": fields.at,
        "standing": fields.standing,
        "gaps": fields.known_gaps,
        "base": pairs_text(sheet.base),
    }
    for place, rows in (("when", sheet.when), ("unless", sheet.unless)):
        for number, row in enumerate(rows):
            boxes |= boxes_of(row, f"{place}-{number}")
    for number, example in enumerate(sheet.examples):
        prefix = f"case-{number}"
        boxes |= {prefix: pairs_text(example.told), f"{prefix}-rule": example.rule}
        if example.kept:
            boxes[f"{prefix}-keep"] = "yes"
    if sheet.in_step:
        boxes["in-step"] = "yes"
    return boxes


def sheet_from(form: Mapping[str, str], dough: Dough) -> Sheet:
    """A form as it was sent; whatever no page of ours would send is left out."""
    examples = []
    for number in range(MOST_CASES):
        prefix = f"case-{number}"
        if prefix not in form:
            break
        told = read_pairs(form[prefix])
        rule, kept = form.get(f"{prefix}-rule", ""), f"{prefix}-keep" in form
        examples.append(Example(told, rule, kept))
    outcome = form.get("outcome", "")
    fields = RuleFields(
        name=form.get("name", ""),
        says=form.get("says", ""),
        outcome=outcome if outcome in OUTCOMES else "points to",
        target=form.get("target", ""),
        strength=form.get("strength", ""),
        group=form.get("group", ""),
        why=form.get("why", ""),
        see=form.get("see", ""),
        at=form.get("at", ""),
        standing=form.get("standing", ""),
        known_gaps=form.get("gaps", ""),
    )
    return Sheet(
        fields=tidied(fields),
        when=rows_from(form, "when", dough),
        unless=rows_from(form, "unless", dough),
        examples=tuple(examples),
        in_step="in-step" in form,
        base=read_pairs(form.get("base", "")),
    )


def with_row(sheet: Sheet, place: str, subject: str, dough: Dough) -> Sheet:
    """The form with one more condition, still empty; unchanged if it is there already."""
    rows = sheet.unless if place == "unless" else sheet.when
    if any(row.subject == subject for row in rows):
        kept = tuple(replace(r, kept=r.kept or r.subject == subject) for r in rows)
    else:
        kept = (*rows, row_of(subject, "", dough))[:MOST_ROWS]
    return replace(sheet, unless=kept) if place == "unless" else replace(sheet, when=kept)


def pairs_text(pairs: Pairs) -> str:
    """Names with their texts as one field; `read_pairs` reads it back."""
    return json.dumps(pairs, ensure_ascii=False, separators=(",", ":")) if pairs else ""


def read_pairs(text: str) -> Pairs:
    """What `pairs_text` wrote; nothing for anything else."""
    if not text or len(text) > 20_000:
        return ()
    try:
        read = json.loads(text)
    except (ValueError, RecursionError):
        return ()
    if not isinstance(read, list):
        return ()
    pairs = [p for p in read if isinstance(p, list) and len(p) == 2]
    return tuple((a, b) for a, b in pairs if isinstance(a, str) and isinstance(b, str))


def name_from(says: str, taken: Collection[str]) -> str:
    """A name made from the words of a claim, one that nothing was ever called.

    >>> name_from("A slab chilled two hours that smears is still warm inside", ())
    'slab-chilled-two-hours-smears-still-warm'
    """
    words = re.findall("[a-z0-9]+", says.lower())
    words = [word for word in words if word not in _SMALL_WORDS] or words
    while words and not words[0][0].isalpha():
        words = words[1:]
    name = ""
    for word in words:
        longer = f"{name}-{word}" if name else word
        if len(longer) > LONGEST_NAME:
            break
        name = longer
    if len(name) < 2:
        name = "new-rule"
    tried, number = name, 1
    while tried in taken:
        number += 1
        end = f"-{number}"
        tried = name[: LONGEST_NAME - len(end)].rstrip("-") + end
    return tried


def problems_of(sheet: Sheet, dough: Dough, taken: Collection[str] | None) -> list[FieldProblem]:
    """Everything that is wrong in a form, beside the box it is about.

    ``taken`` are the names that a new rule cannot have; None for a rule that keeps its name.
    """
    found = []
    fields = sheet.fields
    if not fields.says:
        found.append(FieldProblem("says", "Say what the rule claims, as you would to a colleague."))
    if taken is not None and fields.name:
        if not NAME.fullmatch(fields.name):
            sentence = "Use 2 to 41 small letters, digits and hyphens, beginning with a letter."
            found.append(FieldProblem("name", sentence))
        elif fields.name in taken:
            sentence = (
                f"{fields.name} is or was the name of another rule, and a name is never used "
                "again. Leave the box empty to get one made from the words."
            )
            found.append(FieldProblem("name", sentence))
    if not any(row.kept for row in sheet.when):
        found.append(FieldProblem("when", "Keep or add at least one condition."))
    for place, rows in (("when", sheet.when), ("unless", sheet.unless)):
        for number, row in enumerate(rows):
            if row.kept:
                found += _row_problem(f"{place}-{number}", row, dough)
    concludes = fields.outcome == "concludes"
    kind, names = ("finding", [f.id for f in dough.findings]) if concludes else (
        "cause", [c.id for c in dough.causes])  # fmt: skip
    if fields.target not in names:
        found.append(FieldProblem("target", f"Choose a {kind} from the list."))
    needs = fields.outcome in ("points to", "points away from")
    if needs and not fields.strength:
        found.append(FieldProblem("strength", "Choose how strongly."))
    elif fields.strength and not needs:
        sentence = f'A rule that "{fields.outcome}" has no strength. Choose "none".'
        found.append(FieldProblem("strength", sentence))
    if not fields.why:
        found.append(FieldProblem("why", "Say why, in one sentence: what happens in the dough."))
    if not fields.see:
        found.append(FieldProblem("see", "Choose who says so."))
    return found


def _row_problem(box: str, row: Row, dough: Dough) -> list[FieldProblem]:
    try:
        judged(row.subject, phrase_of(row, dough), dough)
    except NotAPhrase as fault:
        sentence = f"{fault.what[:1].upper()}{fault.what[1:]} {fault.advice}"
        return [FieldProblem(box, sentence)]
    return []
