"""How far something long has come: told to whoever asked for it, so that nobody wonders."""

import sys
import time
from collections.abc import Callable, Iterable, Iterator
from typing import TextIO, TypeVar

Progress = Callable[[str, int, int], None]
"""What is being done, how many are done, of how many."""

EVERY = 100
"""Steps between two tellings."""

Thing = TypeVar("Thing")


def silent(what: str, done: int, of: int) -> None:
    """Tell nobody."""


def counted(things: Iterable[Thing], what: str, of: int, progress: Progress) -> Iterator[Thing]:
    """The things one by one, telling at the beginning, at the end, and often enough between."""
    done = 0
    for done, thing in enumerate(things, 1):
        if done % EVERY == 1:
            progress(what, done - 1, of)
        yield thing
    progress(what, done, of)


class Terminal:
    """Progress in a terminal, once something has taken longer than a second."""

    def __init__(self, out: TextIO | None = None, *, patience_s: float = 1.0) -> None:
        self.out = out or sys.stderr
        self.patience_s = patience_s
        self._what = ""
        self._began = self._last = time.monotonic()
        self._said = False

    def __call__(self, what: str, done: int, of: int) -> None:
        now = time.monotonic()
        if what != self._what:
            self._end_line()
            self._what, self._began, self._last = what, now, now
        finished = done >= of
        if finished and not self._said:
            return
        if now - self._began < self.patience_s and not self._said:
            return
        # In a terminal one line counts up; in a file a line every ten seconds is enough.
        pause = 0.2 if self.out.isatty() else 10.0
        if self._said and not finished and now - self._last < pause:
            return
        self._last, self._said = now, True
        line = f"{what}: {done:,} of {of:,}"
        print(f"\r{line}" if self.out.isatty() else line, end="", file=self.out, flush=True)
        if not self.out.isatty():
            print(file=self.out, flush=True)
        elif finished:
            self._end_line()

    def _end_line(self) -> None:
        if self._said and self.out.isatty():
            print(file=self.out, flush=True)
        self._said = False
