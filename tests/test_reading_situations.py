"""What a cook told, in the shape of the machine face: read, or refused field by field."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from diagnose.kitchen.quantities import convert
from diagnose.knowledge.book import Book
from diagnose.knowledge.loading import load_book
from diagnose.knowledge.situation import Situation
from diagnose.knowledge.situations import POSSIBLE, read_situation

BOOKS = Path(__file__).parent / "books"


@pytest.fixture(scope="module")
def book() -> Book:
    return load_book(BOOKS)


def told(**parts: Any) -> dict[str, Any]:
    return {"dough": "small-paste", "stage": "cook-paste", **parts}


def read(data: object, book: Book) -> Situation:
    situation, problems = read_situation(data, book)
    assert situation is not None, [str(problem) for problem in problems]
    assert problems == []
    return situation


def refused(data: object, book: Book) -> list[str]:
    situation, problems = read_situation(data, book)
    assert situation is None
    assert problems
    for problem in problems:
        assert problem.where
        assert problem.what
        assert (problem.file, problem.line) == ("", 0)
    return [str(problem) for problem in problems]


def test_a_whole_situation_is_read(book: Book) -> None:
    situation = read(
        told(
            kitchen={"elevation_m": 2240},
            batch={
                "milk_g": 500, "flour_g": 100, "flour_measured": "weighed", "salt_g": 4,
                "yolks": 2, "cheese_g": 45, "butter_g": 40, "simmer_min": 6, "cook_min": 2,
                "serve_in_min": 150,
            },
            signs={"paste-body": "slumps", "burnt-smell": "no"},
            readings={"paste-temperature": {"value": 172.4, "unit": "degF"}},
            tried=[{"remedy": "add-flour", "result": "no-change", "added_g": 8}],
            not_looked=["minutes-cooked"],
        ),
        book,
    )  # fmt: skip
    assert situation.kitchen.elevation_m == 2240
    assert situation.batch.serve_in_min == 150
    assert situation.signs == {"paste-body": "slumps", "burnt-smell": "no"}
    # 172.4 °F is 78 °C exactly, by the definition of the scale.
    assert situation.readings == {"paste-temperature": 78.0}
    assert situation.tried[0].added_g == 8
    assert situation.not_looked == {"minutes-cooked"}


def test_what_is_not_told_is_not_known(book: Book) -> None:
    situation = read(told(), book)
    assert situation.batch.milk_g is None
    assert situation.batch.flour_measured == "unknown"
    assert situation.kitchen.elevation_m is None
    assert situation.kitchen.boil_c is None
    assert (situation.signs, situation.readings, situation.tried) == ({}, {}, ())


def test_a_measured_boil_is_taken_in_either_scale(book: Book) -> None:
    boil = {"value": 203, "unit": "degF"}
    assert read(told(kitchen={"water_boils_at": boil}), book).kitchen.boil_c == 95.0


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (None, "situation: nothing is not a situation; an object like"),
        ([], "situation: a list is not a situation; an object like"),
        (5, "situation: 5 is not a situation; an object like"),
        ({}, "dough: the dough is missing; known are small-paste and ten-minutes."),
        (
            {"dough": "small-pasta", "stage": "cook-paste"},
            'dough: there is no dough "small-pasta"; the nearest known dough is "small-paste".',
        ),
        ({"dough": "small-paste"}, "stage: the stage is missing; known are cook-paste and temper."),
        (
            told(stage="cook-past"),
            'stage: there is no stage "cook-past"; the nearest known stage is "cook-paste".',
        ),
        (told(stage=7), 'stage: there is no stage "7"; known are cook-paste and temper.'),
        (told(sings={}), 'sings: there is no field "sings"; the nearest known field is "signs".'),
        (
            told(batch={"milk": 500}),
            'batch.milk: there is no field "milk"; the nearest known field is "milk_g".',
        ),
        (told(batch=[]), "batch: a list is not an object; an object in { } is accepted."),
        (
            told(batch={"milk_g": 5}),
            "batch.milk_g: 5 is not possible; a number from 50 to 20000 g is accepted.",
        ),
        (
            told(batch={"milk_g": "500"}),
            'batch.milk_g: "500" is text; a number from 50 to 20000 g is accepted, without quotes.',
        ),
        (
            told(batch={"milk_g": True}),
            "batch.milk_g: true is not a number; a number from 50 to 20000 g is accepted.",
        ),
        (
            told(batch={"milk_g": None}),
            "batch.milk_g: nothing is told; leave it out if it is not known; a number from 50",
        ),
        (
            told(batch={"milk_g": math.nan}),
            "batch.milk_g: not a number is not possible; a number from 50 to 20000 g",
        ),
        (
            told(batch={"milk_g": math.inf}),
            "batch.milk_g: a number without end is not possible; a number from 50 to 20000 g",
        ),
        (
            told(batch={"milk_g": 10**400}),
            "batch.milk_g: a number without end is not possible; a number from 50 to 20000 g",
        ),
        (
            told(batch={"flour_measured": "scooped"}),
            'batch.flour_measured: "scooped" is not accepted; give weighed, spooned, dipped, '
            "sifted-first, sifted-after or unknown.",
        ),
        (
            told(kitchen={"elevation_m": 9000}),
            "kitchen.elevation_m: 9000 is not possible; a number from -430 to 3500 m is accepted.",
        ),
        (
            told(kitchen={"water_boils_at": {"value": 230, "unit": "degF"}}),
            "kitchen.water_boils_at: 230 degF is not possible; a number from 190.94 to 214.7 degF",
        ),
        (
            told(signs={"paste-bod": "slumps"}),
            'signs.paste-bod: there is no sign "paste-bod"; the nearest known sign is '
            '"paste-body".',
        ),
        (
            told(signs={"paste-body": "slump"}),
            'signs.paste-body: there is no answer "slump" to paste-body; the answers are pours, '
            'slumps and one-mass, and the nearest is "slumps".',
        ),
        (
            told(signs={"paste-body": "unknown"}),
            'signs.paste-body: "unknown" is not an answer to paste-body; leave it out, or list '
            '"paste-body" in not_looked.',
        ),
        (
            told(signs={"paste-temperature": "hot"}),
            'signs.paste-temperature: "paste-temperature" is a reading; tell it under readings.',
        ),
        (
            told(readings={"paste-body": {"value": 1, "unit": "g"}}),
            'readings.paste-body: "paste-body" is a sign; tell it under signs.',
        ),
        (
            told(readings={"paste-temperature": {"value": 300, "unit": "degF"}}),
            "readings.paste-temperature: 300 degF is not possible; a number from 32 to 221 degF",
        ),
        (
            told(readings={"paste-temperature": {"value": 300, "unit": "degC"}}),
            "readings.paste-temperature: 300 degC is not possible; a number from 0 to 105 degC",
        ),
        (
            told(readings={"paste-temperature": {"value": 78, "unit": "K"}}),
            'readings.paste-temperature.unit: the unit "K" does not fit; accepted: degC or degF.',
        ),
        (
            told(readings={"paste-temperature": {"value": 78}}),
            "readings.paste-temperature.unit: no unit is told; accepted: degC or degF.",
        ),
        (
            told(readings={"paste-temperature": 78}),
            "readings.paste-temperature: 78 is not a value with its unit; "
            '{"value": 0, "unit": "degC"} is accepted.',
        ),
        (
            told(readings={"paste-temperature": {"value": "78", "unit": "degC"}}),
            'readings.paste-temperature.value: "78" is text; a number from 0 to 105 degC',
        ),
        (
            told(tried=[{"remedy": "add-flower", "result": "worked"}]),
            'tried[0].remedy: there is no remedy "add-flower"; the nearest known remedy is '
            '"add-flour".',
        ),
        (
            told(tried=[{"remedy": "add-flour", "result": "helped"}]),
            'tried[0].result: "helped" is not accepted; give worked, no-change, worse or cannot.',
        ),
        (
            told(tried=[{"remedy": "add-flour"}]),
            "tried[0].result: no result is told; give worked, no-change, worse or cannot.",
        ),
        (told(tried={}), "tried: an object is not a list; a list in [ ] is accepted."),
        (
            told(not_looked=["paste-bodies"]),
            'not_looked[0]: there is no sign or reading "paste-bodies"; the nearest known sign or '
            'reading is "paste-body".',
        ),
    ],
)
def test_each_mistake_names_the_field_the_value_and_what_would_be_accepted(
    data: object, sentence: str, book: Book
) -> None:
    said = refused(data, book)
    assert len(said) == 1
    assert said[0].startswith(sentence)
    assert said[0].endswith(".")


def test_all_mistakes_are_reported_at_once(book: Book) -> None:
    said = refused(
        told(
            stage="nowhere",
            kitchen={"elevation_m": -1000},
            batch={"milk_g": 0, "yolks": "two"},
            signs={"paste-body": "firm"},
            readings={"paste-temperature": {"value": -40, "unit": "degC"}},
            tried=[{"remedy": "pray", "result": "worked"}],
            not_looked=["weather"],
        ),
        book,
    )
    assert [sentence.split(":")[0] for sentence in said] == [
        "stage", "kitchen.elevation_m", "batch.milk_g", "batch.yolks", "signs.paste-body",
        "readings.paste-temperature", "tried[0].remedy", "not_looked[0]",
    ]  # fmt: skip


def test_the_range_is_said_in_the_unit_the_cook_used_and_its_ends_are_accepted(book: Book) -> None:
    for unit in ("min", "h"):
        said = refused(told(readings={"minutes-cooked": {"value": 1e6, "unit": unit}}), book)[0]
        low, high = (float(word) for word in said.split("from ")[1].split(" is")[0].split()[0:3:2])
        assert convert(high, unit, "min") == pytest.approx(240)
        for value in (low, high):
            read(told(readings={"minutes-cooked": {"value": value, "unit": unit}}), book)


@pytest.mark.parametrize("name", sorted(POSSIBLE))
def test_the_ends_of_every_possible_range_are_accepted_and_nothing_beyond(
    name: str, book: Book
) -> None:
    low, high, _ = POSSIBLE[name]

    def situation(value: float) -> dict[str, Any]:
        if name == "elevation_m":
            return told(kitchen={name: value})
        if name == "added_g":
            return told(tried=[{"remedy": "add-flour", "result": "worse", name: value}])
        return told(batch={name: value})

    for value in (low, high):
        read(situation(value), book)
    for value in (low - 1, high + 1):
        assert f"{value:.10g} is not possible" in refused(situation(value), book)[0]


@pytest.mark.parametrize(
    "parts",
    [
        {"batch": {"flour_measured": "dipped"}, "signs": {"flour-measured": "weighed"}},
        {"batch": {"cook_min": 2}, "readings": {"minutes-cooked": {"value": 9, "unit": "min"}}},
        {"kitchen": {"elevation_m": 2310, "water_boils_at": {"value": 100, "unit": "degC"}}},
        {"signs": {"paste-body": "slumps"}, "not_looked": ["paste-body"]},
    ],
)
def test_a_fact_told_twice_and_differently_is_refused(parts: dict[str, Any], book: Book) -> None:
    assert len(refused(told(**parts), book)) == 1


@pytest.mark.parametrize(
    "parts",
    [
        {"batch": {"flour_measured": "dipped"}, "signs": {"flour-measured": "dipped"}},
        {"batch": {"flour_measured": "unknown"}, "signs": {"flour-measured": "weighed"}},
        {"batch": {"cook_min": 2}, "readings": {"minutes-cooked": {"value": 2.5, "unit": "min"}}},
        {"kitchen": {"elevation_m": 2310, "water_boils_at": {"value": 92, "unit": "degC"}}},
    ],
)
def test_a_fact_told_twice_alike_is_read(parts: dict[str, Any], book: Book) -> None:
    read(told(**parts), book)


def test_numbers_that_cannot_be_together_are_refused(book: Book) -> None:
    """Eight hours of open boiling drive off more water than half a litre of milk holds."""
    batch = {"milk_g": 500, "flour_g": 100, "simmer_min": 240, "cook_min": 240}
    said = refused(told(batch=batch), book)
    assert len(said) == 1
    assert "cannot have left this paste" in said[0]


def test_a_flood_is_cut_short(book: Book) -> None:
    flood = {f"sign-{n}": "x" * 1000 for n in range(100_000)}
    said = refused(told(signs=flood, readings=flood, not_looked=list(flood)), book)
    assert len(said) <= 50
    assert all(len(sentence) < 600 for sentence in said)


def test_nothing_unprintable_is_said_back(book: Book) -> None:
    said = refused(told(signs={"\ud800\x1b[31m": "a\nb"}, stage="\x00"), book)
    assert all(sentence.isprintable() for sentence in said)
    assert all(sentence.encode("utf-8") for sentence in said)


def test_one_dough_can_stand_for_a_book(book: Book) -> None:
    dough = book.dough("small-paste")
    assert dough is not None
    assert read_situation(told(), dough)[0] == read(told(), book)
