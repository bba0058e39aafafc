"""Where a new rule begins: a case, a consultation, a rule to copy, or nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fastapi import HTTPException

from casebook import cases
from casebook.problems import UnknownCase
from diagnose.knowledge.book import ComputedReading, Dough, Reading
from diagnose.knowledge.facts import facts_of
from diagnose.knowledge.measures import sign
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.ruletext import RuleFields
from diagnose.knowledge.situation import Situation
from diagnose.knowledge.situations import read_situation

from .editing_cases import told_of
from .editing_form import Sheet
from .editing_rows import Row, row_of
from .site import Site
from .wording import number

OWN_CASES = "own-cases"
"""The source of what was seen here and nowhere else."""


def begun_from_case(site: Site, dough: Dough, name: str) -> Sheet:
    """A rule from a kept case, or from one of the book's whole cases. 404 for no such case."""
    causes: tuple[str, ...] = ()
    try:
        kept = cases.case(site.store, name)
        given: Mapping[str, object] = kept.situation
        last = cases.marks(site.store, name)
        if last and last[-1].verdict == "confirmed":
            causes = last[-1].causes
    except UnknownCase as unknown:
        whole = next((c for c in dough.whole_cases if c.id == name), None)
        if whole is None:
            raise HTTPException(404, str(unknown)) from None
        given = whole.situation
        causes = (whole.first_cause,) if whole.first_cause else ()
    situation, problems = read_situation({**given, "dough": dough.id}, site.book)
    if situation is None:
        raise HTTPException(409, f"This case cannot be read with the book of today: {problems[0]}")
    return begun_from(situation, dough, f"case {name}", next(iter(causes), ""))


def begun_from(situation: Situation, dough: Dough, at: str, cause: str) -> Sheet:
    """A rule with one condition for each thing that was seen or measured.

    What was worked out, and what is known of the kitchen and the batch, is offered, but struck
    until somebody wants it.
    """
    facts = facts_of(situation, dough)
    computed = {c.id for c in dough.computed}
    seen = {name: value for name, value in facts.items() if name not in computed}
    told = {"stage", *situation.signs, *situation.readings}
    rows = [_row(name, value, dough, name in told) for name, value in facts.items()]
    known = {c.id for c in dough.causes}
    fields = RuleFields(
        name="",
        target=cause if cause in known else "",
        strength="moderate",
        see=OWN_CASES,
        at=at,
    )
    return Sheet(fields, tuple(rows), (), (), True, told_of(seen, dough))


def begun_empty(stage: str, dough: Dough) -> Sheet:
    """A rule with nothing in it but the stage, if one is named."""
    known = any(s.id == stage for s in dough.stages)
    rows = (row_of("stage", stage, dough),) if known else ()
    return Sheet(RuleFields("", strength="moderate"), when=rows, in_step=True)


def copied(sheet: Sheet) -> Sheet:
    """A rule like another, without its name and its claim."""
    return replace(sheet, fields=replace(sheet.fields, name="", says="", standing="draft"))


def _row(subject: str, value: Value, dough: Dough, kept: bool) -> Row:
    if isinstance(value, str):
        return row_of(subject, value, dough, kept)
    parts: dict[str, Reading | ComputedReading] = {r.id: r for r in dough.readings}
    parts |= {c.id: c for c in dough.computed}
    part = parts[subject]
    band = next((b for b in part.bands if b.phrase.judge(value).value == "yes"), None)
    if band is not None:
        return row_of(subject, str(band.phrase), dough, kept)
    # No named stretch holds it: twice as far each way as a kitchen can tell apart (house rule).
    near = 2 * part.good_to if isinstance(part, Reading) else abs(value) / 10
    low, high = number(round(value - near, 1)), number(round(value + near, 1))
    return row_of(subject, f"between {low} and {high} {sign(part.unit)}", dough, kept)
