"""Which book answers a request: the one in use when it comes, from its beginning to its end.

The book in use may be replaced at any moment. A request takes it once, and whatever that request
works out, in whichever thread, comes from that one. Each open book has a memory of its own, so a
diagnosis is never remembered for another book.
"""

from __future__ import annotations

from collections.abc import Callable
from contextvars import ContextVar

from starlette.types import ASGIApp, Receive, Scope, Send

from .consultant import Consultant
from .remembered import Remembered


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
    """Lets each request hold one book."""

    def __init__(self, app: ASGIApp, running: RunningBook) -> None:
        self.app, self.running = app, running

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        # Each request is served in a task, and so in a context, of its own.
        if scope["type"] == "http":
            self.running.hold()
        await self.app(scope, receive, send)
