"""The kitchen and batch form: what its boxes hold, and what a cook's text in them tells.

Everything is read by the rules for quantities as cooks write them, and judged by the same reader
as the machine face, so that a number is refused here and there in the same words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from casebook.consultations import JSON, Entry
from diagnose.kitchen.quantities import NotAQuantity
from diagnose.knowledge.book import Book, Dough, HouseBatch
from diagnose.knowledge.situations import INGREDIENTS, read_situation

from . import amounts
from .forms import FieldProblem, Fields
from .kitchens import KITCHENS, ROUGH_PLACES
from .told import Telling
from .wording import FLOUR_MEASURED, number, thousands


@dataclass(frozen=True, slots=True)
class Box:
    """One box of the batch: its name is the batch field it tells."""

    name: str
    label: str
    hint: str
    read: Callable[[str], amounts.Understood]


def _of(ingredient: str) -> Callable[[str], amounts.Understood]:
    def read(text: str) -> amounts.Understood:
        return amounts.grams(text, ingredient)

    return read


BOXES = (
    Box("milk_g", "Milk", "", _of("milk")),
    Box("flour_g", "Flour", "In cups, say below how you measured", _of("flour")),
    Box("yolks", "Egg yolks", "", amounts.count),
    Box("cheese_g", "Hard cheese", "By weight: a grated cup can be anything", _of("cheese")),
    Box("butter_g", "Butter", "", _of("butter")),
    Box("serve_in_min", "Time until you serve", "Like 45 min or 2 h 30 min; empty if it can wait",
        amounts.minutes),
)  # fmt: skip

HOUSE_AMOUNT = "the house amount, not told"
NOT_KNOWN = "not known"
"""What the echo of a box says when there is no number to repeat."""

_HOUSE_BOXES = ("milk_g", "flour_g", "yolks", "cheese_g", "butter_g")


def house_text(house: HouseBatch) -> dict[str, str]:
    """The house amounts as they stand in the boxes."""
    return {
        name: number(value) if name == "yolks" else f"{number(value)} g"
        for name in _HOUSE_BOXES
        for value in [getattr(house, name)]
    }


def house_in_words(house: HouseBatch) -> str:
    """The house batch in one line."""
    text = house_text(house)
    return (
        f"milk {text['milk_g']}, flour {text['flour_g']}, {text['yolks']} yolks, "
        f"cheese {text['cheese_g']}, butter {text['butter_g']}"
    )


def empty_form(dough: Dough) -> dict[str, str]:
    """What the boxes hold before anything is told."""
    return {
        **dict.fromkeys(("elevation", "boil", "rough", "serve_in_min"), ""),
        "flour_measured": "unknown",
        **house_text(dough.house_batch),
        **{f"none-{name}": "" for name in INGREDIENTS},
    }


def form_of(entries: tuple[Entry, ...], dough: Dough) -> dict[str, str]:
    """What the boxes hold when a kitchen and a batch were told before: the cook's own text."""
    form = empty_form(dough)
    measured = {s.id for s in dough.signs if s.given_by == "flour measured"}
    for entry in entries:
        if entry.kind == "sign" and entry.name in measured:
            form["flour_measured"] = str(entry.value)
        elif entry.kind == "batch-said" and isinstance(entry.value, dict):
            form[entry.name] = str(entry.value["text"])
        elif entry.kind == "kitchen" and entry.value is not None:
            if entry.name == "elevation_m":
                form["elevation"] = f"{number(_float(entry.value))} m"
            elif entry.name == "boil_c":
                form["boil"] = f"{number(_float(entry.value))} °C"
        elif entry.kind == "missing":
            form[f"none-{entry.name}"] = "yes" if entry.value else ""
        elif entry.kind == "batch" and entry.name == "flour_measured":
            form["flour_measured"] = str(entry.value or "unknown")
    rough = {e.name: e.value for e in entries if e.kind == "kitchen"}.get("rough")
    if isinstance(rough, str) and rough:
        form.update(rough=rough, elevation="")
    return form


def kept(form: Mapping[str, str], dough: Dough) -> dict[str, str]:
    """The boxes of a refused form as the cook filled them."""
    # A box to tick is not sent when it is empty, so it is never taken from what was printed.
    return {
        name: form.get(name, "" if name.startswith("none-") else value)
        for name, value in empty_form(dough).items()
    }


def read_setup(form: Fields, book: Book, dough: Dough) -> tuple[list[Telling], list[FieldProblem]]:
    """What a kitchen and batch form tells, and every mistake in it.

    A batch whose boxes stand as they were printed is not told: the cook may never have opened
    them, so the amounts stay assumed and the advice says so.
    """
    told, problems = _read_kitchen(form)
    batch, more = _read_batch(form, dough)
    batch += [("missing", name, bool(form[f"none-{name}"])) for name in INGREDIENTS]
    problems += more
    if not problems:
        problems = _judged(told + batch, book, dough)
    return told + batch, problems


