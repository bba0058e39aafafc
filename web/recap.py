"""All that was told so far, in the cook's words, each with the page on which to change it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from casebook.consultations import JSON, Consultation, Entry
from diagnose.knowledge.book import Dough, Sign

from . import wording
from .setting_up import BOXES, HOUSE_AMOUNT, NOT_KNOWN
from .situation import current, questions
from .told import SOMETHING_ELSE


@dataclass(frozen=True, slots=True)
class Row:
    """One thing told."""

    what: str
    said: str
    change: str | None


def recap(consultation: Consultation, dough: Dough) -> tuple[list[Row], list[Row]]:
    """What holds now, and what was told before the cook looked again."""
    here = f"/c/{consultation.token}"
    held = current(consultation, dough)
    numbers = {e.number for e in held}
    last: dict[tuple[str, str], Entry] = {}
    for entry in consultation.entries:
        if entry.kind in ("sign", "reading", "tried") and entry.number not in numbers:
            last[entry.kind, entry.name] = entry
    now_known = {e.name for e in held}
    earlier = [e for e in last.values() if e.name not in now_known]
    rows = [row for entry in held for row in _rows(entry, dough, here)]
    batch = batch_row(held, here)
    return ([batch, *rows] if batch else rows), [
        row for entry in earlier for row in _rows(entry, dough, here)
    ]


def row_of(entry: Entry, dough: Dough) -> Row | None:
    """One entry in words; None for one that says nothing to a reader."""
    return next(iter(_rows(entry, dough, "")), None)


def _rows(entry: Entry, dough: Dough, here: str) -> list[Row]:
    value = entry.value
    if entry.kind == "kitchen" and entry.name == "place":
        return [Row("Kitchen", str(value), f"{here}/setup")]
    if entry.kind == "missing":
        return [Row("None left", entry.name, f"{here}/setup")] if value else []
    if entry.kind == "stage":
        title = next((s.title for s in dough.stages if s.id == value), str(value))
        return [Row("Stage", title, f"{here}/stage")]
    if entry.kind == "complaint" and isinstance(value, dict):
        says = {c.id: c.say for s in dough.stages if s.id == entry.name for c in s.complaints}
        says[SOMETHING_ELSE] = "Something else"
        return [Row("What is wrong", says.get(str(value["id"]), ""), f"{here}/complaint")]
    if entry.kind == "tried" and isinstance(value, dict):
        return [_tried_row(value)]
    question = questions(dough).get(entry.name)
    if question is None or entry.kind not in ("sign", "reading", "not-looked"):
        return []
    change = f"{here}/ask/{entry.name}"
    if entry.kind == "not-looked":
        return [Row(question.ask, "Not looked", change)]
    if isinstance(question, Sign):
        said = next((a.say for a in question.answers if a.id == value), str(value))
        return [Row(question.ask, said, change)]
    if isinstance(value, dict):
        return [Row(question.ask, wording.with_unit(value["value"], value["unit"]), change)]
    return []


def batch_row(held: Sequence[Entry], here: str) -> Row | None:
    """The batch in one line: what each box held, and what was understood."""
    said = {e.name: e.value for e in held if e.kind == "batch-said" and isinstance(e.value, dict)}
    parts = []
    for box in BOXES:
        value = said.get(box.name)
        if value is None or (box.name == "serve_in_min" and value["echo"] == NOT_KNOWN):
            continue
        words = value["text"] if value["echo"] == HOUSE_AMOUNT else value["echo"]
        parts.append(f"{box.label.lower()} {words}")
    measured = next((e.value for e in held if e.kind == "batch" and e.name == "flour_measured"), "")
    if measured in wording.FLOUR_MEASURED and measured != "unknown":
        parts.append(f"flour {wording.FLOUR_MEASURED[str(measured)].lower()}")
    house = any(value["echo"] == HOUSE_AMOUNT for value in said.values())
    words = "; ".join(parts) + (" (house amounts, not told)" if house else "")
    return Row("What went in", words, f"{here}/setup") if parts else None


def _tried_row(value: dict[str, JSON]) -> Row:
    name = str(value["remedy"]).replace("-", " ")
    said = wording.RESULTS.get(str(value["result"]), str(value["result"]))
    if value.get("added_g"):
        said += f", {value['added_g']} g added"
    return Row(f"Tried: {name}", said, None)
