"""What every request passes before a page sees it, and every answer on its way out.

Six small ASGI wrappers, outermost first: the access log without tokens, the headers that tell a
browser what a page may do, the Host check (against names that are made to point at this
computer), the body limit, the Origin check (against pages elsewhere that post to this one), and
the way on for a page's own script.
Sec-Fetch headers are not used: browsers do not send them to a plain-http address on a local
network.
"""

from __future__ import annotations

import html
import json
import logging
import re
import secrets
import time
from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LIMIT_BYTES = 64 * 1024
"""The most a request may send. A cook's longest form is under 2 kB."""
LARGEST_STREAM = 128_000_000
"""The most that is listened to where a file may be sent. What is too large for the page is thrown
away as it comes, so that the page can still say so, with everything else that was sent on it."""
WITH_A_FILE = re.compile(r"/c/[^/]+/keep|/desk/cases/new|/desk/exchange/import")
"""The addresses that take a file; `uploads.read_upload` there counts and keeps it off memory."""

API = "/api/"
STORES_NOTHING = frozenset({"/api/v1/diagnose", "/api/v1/plan"})
"""The addresses of the machine face that take a request and keep nothing of it."""
READING = frozenset({"GET", "HEAD", "OPTIONS"})

_TOKEN = re.compile(r"/c/[^/?]+")
_log = logging.getLogger("web.access")


async def refuse(scope: Scope, send: Send, status: int, sentence: str) -> None:
    """Answer with one sentence: JSON for programs, a bare page for people."""
    if scope["path"].startswith(API):
        kind = "application/json"
        text = json.dumps({"problems": [sentence]}, ensure_ascii=False)
    else:
        kind = "text/html; charset=utf-8"
        text = (
            '<!doctype html><html lang="en"><meta charset="utf-8"><title>Refused</title>'
            f'<p>{html.escape(sentence)}</p><p><a href="/">To the first page</a></p></html>'
        )
    body = text.encode()
    await send(
        {
            "type": "http.response.start",
            "status": status,
            "headers": [
                (b"content-type", kind.encode()),
                (b"content-length", str(len(body)).encode()),
            ],
        }
    )
    await send({"type": "http.response.body", "body": body})


def path_for_log(path: str) -> str:
    """A path as it may be written down: a consultation's address is its key, so it is left out.

    >>> path_for_log("/c/AAAAAAAAAAAAAAAAAAAAAA/ask/paste-body")
    '/c/-/ask/paste-body'
    """
    # repr, so that no control character of a path can forge a line of the log.
    return repr(_TOKEN.sub("/c/-", path))[1:-1]


