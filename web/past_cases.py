"""The cases that a change of the book is tried on: the book's own, and those confirmed here."""

from __future__ import annotations

import threading

from casebook.listing import count_of_marks, listing, titles
from casebook.store import Store
from casebook.taught import records
from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Dough
from diagnose.knowledge.teaching import read_teaching_cases
from diagnose.replaying import Past, PastCase, from_confirmed, from_teaching, from_whole


class PastCases:
    """Keeps what the book in use says of the past, from one look at a draft to the next."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._kept: tuple[OpenBook, tuple[str, ...], Past] | None = None
        self._read: dict[tuple[str, str], tuple[PastCase, ...]] = {}

    def marked(self) -> int:
        """How many marks there are: another number, and the past may be another."""
        return count_of_marks(self._store)

    def of(self, opened: OpenBook) -> Past:
        """The past as this book sees it; made anew when the book or the marks are others."""
        listed = [listing(self._store, dough.id) for dough in opened.book.doughs]
        digests = tuple(one.digest for one in listed)
        with self._lock:
            if self._kept is not None and self._kept[0] is opened and self._kept[1] == digests:
                return self._kept[2]
        found = [from_whole(dough, c) for dough in opened.book.doughs for c in dough.whole_cases]
        found += [from_teaching(case) for case in read_teaching_cases(opened.book)[0]]
        named = {one.id for one in found}
        for dough in opened.book.doughs:
            found += [one for one in self._confirmed(opened, dough) if one.id not in named]
        past = Past(opened, found)
        with self._lock:
            self._kept = (opened, digests, past)
        return past

    def _confirmed(self, opened: OpenBook, dough: Dough) -> tuple[PastCase, ...]:
        """As each stood before its first remedy; one that this book cannot read says nothing."""
        listed = listing(self._store, dough.id)
        about = (opened.book.version, f"{dough.id} {listed.digest}")
        with self._lock:
            known = self._read.get(about)
        if known is not None:
            return known
        called = titles(self._store, dough.id)
        read = records(self._store, dough, listed)
        found = tuple(from_confirmed(dough, one, called.get(one.id, "")) for one in read.cases)
        with self._lock:
            self._read = {about: found}
        return found
