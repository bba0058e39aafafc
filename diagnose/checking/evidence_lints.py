"""Lints about the evidence table as proper chances."""

from __future__ import annotations

import math
from typing import Final

from diagnose.knowledge.book import Book, Dough, EvidenceRow
from diagnose.knowledge.problems import Problem
from diagnose.reasoning.likelihood import Table, tables, turned_words
from diagnose.reasoning.words import FACTOR

from .lint import Lint


class TurnedWord(Lint):
    """A word that points the other way once its row adds up to one.

    A row with one strong answer makes all its other answers less likely, so that "slight for"
    beside "strong for" ends up as evidence against.
    """

    name = "turned word"
    level = "warning"
    recommendation = "Leave that answer out, or bring the words of the row closer together."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        return [
            self.problem(
                dough,
                row.line,
                f"evidence {row.id}",
                f'"{row.answers[answer]}" for {answer} points the other way beside the other '
                "answers of its row.",
            )
            for row, answer in turned_words(dough)
        ]


FAR: Final = FACTOR["strong for"]
"""How far the words of a row may be from adding up to one, as a factor either way (house rule).
"Decisive for" one of three answers is within it, and so is "strong against" the one that nearly
everybody gives; "rules out" that one, or "decisive for" the usual one, is not."""


class FarFromAddingUp(Lint):
    """A row whose words are worth much more or less than they say.

    The chances of its answers have to add up to one, so that every word of the row is divided by
    what they add up to, and an answer without a word too.
    """

    name = "far from adding up"
    level = "note"
    recommendation = "Weaken its strongest word, or give the other answers words of their own."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        return [
            self.problem(dough, row.line, f"evidence {row.id}", _worth(table, row, whole))
            for table in tables(dough).values()
            for row in table.rows.values()
            if not 1 / FAR <= (whole := adds_up_to(table, row)) <= FAR
        ]


def adds_up_to(table: Table, row: EvidenceRow) -> float:
    """The sum of how usual each answer is times the factor of its word; 1 if words balance."""
    return math.fsum(
        math.exp(table.log_usual(answer))
        * (FACTOR[row.answers[answer]] if answer in row.answers else 1.0)
        for answer in table.asked.answers
    )


def _worth(table: Table, row: EvidenceRow, whole: float) -> str:
    answer = next((a for a in table.asked.answers if a not in row.answers), None)
    said = "no word" if answer is not None else ""
    if answer is None:
        # every answer has a word: the weakest is moved farthest from what it says
        answer = min(row.answers, key=lambda a: abs(math.log(FACTOR[row.answers[a]])))
        said = f'"{row.answers[answer]}"'
    shift = table.shift(row.about, answer)
    worth = f"\N{MULTIPLICATION SIGN} {math.exp(shift):.2g}"
    return (
        f"its words add up to {whole:.2g} and not to 1: with {row.of}: {answer}, which has {said}, "
        f"the odds come to {worth}."
    )
