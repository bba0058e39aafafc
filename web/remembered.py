"""A short memory of diagnoses: an answer is posted, then its next page asks the same again."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping

from diagnose.knowledge.book import Book
from diagnose.knowledge.diagnosis import Diagnosis, Turning
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.situation import Situation
from diagnose.objecting import WhyNot

from .consultant import Consultant

MOST = 256
"""Diagnoses kept, about 20 kB each."""


class Remembered:
    """A consultant that does not work the same situation out twice in a row."""

    def __init__(self, consultant: Consultant, most: int = MOST) -> None:
        self._consultant = consultant
        self._most = most
        self._known: OrderedDict[str, Diagnosis] = OrderedDict()
        self._lock = threading.Lock()

    @property
    def book(self) -> Book:
        """The loaded book."""
        return self._consultant.book

    def turning(self, situation: Situation) -> Turning:
        """What would change the first remedy; asked for by few pages, so not remembered."""
        return self._consultant.turning(situation)

    def why_not(self, situation: Situation, name: str) -> WhyNot:
        """Why not; asked for by few pages, so not remembered."""
        return self._consultant.why_not(situation, name)

    def spoke(self, dough: str, facts: Mapping[str, Value]) -> frozenset[str]:
        """The rules that speak on bare facts; asked for by few pages, so not remembered."""
        return self._consultant.spoke(dough, facts)

    def diagnose(self, situation: Situation) -> Diagnosis:
        """The answer to a situation, worked out or remembered."""
        key = situation.model_dump_json()
        with self._lock:
            known = self._known.get(key)
            if known is not None:
                self._known.move_to_end(key)
                return known
        # Outside the lock: two phones asking the same at once both work it out, to the same end.
        found = self._consultant.diagnose(situation)
        with self._lock:
            self._known[key] = found
            while len(self._known) > self._most:
                self._known.popitem(last=False)
        return found
