"""Where the open book lies: everybody reads from it, and a new one takes its place in one step.

A book is immutable once open. Replacing it is one reference: whoever took the old one finishes
with the old one, whoever comes next gets the new one, and nobody ever sees half of each. The new
book is opened before it is put, so that an error in it leaves the old one where it was.

>>> from diagnose.consulting import open_book
>>> shelf = Shelf(open_book())
>>> shelf.put(open_book()).book.version == shelf.current.book.version
True
"""

from __future__ import annotations

from .consulting import OpenBook


class Shelf:
    """Holds one open book. Take ``current`` once per request, and keep to that one."""

    __slots__ = ("_current",)

    def __init__(self, opened: OpenBook) -> None:
        self._current = opened

    @property
    def current(self) -> OpenBook:
        """The book that is open now."""
        return self._current

    def put(self, opened: OpenBook) -> OpenBook:
        """Put a book in the place of the current one, which is handed back."""
        before, self._current = self._current, opened
        return before
