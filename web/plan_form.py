"""The planner's form: what a cook writes in its boxes, as the request a program would make."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from diagnose.kitchen.quantities import NotAQuantity
from diagnose.planning.asking import Wanted

from . import amounts
from .forms import FieldProblem
from .kitchens import KITCHENS
from .plan_request import minutes_of, wanted_from

CHOICES: Mapping[str, Mapping[str, str]] = {
    "portion": {
        "small-plate": "Small plate, 6 to 8 pieces",
        "starter": "One-bite starter, 2 pieces",
        "plate": "Plate, 12 to 16 pieces",
    },
    "day": {"today": "Today", "later": "Another day"},
    "flour_measured": {
        "": "On a scale",
        "spooned": "By the cup, spooned in",
        "dipped": "By the cup, dipped",
        "sifted-first": "By the cup, sifted into it",
    },
    "flour_choice": {"": "The book's flour", "practice": "The practice of 7,000 ft"},
    "pan_is": {"rim": "across the rim", "base": "across the flat floor"},
    "support": {
        "": "A metal tray on a rack",
        "tray-on-shelf": "A tray on the shelf",
        "wood-or-box": "Wood, glass or in a box",
    },
    "milk": {"": "Not said", "whole": "Whole", "skim": "Skim or low-fat",
             "lactose-free": "Lactose-free"},
    "flour": {"": "Not said", "all-purpose": "All-purpose or plain", "bread": "Bread",
              "cake": "Cake", "wholewheat": "Wholewheat"},
}  # fmt: skip
FIELDS = (
    "guests", "portion", "kitchen", "elevation", "serve", "day", "flour_measured", "flour_choice",
    "pan", "pan_is", "pans", "cooks", "burners", "thickness", "support", "fridge", "milk", "flour",
    "yolk", "freezer", "garnishes",
)  # fmt: skip
LONGEST = 2_000
"""Letters that one box may hold."""
_CLOCK = re.compile(r"([0-9]{1,2})(?:[:.]?([0-9]{2}))? ?(am|pm)?", re.IGNORECASE)
_BOX_OF = {
    "elevation_m": "elevation", "serve_at": "serve", "minutes_to_serving": "serve",
    "pan_base_mm": "pan", "pan_rim_mm": "pan", "thickness_mm": "thickness", "fridge_c": "fridge",
    "yolk_g": "yolk",
}  # fmt: skip


def held(query: Mapping[str, str]) -> dict[str, str]:
    """What the boxes hold."""
    return {name: query.get(name, "").strip()[:LONGEST] for name in FIELDS}


def address(form: Mapping[str, str]) -> str:
    """The filled boxes as they stand in an address."""
    return urlencode({name: form[name] for name in FIELDS if form.get(name)})


def read(form: Mapping[str, str], now: datetime) -> tuple[Wanted | None, list[FieldProblem]]:
    """The batch that is wanted, or None and what is wrong, beside its box."""
    data: dict[str, Any] = {}
    problems: list[FieldProblem] = []

    def take(box: str, name: str, read_it: Callable[[str], Any]) -> None:
        if form[box]:
            try:
                data[name] = read_it(form[box])
            except NotAQuantity as refused:
                problems.append(FieldProblem(box, str(refused)))

    if not form["guests"]:
        problems.append(FieldProblem("guests", "How many guests? A number from 1 to 500."))
    for name in ("guests", "pans", "cooks", "burners"):
        take(name, name, whole)
    for name in ("portion", "flour_measured", "flour_choice", "support", "milk", "flour"):
        take(name, name, str)
    where = next((k for k in KITCHENS if k.id == form["kitchen"]), None)
    if where is not None and form["elevation"]:
        problems.append(
            FieldProblem("elevation", f"You chose {where.name} as well; empty this box or choose "
                         "another kitchen.")
        )  # fmt: skip
    elif where is not None:
        data["elevation_m"] = where.elevation_m
    take("elevation", "elevation_m", lambda text: amounts.metres(text).value)
    take("thickness", "thickness_mm", millimetres)
    take("fridge", "fridge_c", _in("degC"))
    take("yolk", "yolk_g", _in("g"))
    take("pan", "pan_base_mm" if form["pan_is"] == "base" else "pan_rim_mm", _in("mm", "cm"))
    data["freezer"] = form["freezer"] == "yes"
    take("garnishes", "garnishes", _garnishes)
    take("serve", "serve_at", clock)
    if "serve_at" in data and form["day"] != "later":
        left = minutes_left(data["serve_at"], now)
        if left < 0:
            problems.append(
                FieldProblem("serve", f"{data['serve_at']} is past for today; write a later hour, "
                             "or choose another day.")
            )  # fmt: skip
        else:
            data["minutes_to_serving"] = left
    if problems:
        return None, problems
    wanted, refused = wanted_from(data)
    return wanted, [FieldProblem(box_of(field), sentence) for field, sentence in refused]


def box_of(field: str) -> str:
    """The box of the form in which a field of the request is written."""
    name = field.partition(".")[0]
    return _BOX_OF.get(name, name)


def whole(text: str) -> int:
    """A whole number; ``NotAQuantity`` for anything else."""
    value = amounts.count(text).value
    if value != int(value):
        raise NotAQuantity(f'"{text}" is not a whole number.')
    return int(value)


def _in(unit: str, bare: str = "") -> Callable[[str], float]:
    def read_it(text: str) -> float:
        quantity = amounts.reading(text, bare or unit)
        return amounts.in_unit(quantity.value, quantity.unit, unit)

    return read_it


def millimetres(text: str) -> float:
    """A length in mm; a bare number is mm.

    >>> millimetres("1.2 cm")
    12.0
    """
    return _in("mm")(text)


def clock(text: str) -> str:
    """An hour of the day as 24 hours.

    >>> clock("19:30"), clock("7:30 pm"), clock("7 pm")
    ('19:30', '19:30', '19:00')
    """
    found = _CLOCK.fullmatch(text)
    if found is not None:
        hours, minutes, half = int(found[1]), int(found[2] or 0), (found[3] or "").lower()
        if half and 1 <= hours <= 12:
            hours = hours % 12 + (12 if half == "pm" else 0)
        elif half:
            hours = 99
        if hours < 24 and minutes < 60 and (found[2] or half):
            return f"{hours:02}:{minutes:02}"
    raise NotAQuantity(f'"{text}" is not an hour of the day; write it like 19:30 or 7:30 pm.')


def minutes_left(serve_at: str, now: datetime) -> int:
    """Minutes from now until this hour today, on this computer's clock; below zero once past."""
    here = now.astimezone()
    at = minutes_of(serve_at)
    assert at is not None
    return at - (here.hour * 60 + here.minute)


def _garnishes(text: str) -> list[dict[str, Any]]:
    found = []
    for line in filter(None, (line.strip() for line in text.splitlines())):
        parts = [part.strip() for part in line.split(",")]
        if len(parts) not in (4, 5):
            raise NotAQuantity(
                f'"{line}": give a name, minutes of work, minutes of waiting, minutes it keeps, '
                "and burner, oven or nothing, with commas between."
            )
        try:
            work, wait, keep = (round(amounts.minutes(part).value) for part in parts[1:4])
        except NotAQuantity as refused:
            raise NotAQuantity(f'"{line}": {refused}') from None
        found.append(
            {"name": parts[0], "active_min": work, "waiting_min": wait, "holds_min": keep,
             "needs": parts[4].lower() if len(parts) == 5 else "nothing"}
        )  # fmt: skip
    return found