class AccessLog:
    """One line for each answer: method, path without token, status, milliseconds."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        began = time.perf_counter()
        status = 500

        async def note(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self.app(scope, receive, note)
        finally:
            spent = 1000 * (time.perf_counter() - began)
            _log.info(
                "%s %s %d %.0f ms", scope["method"], path_for_log(scope["path"]), status, spent
            )


class PageHeaders:
    """Gives each request a nonce, and each answer the headers that confine a page to itself."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        nonce = secrets.token_urlsafe(16)
        scope.setdefault("state", {})["nonce"] = nonce
        # No upgrade-insecure-requests: on a plain-http address it would send forms to https.
        policy = (
            f"default-src 'none'; script-src 'nonce-{nonce}'; style-src 'nonce-{nonce}'; "
            "img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; "
            "frame-ancestors 'none'"
        )

        async def dress(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers["Content-Security-Policy"] = policy
                headers["X-Frame-Options"] = "DENY"
                headers["X-Content-Type-Options"] = "nosniff"
                # same-origin keeps the token from other sites; no-referrer would turn the
                # Origin of our own forms into "null".
                headers["Referrer-Policy"] = "same-origin"
                headers["Cross-Origin-Opener-Policy"] = "same-origin"
            await send(message)

        await self.app(scope, receive, dress)


class KnownHost:
    """Refuses a request that was addressed to a name this server does not go by."""

    def __init__(self, app: ASGIApp, hosts: Iterable[str]) -> None:
        self.app = app
        self.hosts = frozenset(host.lower() for host in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        host = Headers(scope=scope).get("host", "").lower()
        name = host.rsplit(":", 1)[0] if not host.endswith("]") else host
        if name in self.hosts:
            await self.app(scope, receive, send)
            return
        await refuse(
            scope,
            send,
            400,
            "This address is not one this kitchen answers to. Use the address that was printed "
            "when the program started.",
        )


class _TooMuch(Exception):
    """A body went on beyond what is listened to."""


class BodyLimit:
    """Refuses a body over the limit, by its declared length and by counting what arrives.

    An ordinary body is gathered here, which is affordable because it is small, and handed on
    whole. Where a file may be sent it is counted as it is read, and never held.
    """

    def __init__(
        self, app: ASGIApp, limit: int = LIMIT_BYTES, with_a_file: int = LARGEST_STREAM
    ) -> None:
        self.app = app
        self.limit = limit
        self.with_a_file = with_a_file

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in READING:
            await self.app(scope, receive, send)
            return
        streamed = WITH_A_FILE.fullmatch(scope["path"]) is not None
        limit = self.with_a_file if streamed else self.limit
        most = f"{limit // 1_000_000} MB" if streamed else f"{limit // 1024} kB"
        sentence = f"That is too much to send: at most {most} is accepted."
        declared = Headers(scope=scope).get("content-length", "0")
        # Counted before converting: a length of very many digits is not a number to work out.
        if not declared.isdecimal() or len(declared) > 12 or int(declared) > limit:
            await refuse(scope, send, 413, sentence)
        elif streamed:
            await self._counted(scope, receive, send, sentence)
        else:
            await self._gathered(scope, receive, send, sentence)

    async def _counted(self, scope: Scope, receive: Receive, send: Send, sentence: str) -> None:
        size = 0
        answered = False

        async def count() -> Message:
            nonlocal size
            message = await receive()
            size += len(message.get("body", b""))
            if size > self.with_a_file:
                raise _TooMuch
            return message

        async def note(message: Message) -> None:
            nonlocal answered
            answered = True
            await send(message)

        try:
            await self.app(scope, count, note)
        except _TooMuch:
            if not answered:
                await refuse(scope, send, 413, sentence)

    async def _gathered(self, scope: Scope, receive: Receive, send: Send, sentence: str) -> None:
        parts: list[bytes] = []
        size = 0
        more = True
        while more:
            message = await receive()
            if message["type"] == "http.disconnect":
                return
            part = message.get("body", b"")
            size += len(part)
            if size > self.limit:
                await refuse(scope, send, 413, sentence)
                return
            parts.append(part)
            more = message.get("more_body", False)
        told = False

        async def replay() -> Message:
            nonlocal told
            if told:
                return await receive()
            told = True
            return {"type": "http.request", "body": b"".join(parts), "more_body": False}

        await self.app(scope, replay, send)


class NextForScript:
    """Tells the script of a page where to go next, in a header instead of a redirect.

    The script posts a form so that it can try again when the network is gone. Following the
    redirect itself, it would load the next page twice.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or "panadier-script" not in Headers(scope=scope):
            await self.app(scope, receive, send)
            return

        async def turned(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] == 303:
                message["status"] = 204
                headers = MutableHeaders(scope=message)
                headers["Panadier-Next"] = headers["Location"]
                del headers["Location"]
                del headers["Content-Length"]
            await send(message)

        await self.app(scope, receive, turned)


class SameOrigin:
    """Refuses anything that changes the casebook unless it comes from one of our own pages.

    The machine face is exempt: programs send no Origin, it stores nothing, and it takes only
    JSON, which a page elsewhere could not send without a permission that is never given.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if (
            scope["type"] != "http"
            or scope["method"] in READING
            or scope["path"] in STORES_NOTHING
            or self._same(Headers(scope=scope))
        ):
            await self.app(scope, receive, send)
            return
        await refuse(
            scope,
            send,
            403,
            "This answer did not come from a page of this kitchen, so nothing was stored. "
            "Go to the first page and answer there.",
        )

    @staticmethod
    def _same(headers: Headers) -> bool:
        try:
            origin = urlsplit(headers.get("origin", ""))
        except ValueError:
            return False
        host = headers.get("host", "").lower()
        return origin.scheme in ("http", "https") and origin.netloc.lower() == host != ""
