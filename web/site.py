"""What every page needs: the open book, the store, the clock, and the one way to print a page."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

from fastapi import HTTPException, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from casebook.consultations import Consultation, Entry, UnknownConsultation, load
from casebook.publishing import Press
from casebook.store import Store
from diagnose.knowledge.book import Book, Dough, Stage
from diagnose.knowledge.diagnosis import Diagnosis, Turning
from diagnose.knowledge.situation import Situation

from . import steps, units, wording
from .consultant import Consultant
from .pictures import PICTURE_GLOBALS, PICTURES
from .running_book import RunningBook
from .sessions import Desk
from .situation import situation_of
from .tightening import tight
from .timing import Timer, timers_of
from .told import Telling, new_key

COOKIE = "panadier-batch"
"""The cookie that holds the address of the batch in hand; one of our own names, ports share."""
UNITS_COOKIE = "panadier-units"
"""The cookie that holds which units a cook reads first."""
KEPT_S = 14 * 24 * 3600
"""How long that cookie is kept. The consultation itself is never deleted."""

_TOKEN = re.compile(r"[A-Za-z0-9_-]{22}")


def _now() -> datetime:
    return datetime.now(UTC)


def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=units.finalize,
    )
    environment.filters["tight"] = tight
    environment.globals.update(PICTURE_GLOBALS)
    environment.globals.update(wording.FOR_TEMPLATES)
    environment.globals.update(units.FOR_TEMPLATES)
    return environment


@dataclass(frozen=True)
class Site:
    """The parts a page is made from. One for each running program."""

    shelf: RunningBook
    store: Store
    now: Callable[[], datetime] = _now
    templates: Environment = field(default_factory=_environment)
    desk: Desk = field(kw_only=True)
    press: Press | None = field(default=None, kw_only=True)
    """Publishes changes of the book; None where a book is served that nobody can change."""

    @property
    def consultant(self) -> Consultant:
        """Who answers this request: one open book from its beginning to its end."""
        return self.shelf.consultant

    @property
    def book(self) -> Book:
        """The loaded book."""
        return self.consultant.book

    @property
    def dough(self) -> Dough:
        """The dough new consultations are about: the first of the book."""
        return self.book.doughs[0]

    def page(
        self, request: Request, template: str, *, status: int = 200, **values: object
    ) -> HTMLResponse:
        """One page, whole in one answer."""
        # A page of the batch in hand has loaded it already and brings its timers.
        here = values.get("token")
        own = here is not None and request.cookies.get(COOKIE) == here and "timers" in values
        running = None if own else self.running(request)
        context: dict[str, object] = {
            "nonce": request.state.nonce,
            "key": new_key(),
            "running": here if own else running.token if running else None,
            "token": None,
            "timers": self.timers(running) if running else (),
            "units": self.units(request),
            "here": request.url.path,
            "problems": (),
            "title_error": "Error: " if status == 422 else "",
            **values,
        }
        text = self.templates.get_template(template).render(context)
        # no-cache but not no-store: with the Wi-Fi down, Back still shows the last question.
        return HTMLResponse(text, status, {"Cache-Control": "private, no-cache"})

    def units(self, request: Request) -> units.System:
        """The system of units this phone reads first."""
        return units.system_of(request.cookies.get(UNITS_COOKIE))

    def keep_units(
        self, answer: RedirectResponse, request: Request, found: Consultation
    ) -> RedirectResponse:
        """Give a phone that has chosen no units those chosen for the batch it opens."""
        told = next((e.value for e in reversed(found.entries) if e.kind == "units"), None)
        if told is not None and UNITS_COOKIE not in request.cookies:
            answer.set_cookie(
                UNITS_COOKIE, units.system_of(told), KEPT_S, httponly=True, samesite="lax",
                secure=request.url.scheme == "https",
            )  # fmt: skip
        return answer

    def running(self, request: Request) -> Consultation | None:
        """The batch in hand, by the cookie; None when there is none this book knows."""
        token = request.cookies.get(COOKIE, "")
        if not _TOKEN.fullmatch(token):
            return None
        try:
            found = load(self.store, token)
        except UnknownConsultation:
            return None
        return found if self.book.dough(found.dough) else None

    def consultation(self, token: str) -> Consultation:
        """The consultation at this address, or 404."""
        try:
            return load(self.store, token)
        except UnknownConsultation as unknown:
            raise HTTPException(404, str(unknown)) from None

    def dough_of(self, consultation: Consultation) -> Dough:
        """Its dough, or 404 when this book no longer has it."""
        dough = self.book.dough(consultation.dough)
        if dough is None:
            raise HTTPException(
                404, f'This book has no dough called "{consultation.dough}". Nothing told is lost.'
            )
        return dough

    def situation(self, consultation: Consultation) -> Situation | None:
        """Where the consultation stands now."""
        return situation_of(consultation, self.dough_of(consultation), self.now())

    def situation_with(self, consultation: Consultation, told: Telling) -> Situation | None:
        """Where it would stand with one more answer."""
        kind, name, value = told
        entry = Entry(len(consultation.entries) + 1, kind, name, value, self.now())
        return self.situation(replace(consultation, entries=(*consultation.entries, entry)))

    def diagnosis(self, consultation: Consultation) -> Diagnosis | None:
        """What follows from what was told; None until a stage is told."""
        situation = self.situation(consultation)
        return None if situation is None else self.consultant.diagnose(situation)

    def turning(self, consultation: Consultation) -> Turning | None:
        """What would change the first remedy; None until a stage is told."""
        situation = self.situation(consultation)
        return None if situation is None else self.consultant.turning(situation)

    def next_path(self, consultation: Consultation) -> str:
        """The address of the page that comes next."""
        step = steps.settled_first(consultation)
        if step is None:
            diagnosis = self.diagnosis(consultation)
            step = (
                steps.Step("stage")
                if diagnosis is None
                else steps.next_step(consultation, diagnosis)
            )
        return f"/c/{consultation.token}/{step.path}"

    def timers(self, consultation: Consultation) -> tuple[Timer, ...]:
        """The timers that run, or ran out within the last ten minutes."""
        return timers_of(consultation, self.now())


def see_other(path: str) -> RedirectResponse:
    """To the next page, by GET."""
    return RedirectResponse(path, 303)


def remember(response: RedirectResponse, request: Request, token: str) -> RedirectResponse:
    """Make this the batch in hand on this phone."""
    response.set_cookie(
        COOKIE,
        token,
        max_age=KEPT_S,
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )
    return response


def stage_named(dough: Dough, name: str) -> Stage:
    """The stage of that name, or 404."""
    stage = next((s for s in dough.stages if s.id == name), None)
    if stage is None:
        raise HTTPException(404, "There is no such stage of this dough.")
    return stage


def has_picture(sign: str, answer: str) -> bool:
    """Whether an answer is drawn."""
    return (sign, answer) in PICTURES
