"""One condition of a rule as the boxes of a form, and back: exactly the phrase that was written.

A phrase that boxes can hold (answers to tick, a limit, a stretch, there or not) gets such boxes;
any other gets one box of text. Boxes that nobody touched give the author's own letters again.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from diagnose.knowledge.book import Dough
from diagnose.knowledge.measures import sign
from diagnose.knowledge.parsing_phrases import (
    NotAPhrase,
    parse_answers,
    parse_interval,
    parse_presence,
)
from diagnose.knowledge.phrases import Phrase

Kind = Literal["answers", "number", "finding", "text"]
HOWS = ("below", "above", "at least", "at most", "between")
MOST_ROWS = 40
"""Conditions that one form may hold on each side; more are written as text."""

_ONE_SIDED = re.compile("(below|above|at least|at most) (.+)")
_BETWEEN = re.compile("between (.+?) and (.+)")
_BARE = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")


@dataclass(frozen=True, slots=True)
class Row:
    """One condition as a form holds it."""

    subject: str
    was: str
    """The phrase as it was written, before anybody touched the boxes."""
    kind: Kind
    kept: bool = True
    answers: tuple[str, ...] = ()
    negated: bool = False
    how: str = ""
    low: str = ""
    high: str = ""
    text: str = ""
    """The phrase where boxes cannot hold it; for a finding, ``present`` or ``absent``."""


def answers_of(subject: str, dough: Dough) -> tuple[tuple[str, str], ...]:
    """What can be answered about a sign or the stage: names, and what they are called."""
    if subject == "stage":
        return tuple((stage.id, stage.title) for stage in dough.stages)
    for known in dough.signs:
        if known.id == subject:
            return tuple((answer.id, answer.say) for answer in known.answers)
    return ()


def unit_of(subject: str, dough: Dough) -> str | None:
    """The unit of a reading or computed reading; None for anything else."""
    units = {r.id: r.unit for r in dough.readings} | {c.id: c.unit for c in dough.computed}
    return units.get(subject)


def row_of(subject: str, phrase: str, dough: Dough, kept: bool = True) -> Row:
    """The boxes for a condition as an author wrote it."""
    names = [name for name, _ in answers_of(subject, dough)]
    plain = Row(subject, phrase, "text", kept, text=phrase)
    if names:
        try:
            read = parse_answers(phrase, subject, names) if phrase else None
        except NotAPhrase:
            return plain
        if read is None:
            return replace(plain, kind="answers", text="")
        return replace(plain, kind="answers", text="", answers=read.answers, negated=read.negated)
    if unit_of(subject, dough) is not None:
        one, two = _ONE_SIDED.fullmatch(phrase), _BETWEEN.fullmatch(phrase)
        if one:
            return replace(plain, kind="number", text="", how=one[1], low=one[2])
        if two:
            return replace(plain, kind="number", text="", how="between", low=two[1], high=two[2])
        return plain if phrase else replace(plain, kind="number", how="at least")
    if any(f.id == subject for f in dough.findings) and phrase in ("present", "absent", ""):
        return replace(plain, kind="finding", text=phrase or "present")
    return plain


def phrase_of(row: Row, dough: Dough) -> str:
    """The phrase that the boxes say; the author's own letters if they were not touched."""
    if row.was and row == row_of(row.subject, row.was, dough, row.kept):
        return row.was
    if row.kind == "answers":
        before = row_of(row.subject, row.was, dough).answers
        order = [*before, *(n for n, _ in answers_of(row.subject, dough) if n not in before)]
        chosen = " or ".join(name for name in order if name in row.answers)
        return f"not {chosen}" if row.negated and chosen else chosen
    if row.kind == "number":
        unit = sign(unit_of(row.subject, dough) or "")
        low, high = _with_unit(row.low, unit), _with_unit(row.high, unit)
        if row.how == "between":
            return f"between {row.low} and {high}".strip() if row.low or high else ""
        return f"{row.how} {low}" if low else ""
    return row.text


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if _BARE.fullmatch(text) else text


def judged(subject: str, phrase: str, dough: Dough) -> Phrase:
    """A phrase that can be judged. Raises NotAPhrase, with what would be accepted."""
    names = [name for name, _ in answers_of(subject, dough)]
    if not phrase:
        advice = "Choose at least one answer." if names else "Write a number and its unit."
        raise NotAPhrase("nothing is chosen.", f"{advice} Or strike the line.")
    if names:
        return parse_answers(phrase, subject, names)
    unit = unit_of(subject, dough)
    if unit is not None:
        return parse_interval(phrase, subject, unit)
    if any(f.id == subject for f in dough.findings):
        return parse_presence(phrase, subject)
    raise NotAPhrase(f"this book has nothing called {subject}.", "Strike the line.")


def boxes_of(row: Row, prefix: str) -> dict[str, str]:
    """A row as the fields of a form; a box to tick that is empty is not sent."""
    boxes = {prefix: row.subject, f"{prefix}-was": row.was}
    if row.kept:
        boxes[f"{prefix}-keep"] = "yes"
    if row.kind == "answers":
        boxes[f"{prefix}-not"] = "yes" if row.negated else "no"
        boxes |= {f"{prefix}-is-{name}": "yes" for name in row.answers}
    elif row.kind == "number":
        boxes |= {f"{prefix}-how": row.how, f"{prefix}-low": row.low, f"{prefix}-high": row.high}
    else:
        boxes[f"{prefix}-text"] = row.text
    return boxes


def rows_from(form: Mapping[str, str], place: str, dough: Dough) -> tuple[Row, ...]:
    """The rows of one side of a form, as they were sent."""
    rows = []
    for number in range(MOST_ROWS):
        prefix = f"{place}-{number}"
        if prefix not in form:
            break
        rows.append(_row_from(form, prefix, dough))
    return tuple(rows)


def _row_from(form: Mapping[str, str], prefix: str, dough: Dough) -> Row:
    subject, was = form[prefix], form.get(f"{prefix}-was", "")
    printed = row_of(subject, was, dough, f"{prefix}-keep" in form)
    if printed.kind == "answers":
        # The order of the answers is the author's, then the book's.
        names = [name for name, _ in answers_of(subject, dough)]
        order = [*printed.answers, *(name for name in names if name not in printed.answers)]
        ticked = tuple(name for name in order if f"{prefix}-is-{name}" in form)
        return replace(printed, answers=ticked, negated=form.get(f"{prefix}-not") == "yes")
    if printed.kind == "number":
        how = form.get(f"{prefix}-how", "")
        return replace(
            printed,
            how=how if how in HOWS else "at least",
            low=" ".join(form.get(f"{prefix}-low", "").split()),
            high=" ".join(form.get(f"{prefix}-high", "").split()),
        )
    text = " ".join(form.get(f"{prefix}-text", "").split())
    if printed.kind == "finding" and text not in ("present", "absent"):
        text = "present"
    return replace(printed, text=text)
