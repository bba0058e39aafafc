"""From the entries of a consultation to the situation it stands in: a pure function.

What counts is the last word on each thing. What a cook saw before "look again" (a new stage, or
something else wrong with the same batch) is kept in the casebook but is no longer in the pan, so
it is left out here; what a cook *remembers* (how the flour was measured) stays true. A remedy
makes old only what its entry in the book says it changes; those looks may be asked again.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from diagnose.kitchen.quantities import convert
from diagnose.knowledge.book import Dough, Given, Reading, Sign
from diagnose.knowledge.situation import Batch, Kitchen, Situation, Tried
from diagnose.knowledge.situations import INGREDIENTS

from .consultations import Consultation, Entry

QUESTIONED = ("sign", "reading", "not-looked")
"""The kinds of entry that answer a question: for one question the last of them counts."""

GIVEN_FIELDS: Mapping[Given, tuple[str, str]] = {
    "elevation": ("kitchen", "elevation_m"),
    "flour measured": ("batch", "flour_measured"),
    "minutes simmered": ("batch", "simmer_min"),
    "minutes cooked": ("batch", "cook_min"),
    "minutes to serving": ("batch", "serve_in_min"),
    "yolks": ("batch", "yolks"),
}
"""Where a question lives that the kitchen or batch form also answers: told once, kept once."""


def stage_of(consultation: Consultation) -> str | None:
    """The stage told last, or None when none was told yet."""
    return next((_text(e.value) for e in reversed(consultation.entries) if e.kind == "stage"), None)


def current(consultation: Consultation, dough: Dough) -> tuple[Entry, ...]:
    """The entries that still hold, in the order told; for each thing only the last word on it."""
    asked = questions(dough)
    lasting = {q.id for q in asked.values() if is_memory(q)}
    changes = {r.id: set(r.changes) for r in dough.remedies}
    last_look = max((e.number for e in consultation.entries if e.kind == "look-again"), default=0)
    held: dict[tuple[str, str], Entry] = {}
    for entry in consultation.entries:
        if entry.number < last_look and _passes_away(entry, lasting):
            continue
        if entry.kind == "tried" and isinstance(entry.value, dict):
            changed = changes.get(_text(entry.value.get("remedy")), set())
            if entry.value.get("result") in ("no-change", "worse"):
                same_look = _complained(held) if entry.value["result"] == "no-change" else set()
                for name in changed - same_look:
                    _forget(held, name, asked)
        thing = ("question" if entry.kind in QUESTIONED else entry.kind, entry.name)
        held.pop(thing, None)
        held[thing] = entry
    return tuple(sorted(held.values(), key=lambda e: e.number))


def _forget(
    held: dict[tuple[str, str], Entry], name: str, asked: Mapping[str, Sign | Reading]
) -> None:
    """Let a question be asked again, but not a measurement that this kitchen cannot make."""
    entry = held.get(("question", name))
    if entry is not None and (entry.kind != "not-looked" or isinstance(asked[name], Sign)):
        del held["question", name]


def _complained(held: Mapping[tuple[str, str], Entry]) -> set[str]:
    """The signs that the complaint told: "no change" says that they still look so."""
    found = [e.value for (kind, _), e in held.items() if kind == "complaint"]
    return {name for value in found if isinstance(value, dict) for name in value["told"]}


def questions(dough: Dough) -> dict[str, Sign | Reading]:
    """Everything a cook may be asked, by id."""
    asked: tuple[Sign | Reading, ...] = (*dough.signs, *dough.readings)
    return {q.id: q for q in asked}


def is_memory(question: Sign | Reading) -> bool:
    """Whether the answer is about what was done, and so outlives a new look into the pan."""
    return question.given_by is not None or question.effort == "remember"


def situation_of(consultation: Consultation, dough: Dough, now: datetime) -> Situation | None:
    """Everything told so far; None until a stage has been told.

    ``now`` shortens the minutes left until serving by the minutes gone since they were told.
    Answers that this book no longer knows are left out.
    """
    stage = stage_of(consultation)
    if stage is None or all(s.id != stage for s in dough.stages):
        return None
    asked = questions(dough)
    kitchen: dict[str, Any] = {}
    batch: dict[str, Any] = {}
    signs: dict[str, str] = {}
    readings: dict[str, float] = {}
    not_looked: set[str] = set()
    missing: set[str] = set()
    tried: list[Tried] = []
    earlier: list[Tried] = []
    last_look = max((e.number for e in consultation.entries if e.kind == "look-again"), default=0)
    held = current(consultation, dough)
    said_at = {e.name: e.number for e in held if e.kind in ("kitchen", "batch")}
    # Kitchen and batch first: questions about the same things are weighed against them.
    for entry in sorted(held, key=lambda e: e.kind not in ("kitchen", "batch")):
        if entry.kind == "kitchen" and entry.name in Kitchen.model_fields:
            kitchen[entry.name] = entry.value
        elif entry.kind == "batch" and entry.name in Batch.model_fields:
            batch[entry.name] = _remaining(entry, entry.value, now)
        elif entry.kind == "tried" and isinstance(entry.value, dict):
            (earlier if entry.number < last_look else tried).append(Tried(**entry.value))
        elif entry.kind == "missing" and entry.name in INGREDIENTS and entry.value:
            missing.add(entry.name)
        elif entry.kind == "not-looked" and entry.name in asked:
            not_looked.add(entry.name)
        elif entry.kind in ("sign", "reading") and entry.name in asked:
            question = asked[entry.name]
            answer = _answer(entry, question)
            if answer is None:
                continue
            if question.given_by is not None:
                part, field = GIVEN_FIELDS[question.given_by]
                into = kitchen if part == "kitchen" else batch
                # The form tells all its boxes every time; an empty one takes no answer back.
                if entry.number > said_at.get(field, 0) or into.get(field) in (None, "unknown"):
                    minutes_left = field == "serve_in_min"
                    into[field] = _remaining(entry, answer, now) if minutes_left else answer
            elif isinstance(answer, str):
                signs[entry.name] = answer
            else:
                readings[entry.name] = answer
    if batch.get("flour_measured") is None:
        batch.pop("flour_measured", None)
    return Situation(
        dough=dough.id,
        stage=stage,
        kitchen=Kitchen(**kitchen),
        batch=Batch(**batch),
        signs=signs,
        readings=readings,
        tried=tuple(tried),
        settled=tuple(earlier),
        missing=frozenset(missing),
        not_looked=frozenset(not_looked),
    )


def _passes_away(entry: Entry, lasting: set[str]) -> bool:
    # What was tried stays in the pan; how it went then says nothing about now (see ``settled``).
    return entry.kind in ("complaint", "timer") or (
        entry.kind in QUESTIONED and entry.name not in lasting
    )


def _answer(entry: Entry, question: Sign | Reading) -> str | float | None:
    if isinstance(question, Sign):
        return _text(entry.value) if any(a.id == entry.value for a in question.answers) else None
    if not isinstance(entry.value, dict):
        return None
    value, unit = entry.value["value"], entry.value["unit"]
    return value if unit == question.unit else convert(value, unit, question.unit)


def _remaining(entry: Entry, value: Any, now: datetime) -> Any:
    if entry.name != "serve_in_min" and entry.kind == "batch":
        return value
    if not isinstance(value, int | float):
        return value
    gone = int((now - entry.at).total_seconds() // 60)
    # Past the hour of serving there are no minutes left; there are never fewer than none.
    return max(0.0, float(value) - gone)


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def as_request(situation: Situation, dough: Dough) -> dict[str, Any]:
    """A situation as the machine face takes it."""
    units = {r.id: r.unit for r in dough.readings}
    kitchen = {
        "elevation_m": situation.kitchen.elevation_m,
        "water_boils_at": None
        if situation.kitchen.boil_c is None
        else {"value": situation.kitchen.boil_c, "unit": "degC"},
    }
    data: dict[str, Any] = {
        "dough": situation.dough,
        "stage": situation.stage,
        "kitchen": {k: v for k, v in kitchen.items() if v is not None},
        "batch": situation.batch.model_dump(exclude_none=True),
        "signs": dict(situation.signs),
        "readings": {k: {"value": v, "unit": units[k]} for k, v in situation.readings.items()},
        "tried": [t.model_dump(exclude_none=True) for t in situation.tried],
        "settled": [t.model_dump(exclude_none=True) for t in situation.settled],
        "missing": sorted(situation.missing),
        "not_looked": sorted(situation.not_looked),
    }
    return data
