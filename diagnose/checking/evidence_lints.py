"""Lints about the evidence table as proper chances."""

from __future__ import annotations

from diagnose.knowledge.book import Book, Dough
from diagnose.knowledge.problems import Problem
from diagnose.reasoning.likelihood import turned_words

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
