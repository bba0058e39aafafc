"""What a lint is. One list of them serves the command, the tests and the rule desk."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from typing import ClassVar, Literal

from diagnose.knowledge.book import Book, Dough
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.problems import Problem

Level = Literal["error", "warning", "note"]

Run = Callable[[Dough, Mapping[str, Value]], "frozenset[str] | set[str]"]
"""Fires the rules of a dough on facts; gives the names of the rules that spoke."""


class Lint(ABC):
    """One thing that is checked."""

    name: ClassVar[str]
    level: ClassVar[Level]
    recommendation: ClassVar[str]
    """One sentence to the author: what to do about it."""

    @abstractmethod
    def check(self, dough: Dough, book: Book) -> list[Problem]:
        """Every place in the dough where it is found."""

    def problem(self, dough: Dough, line: int, where: str, what: str) -> Problem:
        """One such place."""
        return Problem(dough.file, line, where, what, self.recommendation)
