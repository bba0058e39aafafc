"""What the pages need of an open book."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from diagnose.knowledge.book import Book
from diagnose.knowledge.diagnosis import Diagnosis, Turning
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.situation import Situation
from diagnose.objecting import WhyNot


class Consultant(Protocol):
    """Anything with a book that can answer a situation, from any thread."""

    @property
    def book(self) -> Book:
        """The loaded doughs and rules."""
        ...

    def diagnose(self, situation: Situation) -> Diagnosis:
        """The answer to a situation."""
        ...

    def turning(self, situation: Situation) -> Turning:
        """What would change the first remedy, and what it rests on."""
        ...

    def why_not(self, situation: Situation, name: str) -> WhyNot:
        """What speaks against a cause, or keeps a remedy from coming first."""
        ...

    def spoke(self, dough: str, facts: Mapping[str, Value]) -> frozenset[str]:
        """Ids of the rules that speak on bare facts."""
        ...
