"""Reading what a cook can be asked and told: stages, signs, readings, findings, cautions."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import TypeVar, get_args

from diagnose.kitchen.computations import READINGS

from . import keys
from .bands import band_fault
from .book import (
    Answer,
    Band,
    Caution,
    Commonness,
    ComputedReading,
    Effort,
    Finding,
    Given,
    Reading,
    Sign,
    Source,
    Tool,
)
from .fields import Fields, Report, check_name
from .measures import UNITS, sign, unit_named
from .names import Names
from .nodes import Entry, Scalar
from .parsing_phrases import NotAPhrase, parse_interval

EFFORTS: tuple[Effort, ...] = get_args(Effort)
GIVENS: tuple[Given, ...] = get_args(Given)
COMMONNESS: tuple[Commonness, ...] = get_args(Commonness)
TOOLS: tuple[Tool, ...] = get_args(Tool)

LONGEST_TIME_MIN = 2880
"""Two days: no remedy and no stage takes longer (house rule)."""
_FEWEST_ANSWERS = 2
_MOST_ANSWERS = 9

Part = TypeVar("Part")


def read_each(
    fields: Fields,
    key: str,
    kind: str,
    read: Callable[[Entry, Names, Report], Part | None],
    names: Names,
) -> tuple[Part, ...]:
    """Every entry of a section that could be read, each with a proper name."""
    parts: list[Part] = []
    for entry in fields.entries(key, may_be_empty=True):
        if check_name(entry, kind, fields.report):
            part = read(entry, names, fields.report)
            if part is not None:
                parts.append(part)
    return tuple(parts)


def read_source(fields: Fields, names: Names) -> Source:
    """The ``source`` of an entry."""
    if not fields.has("source"):
        return Source(see="")
    inner = Fields(fields.node("source"), fields.where, keys.SOURCE, fields.report)
    see = inner.text("see")
    if see and names.sources is not None and see not in names.sources:
        fields.report.unknown(
            inner.line_of("see"), fields.where, "source", see, sorted(names.sources)
        )
    return Source(see=see, at=inner.optional_text("at"))


def read_sign(entry: Entry, names: Names, report: Report) -> Sign | None:
    """One thing to see, touch, taste or remember."""
    fields = Fields(entry.value, f"sign {entry.key}", keys.SIGN, report, entry.line)
    answers: list[Answer] = []
    for answer in fields.entries("answers"):
        if check_name(answer, fields.where, report):
            answers.append(Answer(id=answer.key, say=fields.text_of(answer.value, answer.key)))
    if fields.ok and not _FEWEST_ANSWERS <= len(answers) <= _MOST_ANSWERS:
        fields.wrong(
            fields.line_of("answers"),
            f"{len(answers)} answers cannot be offered on one page.",
            f"Give {_FEWEST_ANSWERS} to {_MOST_ANSWERS}.",
        )
    part = Sign(
        id=entry.key,
        ask=fields.text("ask"),
        how=fields.optional_text("how"),
        answers=tuple(answers),
        stages=fields.stages("stages", names.stages),
        effort=fields.word("effort", EFFORTS),
        how_common=dict(_how_common(fields, answers)),
        given_by=fields.word("given by", GIVENS) if fields.has("given by") else None,
        line=entry.line,
    )
    return part if fields.ok else None


def _how_common(fields: Fields, answers: list[Answer]) -> Iterator[tuple[str, Commonness]]:
    known = [answer.id for answer in answers]
    for entry in fields.entries("how common"):
        if entry.key not in known:
            fields.report.unknown(entry.line, fields.where, "answer", entry.key, known)
        text = fields.text_of(entry.value, entry.key)
        yield entry.key, fields.word_of(text, entry.key, COMMONNESS, entry.line)


def read_reading(entry: Entry, names: Names, report: Report) -> Reading | None:
    """One thing to measure."""
    fields = Fields(entry.value, f"reading {entry.key}", keys.READING, report, entry.line)
    unit = fields.word("unit", UNITS)
    possible = fields.range("possible")
    likely = fields.range("likely")
    if fields.ok and not (possible[0] <= likely[0] and likely[1] <= possible[1]):
        fields.wrong(
            fields.line_of("likely"),
            f"the likely range {likely[0]:g} to {likely[1]:g} reaches outside the possible range "
            f"{possible[0]:g} to {possible[1]:g}.",
            "Widen the possible range, or narrow the likely one.",
        )
    part = Reading(
        id=entry.key,
        ask=fields.text("ask"),
        how=fields.optional_text("how"),
        unit=unit,
        likely=likely,
        possible=possible,
        good_to=fields.number("good to", 0, 10_000),
        tool=fields.word("tool", TOOLS) if fields.has("tool") else None,
        stages=fields.stages("stages", names.stages),
        effort=fields.word("effort", EFFORTS),
        given_by=fields.word("given by", GIVENS) if fields.has("given by") else None,
        bands=_bands(fields, entry.key, unit, *possible),
        judged_by=_judged_by(fields, names),
        line=entry.line,
    )
    return part if fields.ok else None


def _judged_by(fields: Fields, names: Names) -> str | None:
    if not fields.has("judged by"):
        return None
    known = [name for name in names.computed if name in names.bands]
    return fields.name("judged by", "computed reading with bands", known)


def read_computed(entry: Entry, names: Names, report: Report) -> ComputedReading | None:
    """One value that the kitchen works out."""
    fields = Fields(entry.value, f"computed reading {entry.key}", keys.COMPUTED, report, entry.line)
    formula = fields.name("formula", "computation", READINGS)
    unit = fields.word("unit", UNITS)
    computation = READINGS.get(formula)
    if computation and fields.has("unit") and unit != unit_named(computation.unit):
        fields.wrong(
            fields.line_of("unit"),
            f"the computation {formula} gives {sign(computation.unit)}, not {sign(unit)}.",
            f"Write unit: {computation.unit!r}.".replace("'", '"'),
        )
    _check_needs(fields, formula, computation.needs if computation else ())
    say = fields.text("say", empty_allowed=True)
    if say and "{value}" not in say:
        fields.wrong(
            fields.line_of("say"),
            "the sentence does not hold {value}.",
            'Write {value} where the number belongs, or say: "" to show nothing.',
        )
    part = ComputedReading(
        id=entry.key,
        means=fields.text("means"),
        formula=formula,
        unit=unit,
        say=say,
        bands=_bands(fields, entry.key, unit, -math.inf, math.inf),
        line=entry.line,
    )
    return part if fields.ok else None


def _check_needs(fields: Fields, formula: str, needs: tuple[str, ...]) -> None:
    if needs and fields.has("from") and set(fields.texts("from")) != set(needs):
        fields.wrong(
            fields.line_of("from"),
            f"the computation {formula} is worked out from other things.",
            f"Write from: [{', '.join(needs)}], or leave it out.",
        )


def _bands(fields: Fields, subject: str, unit: str, low: float, high: float) -> tuple[Band, ...]:
    bands: list[Band] = []
    for entry in fields.entries("bands"):
        if not check_name(entry, fields.where, fields.report):
            continue
        where = f"{fields.where}, band {entry.key}"
        inner = Fields(entry.value, where, keys.BAND, fields.report, entry.line)
        try:
            phrase = parse_interval(inner.text("is"), subject, unit)
        except NotAPhrase as fault:
            if inner.ok:
                inner.wrong(inner.line_of("is"), fault.what, fault.advice)
            continue
        bands.append(Band(id=entry.key, say=inner.text("say"), phrase=phrase))
    fault_found = band_fault(bands, low, high) if bands and fields.ok else None
    if fault_found:
        fields.wrong(fields.line_of("bands"), *fault_found)
    return tuple(bands)


def read_finding(entry: Entry, names: Names, report: Report) -> Finding | None:
    """One thing that rules may conclude."""
    fields = Fields(entry.value, f"finding {entry.key}", keys.FINDING, report, entry.line)
    calls_for = fields.name("calls for", "remedy", names.remedies)
    part = Finding(
        id=entry.key, means=fields.text("means"), calls_for=calls_for or None, line=entry.line
    )
    return part if fields.ok else None


def read_caution(entry: Entry, names: Names, report: Report) -> Caution | None:
    """One warning."""
    fields = Fields(entry.value, f"caution {entry.key}", keys.CAUTION, report, entry.line)
    part = Caution(
        id=entry.key,
        say=fields.text("say"),
        source=read_source(fields, names),
        line=entry.line,
    )
    return part if fields.ok else None


def scalar_text(entry: Entry, fields: Fields) -> str:
    """The text of an entry whose value is one word or sentence."""
    if isinstance(entry.value, Scalar):
        return " ".join(entry.value.text.split())
    return fields.text_of(entry.value, entry.key)
