"""Lints about advice that could do harm, and about numbers that could not be."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.book import Book, Condition, Dough, Reading
from diagnose.knowledge.measures import shown
from diagnose.knowledge.phrases import Interval
from diagnose.knowledge.problems import Problem

from .lint import Lint


class FlourWithoutGate(Lint):
    """An undercooked paste only looks wet: flour waits until the starch has cooked."""

    name = "flour without a gate"
    level = "error"
    recommendation = (
        "Add only after: with the finding that shows the paste is cooked; heat first, flour second."
    )

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        return [
            self.problem(
                dough, remedy.line, f"remedy {remedy.id}", "it adds flour and waits for nothing."
            )
            for remedy in dough.remedies
            if remedy.kind == "flour" and not remedy.only_after
        ]


class NothingToDoHere(Lint):
    """A cause that shows at a stage where none of its remedies can be done."""

    name = "nothing to do here"
    level = "warning"
    recommendation = "Add a remedy that can be done there, or the stage to one of its remedies."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        stages = {remedy.id: remedy.stages for remedy in dough.remedies}
        return [
            self.problem(
                dough,
                cause.line,
                f"cause {cause.id}",
                f"it has no remedy that can be done at {stage}.",
            )
            for cause in dough.causes
            for stage in cause.shows_at
            if not any(stage in stages.get(attempt.remedy, ()) for attempt in cause.tries)
        ]


class OutsidePossible(Lint):
    """A limit of a rule, or a value told in a case, that no reading can have."""

    name = "outside the possible range"
    level = "error"
    recommendation = "Write a number inside the possible range, or widen the range."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        readings = {reading.id: reading for reading in dough.readings}
        found = []
        for rule in dough.rules:
            limits = [
                (readings[c.subject], limit)
                for c in (*rule.when, *rule.unless)
                if c.subject in readings
                for limit in _limits(c)
            ]
            limits += [
                (readings[name], value)
                for case in rule.cases
                for name, value in case.told.items()
                if name in readings and isinstance(value, int | float)
            ]
            found += [
                self.problem(dough, rule.line, f"rule {rule.id}", _sentence(reading, value))
                for reading, value in limits
                if not reading.possible[0] <= value <= reading.possible[1]
            ]
        return found


def _limits(condition: Condition) -> Iterator[float]:
    if isinstance(condition.phrase, Interval):
        for limit in (condition.phrase.low, condition.phrase.high):
            if limit is not None:
                yield limit


def _sentence(reading: Reading, value: float) -> str:
    low, high = reading.possible
    return (
        f"{shown(value, reading.unit)} is no possible value of {reading.id}, "
        f"which goes from {low:g} to {shown(high, reading.unit)}."
    )
