"""The evidence table as proper chances: P(answer | cause), made once per book.

An author's words weigh the answers of one sign against each other for one cause. Multiplied onto
a base of how usual each answer is and brought to a sum of one they are a probability
distribution, so that the same numbers serve the chances of causes and the choice of the next
question.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final

from diagnose.knowledge.book import ComputedReading, Dough, EvidenceRow, Reading, Sign
from diagnose.knowledge.phrases import Truth, Value

from .words import FACTOR, PRIOR


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


@dataclass(frozen=True, slots=True)
class Taught:
    """One cell of a row after confirmed cases: its chance now, and how to say so."""

    chance: float
    """P(answer | cause), above 0; the cells of a row add up to one."""
    word: str
    """The nearest word now, such as "moderate for", or "says nothing"."""
    say: str
    """The change in the open: "written: strong for; after 37 cases: moderate for"."""


TaughtRows = Mapping[str, Mapping[str, Taught]]
"""Row id -> answer -> what confirmed cases made of it; a row holds all answers of its look."""
NOTHING_TAUGHT: Final[TaughtRows] = MappingProxyType({})


@dataclass(frozen=True)
class Table:
    """Everything the evidence rows say about one sign or reading."""

    asked: Asked
    rows: Mapping[str, EvidenceRow]
    """By cause; a cause without a row finds every answer as likely as it usually is."""
    log_chance: Mapping[str, Mapping[str, float]]
    """cause -> answer -> log P(answer | cause), for the causes that have a row."""

    usual: Mapping[str, float]
    """answer -> log of how often it is met when no cause says otherwise; adds up to one."""

    taught: Mapping[str, Mapping[str, Taught]] = field(default_factory=dict)
    """cause -> answer -> what confirmed cases made of the written word, where they did."""

    def log_usual(self, answer: str) -> float:
        """log P(answer) for a cause that says nothing about this sign."""
        return self.usual[answer]

    def log_for(self, cause: str, answer: str) -> float:
        """log P(answer | cause)."""
        row = self.log_chance.get(cause)
        return self.usual[answer] if row is None else row[answer]

    def shift(self, cause: str, answer: str) -> float:
        """How far an answer moves the score of a cause, beside one that says nothing."""
        return self.log_for(cause, answer) - self.usual[answer]


def asked_parts(dough: Dough) -> tuple[Asked, ...]:
    """Every sign, and every reading with bands, its own or those it is judged by, in order."""
    signs = tuple(Asked(s, tuple(a.id for a in s.answers)) for s in dough.signs)
    numbers: tuple[Reading | ComputedReading, ...] = (*dough.readings, *dough.computed)
    bands_of = {number.id: tuple(band.id for band in number.bands) for number in numbers}
    banded = tuple(
        Asked(n, bands_of[judge])
        for n in numbers
        if bands_of[judge := (isinstance(n, Reading) and n.judged_by) or n.id]
    )
    return signs + banded


def usual_chances(asked: Asked) -> dict[str, float]:
    """answer -> P(answer) when no cause says otherwise: even, unless the author says how common.

    In most kitchens a pan stands right on the burner; such an answer then says little, and the
    rare one much.
    """
    words = asked.part.how_common if isinstance(asked.part, Sign) else {}
    weights = {a: PRIOR[words.get(a, "occasional")] for a in asked.answers}
    whole = math.fsum(weights.values())
    return {answer: weight / whole for answer, weight in weights.items()}


def normalised(row: EvidenceRow, usual: Mapping[str, float]) -> dict[str, float]:
    """log P(answer | cause) from the words of a row over how usual each answer is.

    >>> words = {"a": "moderate for"}
    >>> row = EvidenceRow(of="s", about="c", answers=words, why="", source={"see": "k"})
    >>> round(math.exp(normalised(row, {"a": 0.5, "b": 0.5})["a"]), 2)
    0.75
    """
    factors = {
        a: base * (FACTOR[row.answers[a]] if a in row.answers else 1.0) for a, base in usual.items()
    }
    total = math.fsum(factors.values())
    return {a: math.log(f / total) for a, f in factors.items()}


def tables(dough: Dough, taught: TaughtRows = NOTHING_TAUGHT) -> dict[str, Table]:
    """One table per sign or banded reading, by its id.

    A row in ``taught`` has the chances that confirmed cases gave it instead of the written ones.
    """
    made = {}
    for asked in asked_parts(dough):
        usual = usual_chances(asked)
        rows = {row.about: row for row in dough.evidence if row.of == asked.id}
        log_chance = {cause: normalised(row, usual) for cause, row in rows.items()}
        log_usual = {answer: math.log(chance) for answer, chance in usual.items()}
        made[asked.id] = retaught(Table(asked, rows, log_chance, log_usual), taught)
    return made


def retaught(table: Table, taught: TaughtRows) -> Table:
    """A table with the rows that confirmed cases moved in the place of its own."""
    cells = {cause: taught[row.id] for cause, row in table.rows.items() if row.id in taught}
    if not cells:
        return table
    moved = {
        cause: {answer: math.log(cell.chance) for answer, cell in row.items()}
        for cause, row in cells.items()
    }
    return replace(
        table, log_chance={**table.log_chance, **moved}, taught={**table.taught, **cells}
    )


def turned_words(dough: Dough) -> list[tuple[EvidenceRow, str]]:
    """Answers whose word points the other way once the row adds up to one.

    A row with one strong answer makes all its other answers less likely, so "slight for" beside
    "strong for" ends up as evidence against. The author should leave such an answer out.
    """
    turned = []
    for table in tables(dough).values():
        for cause, row in table.rows.items():
            for answer, word in row.answers.items():
                shift = table.shift(cause, answer)
                if (word.endswith("for") and shift < -1e-9) or (
                    not word.endswith("for") and shift > 1e-9
                ):
                    turned.append((row, answer))
    return turned
