"""Statements of the trade, and asking the shipped book about them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from diagnose.consulting import OpenBook, open_book
from diagnose.knowledge.bands import band_of
from diagnose.knowledge.book import Cause, Reading, Remedy
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.situations import read_situation

BOOK: OpenBook = open_book()
DOUGH = BOOK.book.doughs[0]
REMEDIES: Mapping[str, Remedy] = {remedy.id: remedy for remedy in DOUGH.remedies}
CAUSES: Mapping[str, Cause] = {cause.id: cause for cause in DOUGH.causes}
READING: Mapping[str, Reading] = {reading.id: reading for reading in DOUGH.readings}
STAGES = [stage.id for stage in DOUGH.stages]
MARKS = {source.key: source.mark for source in BOOK.book.sources}
FOOT_M = 0.3048
PRACTICE = "common practice, no source"

Check = Callable[[], None]


@dataclass(frozen=True)
class Statement:
    """One thing that somebody says about such a dough, and whether the advice agrees."""

    source: str
    says: str
    check: Check

    def __str__(self) -> str:
        return f"{self.source}: {self.says}"


class Statements(list[Statement]):
    """The statements of one file."""

    def stated(self, source: str, says: str) -> Callable[[Check], Check]:
        """Keep a check together with what it checks and who says it."""

        def keep(check: Check) -> Check:
            self.append(Statement(source, says, check))
            return check

        return keep


def ask(stage: str = "cook-paste", **told: Any) -> Diagnosis:
    """The advice; numbers in the reading's own unit, and metres for where the kitchen is."""
    data: dict[str, Any] = {"dough": DOUGH.id, "stage": stage, "signs": told.get("signs", {})}
    data["readings"] = {
        name: {"value": value, "unit": READING[name].unit}
        for name, value in told.get("readings", {}).items()
    }
    if "metres" in told:
        data["kitchen"] = {"elevation_m": told["metres"]}
    for key in ("batch", "tried", "not_looked"):
        if key in told:
            data[key] = told[key]
    situation, problems = read_situation(data, BOOK.book)
    assert situation is not None, [str(problem) for problem in problems]
    return BOOK.diagnose(situation)


def first(stage: str = "cook-paste", **told: Any) -> str:
    return ask(stage, **told).plan[0].remedy


def named(found: Diagnosis) -> set[str]:
    return {step.remedy for step in found.plan}


def chance(cause: str, stage: str = "cook-paste", **told: Any) -> float:
    """How likely a cause is; nothing if it is too unlikely to be told."""
    return sum(c.chance for c in ask(stage, **told).causes if c.id == cause)


def computed(name: str, **told: Any) -> float:
    return next(c.value for c in ask(**told).computed if c.id == name)


def says(remedy: str) -> str:
    """Everything a cook reads about a remedy, without its cautions."""
    it = REMEDIES[remedy]
    return " ".join((it.first, *it.do, it.look_for, it.give_up_when))


def warns(remedy: str, *words: str) -> bool:
    """Whether one of the remedy's cautions holds all these words."""
    texts = {caution.id: caution.say.lower() for caution in DOUGH.cautions}
    return any(all(w in texts[name] for w in words) for name in REMEDIES[remedy].cautions)


def right_at(stage: str) -> str:
    return " ".join(next(s for s in DOUGH.stages if s.id == stage).right)


def celsius(text: str) -> list[float]:
    """Every temperature in a text, also both ends of a range: "72 to 78 °C" is 72 and 78."""
    found: list[float] = []
    for low, high in re.findall(r"(?:(\d+) (?:to|and) )?(\d+) °C", text):
        found += [float(end) for end in (low, high) if end]
    return found


def band(reading: str, value: float) -> str | None:
    found = band_of(READING[reading].bands, value)
    return found.id if found else None


WEIGHED = {"milk_g": 500, "flour_g": 100, "flour_measured": "weighed"}
"""The house batch by the scale, our own formula."""
COOKED = {"paste-temperature": 92.0, "minutes-cooked": 5.0}
