"""Reading a situation: what a cook told, in the shape the machine face takes, with every mistake.

Nothing is guessed, rounded or clamped. Text is not taken for a number, nor a number for text; what
is not known is left out, and "I did not look" is listed in ``not_looked``. A fact that is told in
two places must be the same in both.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import get_args

from diagnose.kitchen.atmosphere import (
    HIGHEST_BOIL_C,
    HIGHEST_M,
    LOWEST_BOIL_C,
    LOWEST_M,
)
from diagnose.kitchen.paste import contradictions

from .book import Book, Dough, Reading
from .facts import kitchen_state
from .problems import Problem, listed, nearest, quoted
from .request import Request, first, in_words, inside, said
from .situation import Batch, FlourMeasured, Kitchen, Result, Situation, Tried
from .told_twice import told_twice

INGREDIENTS = ("milk", "flour", "salt", "yolks", "cheese", "butter")
"""What a cook may have none left of."""
FLOUR_MEASURED: tuple[FlourMeasured, ...] = get_args(FlourMeasured)
RESULTS: tuple[Result, ...] = get_args(Result)

POSSIBLE: Mapping[str, tuple[float, float, str]] = {
    # Lowest, highest and unit of a number that is believed. House rules: from half an egg's worth
    # of dough to what one cook can stir, and no batch older than two days.
    "milk_g": (50, 20_000, "g"),
    "flour_g": (5, 10_000, "g"),
    "salt_g": (0, 1_000, "g"),
    "yolks": (0, 200, "yolks"),
    "cheese_g": (0, 10_000, "g"),
    "butter_g": (0, 10_000, "g"),
    "simmer_min": (0, 240, "minutes"),
    "cook_min": (0, 240, "minutes"),
    "serve_in_min": (0, 2_880, "minutes"),
    "added_g": (0, 20_000, "g"),
    # The range over which the boil was compared with tables.
    "elevation_m": (LOWEST_M, HIGHEST_M, "m"),
}
_BOIL_C = (math.floor(LOWEST_BOIL_C * 10) / 10, math.ceil(HIGHEST_BOIL_C * 10) / 10)

_KEYS = (
    "dough", "stage", "kitchen", "batch", "signs", "readings", "tried", "settled", "missing",
    "not_looked",
)  # fmt: skip
_KITCHEN_KEYS = ("elevation_m", "water_boils_at")
_BATCH_KEYS = (
    "milk_g", "flour_g", "flour_measured", "salt_g", "yolks", "cheese_g", "butter_g",
    "simmer_min", "cook_min", "serve_in_min",
)  # fmt: skip
_TRIED_KEYS = ("remedy", "result", "added_g")


def read_situation(data: object, book: Dough | Book) -> tuple[Situation | None, list[Problem]]:
    """A situation, or None and every mistake in it, one sentence each.

    ``data`` is what a JSON reader made of a request. Any value at all gives one or the other. The
    ``where`` of a problem is the field, like ``readings.paste-temperature``.
    """
    reader = _Reader()
    dough = reader.dough(data, book)
    if dough is None or not isinstance(data, Mapping):
        return None, reader.problems
    situation = _situation(reader, data, dough)
    problems = reader.problems
    if not problems:
        problems = [
            Problem("", 0, field, what, advice)
            for field, what, advice in told_twice(situation, dough)
        ]
    if not problems:
        sentences = contradictions(kitchen_state(situation, dough))
        problems = [Problem("", 0, "batch", sentence, "") for sentence in sentences]
    return (None if problems else situation), problems


def _situation(reader: _Reader, data: Mapping[object, object], dough: Dough) -> Situation:
    reader.check_keys("", data, _KEYS)
    stages = [stage.id for stage in dough.stages]
    kitchen = reader.mapping(data, "kitchen", _KITCHEN_KEYS)
    batch = reader.mapping(data, "batch", _BATCH_KEYS)
    signs = {sign.id: [answer.id for answer in sign.answers] for sign in dough.signs}
    readings = {reading.id: reading for reading in dough.readings}
    askable = (*signs, *readings)
    return Situation(
        dough=dough.id,
        stage=reader.required(data, "stage", "stage", stages),
        kitchen=Kitchen(
            elevation_m=reader.believed(kitchen, "kitchen", "elevation_m"),
            boil_c=reader.boil(kitchen),
        ),
        batch=Batch(
            milk_g=reader.believed(batch, "batch", "milk_g"),
            flour_g=reader.believed(batch, "batch", "flour_g"),
            flour_measured=reader.word(batch, "batch", "flour_measured", FLOUR_MEASURED)
            or "unknown",
            salt_g=reader.believed(batch, "batch", "salt_g"),
            yolks=reader.believed(batch, "batch", "yolks"),
            cheese_g=reader.believed(batch, "batch", "cheese_g"),
            butter_g=reader.believed(batch, "batch", "butter_g"),
            simmer_min=reader.believed(batch, "batch", "simmer_min"),
            cook_min=reader.believed(batch, "batch", "cook_min"),
            serve_in_min=reader.believed(batch, "batch", "serve_in_min"),
        ),
        signs=reader.signs(data, signs, readings),
        readings=reader.readings(data, readings, signs),
        tried=reader.tried(data, "tried", dough),
        settled=reader.tried(data, "settled", dough),
        missing=reader.missing(data),
        not_looked=reader.not_looked(data, askable),
    )


class _Reader(Request):
    """What is particular to a situation."""

    def dough(self, data: object, book: Dough | Book) -> Dough | None:
        doughs = book.doughs if isinstance(book, Book) else (book,)
        if not isinstance(data, Mapping):
            self.wrong(
                "situation", f"{said(data)} is not a situation",
                'an object like {"dough": …, "stage": …, "signs": …} is accepted.',
            )  # fmt: skip
            return None
        name = self.required(data, "dough", "dough", [dough.id for dough in doughs])
        return next((dough for dough in doughs if dough.id == name), None)

    def believed(self, data: Mapping[object, object], field: str, key: str) -> float | None:
        return self.number(data, field, key, POSSIBLE[key])

    def boil(self, kitchen: Mapping[object, object]) -> float | None:
        if "water_boils_at" not in kitchen:
            return None
        field = "kitchen.water_boils_at"
        return self.measured(kitchen["water_boils_at"], field, "degC", _BOIL_C)

    def signs(
        self,
        data: Mapping[object, object],
        known: Mapping[str, Sequence[str]],
        readings: Mapping[str, Reading],
    ) -> dict[str, str]:
        found: dict[str, str] = {}
        told = self.mapping(data, "signs")
        for key in first(told):
            field, value = inside("signs", key), told[key]
            if not isinstance(key, str) or key not in known:
                if key in readings:
                    self.wrong(field, f"{quoted(key)} is a reading", "tell it under readings.")
                else:
                    self.unknown(field, "sign", key, known)
            elif isinstance(value, str) and value in known[key]:
                found[key] = value
            else:
                self._not_an_answer(field, key, value, known[key])
        return found

    def _not_an_answer(self, field: str, key: str, value: object, answers: Sequence[str]) -> None:
        if value is None or value in ("unknown", "not-looked", "not looked"):
            what = f"{said(value)} is not an answer to {key}"
            self.wrong(field, what, f'leave it out, or list "{key}" in not_looked.')
            return
        close = nearest(value, answers) if isinstance(value, str) else None
        hint = f', and the nearest is "{close}"' if close else ""
        self.wrong(
            field,
            f"there is no answer {said(value)} to {key}",
            f"the answers are {listed(answers)}{hint}.",
        )

    def readings(
        self,
        data: Mapping[object, object],
        known: Mapping[str, Reading],
        signs: Collection[str],
    ) -> dict[str, float]:
        found: dict[str, float] = {}
        told = self.mapping(data, "readings")
        for key in first(told):
            field = inside("readings", key)
            if isinstance(key, str) and key in known:
                reading = known[key]
                value = self.measured(told[key], field, reading.unit, reading.possible)
                if value is not None:
                    found[key] = value
            elif key in signs:
                self.wrong(field, f"{quoted(key)} is a sign", "tell it under signs.")
            else:
                self.unknown(field, "reading", key, known)
        return found

    def tried(self, data: Mapping[object, object], key: str, dough: Dough) -> tuple[Tried, ...]:
        remedies = [remedy.id for remedy in dough.remedies]
        found: list[Tried] = []
        for place, item in enumerate(self.items(data, key)):
            field = f"{key}[{place}]"
            if not isinstance(item, Mapping):
                self.wrong(
                    field,
                    f"{said(item)} is not a remedy that was tried",
                    'an object like {"remedy": …, "result": …} is accepted.',
                )
                continue
            self.check_keys(field, item, _TRIED_KEYS)
            remedy = self.word_known(item, field, "remedy", remedies)
            result = self.word(item, field, "result", RESULTS)
            if "result" not in item:
                self.wrong(
                    inside(field, "result"), "no result is told", f"give {listed(RESULTS, 'or')}."
                )
            added = self.believed(item, field, "added_g")
            if remedy and result:
                found.append(Tried(remedy=remedy, result=result, added_g=added))
        return tuple(found)

    def missing(self, data: Mapping[object, object]) -> frozenset[str]:
        found: set[str] = set()
        for place, item in enumerate(self.items(data, "missing")):
            if not isinstance(item, str) or item not in INGREDIENTS:
                self.unknown(f"missing[{place}]", "ingredient", in_words(item), INGREDIENTS)
            else:
                found.add(item)
        return frozenset(found)

    def not_looked(self, data: Mapping[object, object], askable: Collection[str]) -> frozenset[str]:
        found: set[str] = set()
        told = {
            key for part in ("signs", "readings")
            for key in first(data[part] if isinstance(data.get(part), Mapping) else {})
        }  # fmt: skip
        for place, item in enumerate(self.items(data, "not_looked")):
            field = f"not_looked[{place}]"
            if not isinstance(item, str) or item not in askable:
                self.unknown(field, "sign or reading", in_words(item), askable)
            elif item in told:
                self.wrong(
                    field, f"{quoted(item)} is answered as well", "keep the answer, or this entry."
                )
            else:
                found.add(item)
        return frozenset(found)