def _read_kitchen(form: Fields) -> tuple[list[Telling], list[FieldProblem]]:
    given = [name for name in ("elevation", "boil", "rough") if form[name]]
    if form["rough"] == "unknown" and len(given) > 1:
        given.remove("rough")
    for kitchen in KITCHENS:
        if form["kitchen"] == kitchen.id:
            if given and given != ["rough"]:
                sentence = (
                    f"You tapped {kitchen.name} and filled in this box as well; empty the box, "
                    "or use the button below it."
                )
                return [], [FieldProblem(given[0], sentence)]
            place = f"{kitchen.name}, {thousands(kitchen.elevation_m)} m"
            return _kitchen(place, elevation_m=kitchen.elevation_m), []
    if not given:
        return [], [
            FieldProblem(
                "elevation",
                "Say where you cook: an elevation, a measured boiling point, or a rough guess.",
            )
        ]
    if len(given) > 1:
        return [], [
            FieldProblem(
                given[1],
                "Only one way of saying where you cook is accepted; empty the other boxes, and "
                'choose "I do not know" in place of a rough guess.',
            )
        ]
    try:
        if form["elevation"]:
            metres = amounts.metres(form["elevation"])
            return _kitchen(metres.echo, elevation_m=metres.value), []
        if form["boil"]:
            boil = amounts.celsius(form["boil"])
            return _kitchen(f"water boils at {boil.echo}, measured", boil_c=boil.value), []
    except NotAQuantity as refused:
        return [], [FieldProblem(given[0], str(refused))]
    for rough in ROUGH_PLACES:
        if form["rough"] == rough.id:
            place = f"{rough.say}: a rough guess, taken as {thousands(rough.elevation_m)} m"
            return _kitchen(place, elevation_m=rough.elevation_m, rough=rough.id), []
    if form["rough"] == "unknown":
        return _kitchen("not known", rough="unknown"), []
    return [], [FieldProblem("rough", "Choose one of the places listed.")]


def _kitchen(
    place: str,
    *,
    elevation_m: float | None = None,
    boil_c: float | None = None,
    rough: str | None = None,
) -> list[Telling]:
    # All four every time, so that a kitchen told anew leaves nothing of the old one.
    return [
        ("kitchen", "place", place),
        ("kitchen", "elevation_m", elevation_m),
        ("kitchen", "boil_c", boil_c),
        ("kitchen", "rough", rough),
    ]


def _read_batch(form: Fields, dough: Dough) -> tuple[list[Telling], list[FieldProblem]]:
    told: list[Telling] = []
    problems: list[FieldProblem] = []
    house = house_text(dough.house_batch)
    untouched = all(form.get(name, text) == text for name, text in house.items())
    for box in BOXES:
        text = form.get(box.name, house.get(box.name, ""))
        if untouched and box.name in house:
            text, value, echo = house[box.name], None, HOUSE_AMOUNT
        elif not text:
            value, echo = None, NOT_KNOWN
        else:
            try:
                understood = box.read(text)
            except NotAQuantity as refused:
                problems.append(FieldProblem(box.name, str(refused)))
                continue
            value, echo = understood.value, understood.echo
        told.append(("batch", box.name, value))
        told.append(("batch-said", box.name, {"text": text, "echo": echo}))
    measured = form.get("flour_measured", "unknown") or "unknown"
    if measured in FLOUR_MEASURED:
        told.append(("batch", "flour_measured", measured))
    else:
        problems.append(FieldProblem("flour_measured", "Choose one of the ways listed."))
    return told, problems


def _judged(told: list[Telling], book: Book, dough: Dough) -> list[FieldProblem]:
    """The same judgement as the machine face gives, beside the box it is about."""
    data = as_request(told, dough)
    _, problems = read_situation(data, book)
    boxes = {"kitchen.elevation_m": "elevation", "kitchen.water_boils_at": "boil"}
    found = []
    for problem in problems:
        box = boxes.get(problem.where, problem.where.rpartition(".")[2])
        name = box if box in empty_form(dough) else "elevation"
        sentence = str(problem).removeprefix(f"{problem.where}: ")
        found.append(FieldProblem(name, sentence[:1].upper() + sentence[1:]))
    return found


def as_request(told: list[Telling], dough: Dough) -> dict[str, Any]:
    """Kitchen and batch as the machine face takes them, at the dough's first stage."""
    kitchen: dict[str, JSON] = {}
    batch: dict[str, JSON] = {}
    for kind, name, value in told:
        if value is None:
            continue
        if kind == "kitchen" and name == "elevation_m":
            kitchen[name] = value
        elif kind == "kitchen" and name == "boil_c":
            kitchen["water_boils_at"] = {"value": value, "unit": "degC"}
        elif kind == "batch":
            batch[name] = value
    return {"dough": dough.id, "stage": dough.stages[0].id, "kitchen": kitchen, "batch": batch}


def _float(value: JSON) -> float:
    assert isinstance(value, int | float), "kitchen numbers are written by this module alone"
    return float(value)
