"""The evidence table as proper chances: P(answer | cause), made once per book.

An author's words weigh the answers of one sign against each other for one cause. Multiplied onto
an even base and brought to a sum of one they are a probability distribution, so that the same
numbers serve the chances of causes and the choice of the next question.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from diagnose.knowledge.book import ComputedReading, Dough, EvidenceRow, Reading, Sign
from diagnose.knowledge.phrases import Truth, Value

from .words import FACTOR


@dataclass(frozen=True, slots=True)
class Asked:
    """A sign, or a reading with bands, seen as a question with a few answers."""

    part: Sign | Reading | ComputedReading
    answers: tuple[str, ...]

    @property
    def id(self) -> str:
        """The id of the sign or reading."""
        return self.part.id

    def answer_for(self, value: Value | None) -> str | None:
        """The answer that a fact amounts to: itself, or the band a number lies in."""
        if value is None:
            return None
        if isinstance(self.part, Sign):
            return value if value in self.answers else None
        for band in self.part.bands:
            if band.phrase.judge(value) is Truth.YES:
                return band.id
        return None


@dataclass(frozen=True)
class Table:
    """Everything the evidence rows say about one sign or reading."""

    asked: Asked
    rows: Mapping[str, EvidenceRow]
    """By cause; a cause without a row finds every answer as likely as any other."""
    log_chance: Mapping[str, Mapping[str, float]]
    """cause -> answer -> log P(answer | cause), for the causes that have a row."""

    @property
    def log_even(self) -> float:
        """log P(answer) for a cause that says nothing about this sign."""
        return -math.log(len(self.asked.answers))

    def log_for(self, cause: str, answer: str) -> float:
        """log P(answer | cause)."""
        row = self.log_chance.get(cause)
        return self.log_even if row is None else row[answer]


def asked_parts(dough: Dough) -> tuple[Asked, ...]:
    """Every sign, and every reading or computed reading with bands, in the book's order."""
    signs = tuple(Asked(s, tuple(a.id for a in s.answers)) for s in dough.signs)
    numbers: tuple[Reading | ComputedReading, ...] = (*dough.readings, *dough.computed)
    banded = tuple(Asked(n, tuple(b.id for b in n.bands)) for n in numbers if n.bands)
    return signs + banded


def normalised(row: EvidenceRow, answers: tuple[str, ...]) -> dict[str, float]:
    """log P(answer | cause) from the words of a row over an even base.

    >>> words = {"a": "moderate for"}
    >>> row = EvidenceRow(of="s", about="c", answers=words, why="", source={"see": "k"})
    >>> round(math.exp(normalised(row, ("a", "b"))["a"]), 2)
    0.75
    """
    factors = {a: FACTOR[row.answers[a]] if a in row.answers else 1.0 for a in answers}
    total = math.fsum(factors.values())
    return {a: math.log(f / total) for a, f in factors.items()}


def tables(dough: Dough) -> dict[str, Table]:
    """One table per sign or banded reading, by its id."""
    made = {}
    for asked in asked_parts(dough):
        rows = {row.about: row for row in dough.evidence if row.of == asked.id}
        log_chance = {cause: normalised(row, asked.answers) for cause, row in rows.items()}
        made[asked.id] = Table(asked, rows, log_chance)
    return made


def turned_words(dough: Dough) -> list[tuple[EvidenceRow, str]]:
    """Answers whose word points the other way once the row adds up to one.

    A row with one strong answer makes all its other answers less likely, so "slight for" beside
    "strong for" ends up as evidence against. The author should leave such an answer out.
    """
    turned = []
    for table in tables(dough).values():
        for cause, row in table.rows.items():
            for answer, word in row.answers.items():
                shift = table.log_for(cause, answer) - table.log_even
                if (word.endswith("for") and shift < -1e-9) or (
                    not word.endswith("for") and shift > 1e-9
                ):
                    turned.append((row, answer))
    return turned
