"""Which book answers a request: the one in use when it comes, from its beginning to its end.

The book in use may be replaced at any moment. A request takes it once, and whatever that request
works out, in whichever thread, comes from that one. Each open book has a memory of its own, so a
diagnosis is never remembered for another book.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Callable
from contextvars import ContextVar

from anyio import CapacityLimiter, to_thread
from starlette.types import ASGIApp, Receive, Scope, Send

from .consultant import Consultant
from .remembered import Remembered
from .sessions import is_desk

EVERY_S = 1.0
"""How often it is looked whether another program has changed the book."""

_log = logging.getLogger("web")


class RunningBook:
    """Hands out the book in use, each with the memory that belongs to it."""

    def __init__(self, current: Callable[[], Consultant]) -> None:
        self._current = current
        opened = current()
        self._latest = (opened, Remembered(opened))
        self._held: ContextVar[Remembered | None] = ContextVar("held", default=None)

    @property
    def consultant(self) -> Consultant:
        """The book this request holds; outside a request the one in use now."""
        return self._held.get() or self._newest()

    def hold(self) -> None:
        """Keep to the book in use now until this request is over."""
        self._held.set(self._newest())

    def _newest(self) -> Remembered:
        opened, remembered = self._latest
        now = self._current()
        if now is not opened:
            # Two at once make two memories, each of its own book; the later one stays.
            remembered = Remembered(now)
            self._latest = (now, remembered)
        return remembered


class OneBook:
    """Lets each request hold one book, and now and then looks whether there is a newer one.

    Another program may serve the same casebook, and an instructor may change the book there. Cooks
    do not wait for the look: they go on with the book that is here. The desk waits, because it
    works on the newest.
    """

    def __init__(
        self, app: ASGIApp, running: RunningBook, look: Callable[[], object] | None = None
    ) -> None:
        self.app, self.running, self._look = app, running, look
        self._looked = 0.0
        self._looking: asyncio.Task[None] | None = None
        # A thread beside those that work out pages, so that no phone waits for it.
        self._thread: CapacityLimiter | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            await self._look_now_and_then(is_desk(scope["path"]))
            # Each request is served in a task, and so in a context, of its own.
            self.running.hold()
        await self.app(scope, receive, send)

    async def _look_now_and_then(self, wait: bool) -> None:
        if self._look is None:
            return
        if self._looking is None and (wait or time.monotonic() - self._looked > EVERY_S):
            self._looking = asyncio.create_task(self._in_a_thread(self._look))
        if wait and self._looking is not None:
            await self._looking

    async def _in_a_thread(self, look: Callable[[], object]) -> None:
        self._thread = self._thread or CapacityLimiter(1)
        try:
            await to_thread.run_sync(look, limiter=self._thread)
        except Exception:
            _log.exception("Looking for a newer book failed; the one in use stays")
        finally:
            self._looked = time.monotonic()
            self._looking = None
