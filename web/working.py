"""Reading the boxes of a help, keeping what they held, and showing what follows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from casebook.consultations import JSON, Entry
from diagnose.kitchen.quantities import NotAQuantity
from diagnose.knowledge.book import Dough, HouseBatch
from diagnose.planning.formula import Amounts

from . import amounts
from .forms import FieldProblem
from .helps import ELEVATION, Box, Given, Help
from .told import Telling

ASKS = {"degC": "degrees", "g": "a weight", "mm": "a length", "min": "minutes"}


@dataclass(frozen=True, slots=True)
class Worked:
    """A help as a page shows it: what its boxes hold and what follows from them."""

    help: Help
    held: Mapping[str, str]
    said: tuple[str, ...]
    problem: str = ""


def read_help(
    each: Help, form: Mapping[str, str], dough: Dough, batch: Amounts
) -> tuple[list[Telling], list[FieldProblem]]:
    """What a help's form tells, or every mistake in it, beside its box."""
    given: dict[str, float | str] = {}
    problems: list[FieldProblem] = []
    for box in each.boxes:
        text = form.get(box.name, "")
        try:
            value = _read(box, text)
        except NotAQuantity as refused:
            problems.append(FieldProblem(field_of(each, box), str(refused)))
            continue
        if value is not None:
            given[box.name] = value
    if problems:
        return [], problems
    try:
        each.work(given, batch)
    except ValueError as refused:
        return [], [FieldProblem(field_of(each, each.boxes[0]), str(refused))]
    texts: dict[str, JSON] = {box.name: form.get(box.name, "") for box in each.boxes}
    told: list[Telling] = [("help", each.id, {"text": texts, "value": dict(given)})]
    for box in each.boxes:
        reading = next((r for r in dough.readings if r.id == box.reading), None)
        value = given.get(box.name)
        if reading is not None and isinstance(value, float | int) and box.unit == reading.unit:
            low, high = reading.possible
            if low <= value <= high:
                told.append(("reading", reading.id, {"value": value, "unit": reading.unit}))
    return told, []


def _read(box: Box, text: str) -> float | str | None:
    if box.choices:
        if text not in {name for name, _ in box.choices}:
            raise NotAQuantity("Choose one of those listed.")
        return text
    if not text:
        if box.may_be_empty:
            return None
        assert box.unit is not None
        raise NotAQuantity(f"{box.label}: give {ASKS[box.unit]}, like {_example(box)}.")
    assert box.unit is not None
    quantity = amounts.reading(text, box.unit)
    return amounts.in_unit(quantity.value, quantity.unit, box.unit)


def _example(box: Box) -> str:
    return box.usual or {"degC": "78 °C", "g": "900 g", "mm": "15 mm", "min": "6"}[box.unit or "g"]


def field_of(each: Help, box: Box) -> str:
    """The id of a box on a page that may hold several helps."""
    return f"{each.id}-{box.name}"


def worked(
    each: Help, held: Sequence[Entry], batch: Amounts, known: Mapping[str, str] | None = None
) -> Worked:
    """A help with what was told before, if anything; ``known`` are boxes a plan can fill."""
    entry = next((e for e in held if e.kind == "help" and e.name == each.id), None)
    usual = {box.name: box.usual for box in each.boxes} | dict(known or {})
    if entry is None or not isinstance(entry.value, dict):
        return Worked(each, usual, ())
    texts, value = entry.value["text"], entry.value["value"]
    assert isinstance(texts, dict)
    assert isinstance(value, dict)
    given: Given = {
        **{name: each_ for name, each_ in value.items() if isinstance(each_, int | float | str)},
        **_height(held),
    }
    try:
        said = tuple(each.work(given, batch))
    except ValueError as refused:
        return Worked(each, {k: str(v) for k, v in texts.items()}, (), str(refused))
    return Worked(each, {k: str(v) for k, v in texts.items()}, said)


def _height(held: Sequence[Entry]) -> dict[str, float]:
    """The kitchen's elevation, where it was told: higher up a slab chills more slowly."""
    told = next((e.value for e in held if (e.kind, e.name) == ("kitchen", "elevation_m")), None)
    return {ELEVATION: float(told)} if isinstance(told, int | float) else {}


def batch_of(held: Sequence[Entry], house: HouseBatch) -> Amounts:
    """The batch in hand; what was not told is in house proportion."""
    told = {e.name: e.value for e in held if e.kind == "batch" and isinstance(e.value, int | float)}
    milk = told.get("milk_g")
    scale = float(milk) / house.milk_g if isinstance(milk, int | float) and milk > 0 else 1.0

    def amount(name: str, usual: float) -> float:
        value = told.get(name)
        return float(value) if isinstance(value, int | float) else usual * scale

    return Amounts(
        amount("milk_g", house.milk_g),
        amount("flour_g", house.flour_g),
        amount("salt_g", house.salt_g),
        amount("yolks", house.yolks),
        amount("cheese_g", house.cheese_g),
        amount("butter_g", house.butter_g),
    )
