"""Something long, worked out once in a thread, while a page tells how far it has come."""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, Generic, TypeVar

from casebook.progress import Progress

PATIENCE_S = 0.8
"""How long a page waits for something long before it shows progress instead."""
KEPT = 12
"""Finished works kept: enough for a book in use and a few that were looked at."""

_log = logging.getLogger("web")

Found = TypeVar("Found")


class Work(Generic[Found]):
    """One thing being worked out."""

    def __init__(self, run: Callable[[Progress], Found], turn: threading.Lock) -> None:
        self.what, self.done, self.of = "waiting for its turn", 0, 0
        self.failed = False
        self._found: list[Found] = []
        self._finished = threading.Event()
        self._run, self._turn = run, turn
        threading.Thread(target=self._go, name="long work", daemon=True).start()

    def wait(self, seconds: float = PATIENCE_S) -> bool:
        """Whether it is finished, at the latest after so many seconds."""
        return self._finished.wait(seconds)

    @property
    def found(self) -> Found:
        """What was found. Raises LookupError before it is finished, or if it failed."""
        if not self._found:
            raise LookupError("It is not worked out")
        return self._found[0]

    def _tell(self, what: str, done: int, of: int) -> None:
        self.what, self.done, self.of = what, done, of

    def _go(self) -> None:
        try:
            # One at a time: pages for cooks share this interpreter with it.
            with self._turn:
                self._found.append(self._run(self._tell))
        except Exception:
            self.failed = True
            _log.exception("Something long could not be worked out")
        finally:
            self._finished.set()


class Works:
    """The works of one running program, by what they are about; each is begun once."""

    def __init__(self) -> None:
        self._works: OrderedDict[Hashable, Work[Any]] = OrderedDict()
        self._lock, self._turn = threading.Lock(), threading.Lock()

    def work(self, about: Hashable, run: Callable[[Progress], Found]) -> Work[Found]:
        """The work about this, begun now unless it was before; one that failed is begun again."""
        with self._lock:
            known = self._works.get(about)
            if known is None or known.failed:
                known = self._works[about] = Work(run, self._turn)
            self._works.move_to_end(about)
            while len(self._works) > KEPT:
                self._works.popitem(last=False)
            return known
