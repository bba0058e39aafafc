"""What the pages need of an open book."""

from __future__ import annotations

from typing import Protocol

from diagnose.knowledge.book import Book
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.situation import Situation


class Consultant(Protocol):
    """Anything with a book that can answer a situation, from any thread."""

    @property
    def book(self) -> Book:
        """The loaded doughs and rules."""
        ...

    def diagnose(self, situation: Situation) -> Diagnosis:
        """The answer to a situation."""
        ...
