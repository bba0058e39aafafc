"""The application: which pages there are, and what guards them. Wiring only."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import asynccontextmanager
from datetime import datetime
from typing import Any

from anyio.to_thread import current_default_thread_limiter
from fastapi import Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

from casebook.problems import KeyReused, NotStorable
from casebook.publishing import Press
from casebook.store import Store

from . import guard
from .additions_pages import additions_pages
from .advice import advice_pages
from .api import api
from .bench_entry import bench_entry
from .case_pages import case_pages
from .choosing import choosing
from .consultant import Consultant
from .consultation import consultation_pages
from .desk import desk
from .doors import doors
from .editing import editing
from .ending import ending_pages
from .exchanging import exchanging
from .following import following_pages
from .history import history
from .keeping import keeping
from .learning import learning
from .library import library
from .parts_editing import parts_editing
from .planning import plan_api, planning
from .practising import practising
from .queue import queue_pages
from .replanning import replanning
from .rulebook import rulebook
from .running_book import OneBook, RunningBook
from .sessions import Desk
from .signing_in import SignInFirst, desk_gate, signing_in
from .site import Site
from .standing import standing_pages
from .suggesting import suggesting
from .timers import timer_pages

LOCAL_NAMES = ("localhost", "127.0.0.1", "[::1]")
"""What this computer calls itself; the hosts that are always accepted."""

_log = logging.getLogger("web")

_HEADINGS = {404: "That page is not here", 405: "That cannot be done here"}


WORKERS = 2
"""Pages worked out at once. They share one interpreter, so more would only take turns, and a cook
who tapped first would wait for one who tapped later (``tests/bench/phones.py`` measures it)."""


@asynccontextmanager
async def _few_at_a_time(app: FastAPI) -> AsyncIterator[None]:
    current_default_thread_limiter().total_tokens = WORKERS
    yield


def create_app(
    consultant: Consultant,
    store: Store,
    *,
    hosts: Iterable[str] = LOCAL_NAMES,
    now: Callable[[], datetime] | None = None,
    press: Press | None = None,
    desk_on_lan: bool = False,
) -> FastAPI:
    """The site over an open book and an open store.

    ``hosts`` are the names it answers to, without ports; ``now`` is the clock, for tests. With a
    ``press`` the book can be changed, and its shelf says which one answers. ``desk_on_lan`` opens
    the rule desk to other machines over plain http too.
    """
    running = RunningBook((lambda: press.shelf.current) if press else (lambda: consultant))
    more: dict[str, Any] = {} if now is None else {"now": now}
    site = Site(running, store, desk=Desk(store, desk_on_lan), press=press, **more)
    app = FastAPI(
        title="Panadier",
        version="1",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/v1/openapi.json",
        lifespan=_few_at_a_time,
        dependencies=[Depends(desk_gate)],
    )
    app.state.site = site
    for router in (
        doors,
        consultation_pages,
        advice_pages,
        following_pages,
        ending_pages,
        timer_pages,
        choosing,
        library,
        learning,
        queue_pages,
        editing,
        parts_editing,
        case_pages,
        practising,
        rulebook,
        planning,
        replanning,
        api,
        plan_api,
        keeping,
        bench_entry,
        exchanging,
        signing_in,
        desk,
        history,
        suggesting,
        standing_pages,
        additions_pages,
    ):
        app.include_router(router(site))
    _answer_errors(app, site)
    # The last one added is the first to see a request.
    app.add_middleware(OneBook, running=running, look=press.look if press else None)
    app.add_middleware(GZipMiddleware, minimum_size=500, compresslevel=6)
    app.add_middleware(guard.NextForScript)
    app.add_middleware(guard.SameOrigin)
    app.add_middleware(guard.BodyLimit)
    app.add_middleware(guard.KnownHost, hosts=tuple(hosts))
    app.add_middleware(guard.PageHeaders)
    app.add_middleware(guard.AccessLog)
    return app


def _answer_errors(app: FastAPI, site: Site) -> None:
    def refuse(request: Request, status: int, sentence: str) -> Response:
        if request.url.path.startswith(guard.API):
            return JSONResponse({"problems": [sentence]}, status)
        heading = _HEADINGS.get(status, "That did not work")
        return site.page(request, "refused.html", status=status, heading=heading, sentence=sentence)

    def refused(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException), "registered for this class"
        sentence = str(error.detail)
        if sentence == "Not Found":
            sentence = "There is no page at this address. Go to the first page."
        elif sentence == "Method Not Allowed":
            sentence = "This address does not take that kind of request."
        return refuse(request, error.status_code, sentence)

    def invalid(request: Request, error: Exception) -> Response:
        return refuse(request, 404, "There is no page at this address. Go to the first page.")

    def stale(request: Request, error: Exception) -> Response:
        return refuse(request, 409, str(error))

    def broke(request: Request, error: Exception) -> Response:
        _log.error("An answer failed", exc_info=error)
        return refuse(
            request,
            500,
            "Something in this program went wrong; what you told before is kept. Try again, or "
            "start a new batch.",
        )

    def sign_in_first(request: Request, error: Exception) -> Response:
        assert isinstance(error, SignInFirst), "registered for this class"
        return error.answer

    app.add_exception_handler(SignInFirst, sign_in_first)
    app.add_exception_handler(HTTPException, refused)
    app.add_exception_handler(RequestValidationError, invalid)
    app.add_exception_handler(KeyReused, stale)
    app.add_exception_handler(NotStorable, stale)
    app.add_exception_handler(Exception, broke)
