"""Facts that a cook can tell in two places: they must be the same in both."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.kitchen.atmosphere import water_boils_at_c

from .book import Dough, Given
from .measures import shown
from .situation import Situation

THERMOMETER_ALLOWANCE_C = 3.0
"""How far a measured boil may lie from that of the elevation told: a kitchen thermometer and the
weather together (house rule). Farther off, one of the two is wrong."""

_FIELDS: dict[Given, str] = {
    "elevation": "kitchen.elevation_m",
    "flour measured": "batch.flour_measured",
    "minutes simmered": "batch.simmer_min",
    "minutes cooked": "batch.cook_min",
    "minutes to serving": "batch.serve_in_min",
    "yolks": "batch.yolks",
}


def told_twice(situation: Situation, dough: Dough) -> Iterator[tuple[str, str, str]]:
    """Field, what and advice for each fact that is told in two places and differs.

    Two readings agree if they are no farther apart than the reading can be measured in a kitchen.
    """
    told = _told(situation)
    for sign in dough.signs:
        answer = situation.signs.get(sign.id)
        form = told[sign.given_by] if sign.given_by else None
        if answer is not None and form is not None and answer != form:
            yield _differing(
                f"signs.{sign.id}", answer, str(form), _FIELDS[sign.given_by or "yolks"]
            )
    for reading in dough.readings:
        value = situation.readings.get(reading.id)
        form = told[reading.given_by] if reading.given_by else None
        if value is None or not isinstance(form, int | float):
            continue
        if abs(value - form) > reading.good_to:
            field = _FIELDS[reading.given_by or "yolks"]
            yield _differing(
                f"readings.{reading.id}",
                shown(value, reading.unit),
                shown(form, reading.unit),
                field,
            )
    yield from _boil_against_elevation(situation)


def _told(situation: Situation) -> dict[Given, str | float | None]:
    batch = situation.batch
    measured = batch.flour_measured
    return {
        "elevation": situation.kitchen.elevation_m,
        "flour measured": None if measured == "unknown" else measured,
        "minutes simmered": batch.simmer_min,
        "minutes cooked": batch.cook_min,
        "minutes to serving": batch.serve_in_min,
        "yolks": batch.yolks,
    }


def _differing(field: str, here: str, there: str, other: str) -> tuple[str, str, str]:
    return (
        field,
        f"{here} is told here and {there} as {other}",
        "tell it in one place, or the same in both.",
    )


def _boil_against_elevation(situation: Situation) -> Iterator[tuple[str, str, str]]:
    kitchen = situation.kitchen
    if kitchen.elevation_m is None or kitchen.boil_c is None:
        return
    expected = water_boils_at_c(kitchen.elevation_m)
    if abs(kitchen.boil_c - expected) > THERMOMETER_ALLOWANCE_C:
        yield (
            "kitchen.water_boils_at",
            f"{shown(kitchen.boil_c, 'degC')} does not fit an elevation of "
            f"{shown(kitchen.elevation_m, 'm')}, where water boils near {shown(expected, 'degC')}",
            "check the thermometer, or tell only one of the two.",
        )
