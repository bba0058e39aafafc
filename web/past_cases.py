"""The cases that a change of the book is tried on: the book's own, and those confirmed here."""

from __future__ import annotations

import threading

from casebook import cases
from casebook.store import Store
from diagnose.consulting import OpenBook
from diagnose.knowledge.situations import read_situation
from diagnose.knowledge.teaching import read_teaching_cases
from diagnose.replaying import Past, PastCase, from_teaching, from_whole


class PastCases:
    """Keeps what the book in use says of the past, from one look at a draft to the next."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._kept: tuple[OpenBook, tuple[tuple[str, int], ...], Past] | None = None

    def of(self, opened: OpenBook) -> Past:
        """The past as this book sees it; made anew when the book or the marks are others."""
        confirmed = list(cases.confirmed(self._store))
        marks = tuple((case.id, mark.number) for case, mark in confirmed)
        with self._lock:
            if self._kept is not None and self._kept[0] is opened and self._kept[1] == marks:
                return self._kept[2]
        found = [from_whole(dough, c) for dough in opened.book.doughs for c in dough.whole_cases]
        found += [from_teaching(case) for case in read_teaching_cases(opened.book)[0]]
        named = {one.id for one in found}
        for case, mark in confirmed:
            data = {**case.situation, "dough": case.dough}
            situation, _ = read_situation(data, opened.book)
            # a case that the book of today cannot read says nothing about a change of it
            if situation is not None and case.id not in named:
                remedies = frozenset((mark.first_remedy,) if mark.first_remedy else ())
                found.append(
                    PastCase(
                        case.id, "confirmed case", case.title, situation, mark.causes, remedies
                    )
                )
        past = Past(opened, found)
        with self._lock:
            self._kept = (opened, marks, past)
        return past
