"""The timers of one batch on one board, and the kitchen's board of all batches."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from casebook.consultations import Consultation, UnknownConsultation, load, told_since
from diagnose.kitchen.quantities import NotAQuantity
from diagnose.knowledge.book import Dough

from . import amounts
from .forms import FieldProblem, Fields, Form
from .site import Site, see_other
from .situation import stage_of
from .timing import LONGEST_MIN, Timer, longer, starting, timers_of
from .told import Telling, form_key, record

CHOICES_MIN = (1, 2, 3, 5, 10, 15, 20, 30, 60, 120)
"""The minutes that can be tapped."""
MORE_MIN = 5.0
LONGEST_WORDS = 60
BOARD_DAYS = 1.0
"""Timers started within so many days are looked for, for the kitchen's board."""


@dataclass(frozen=True, slots=True)
class Batch:
    """One batch on the kitchen's board. Its address is its key, so it is not shown."""

    name: str
    timers: tuple[Timer, ...]


def timer_pages(site: Site) -> APIRouter:
    """Both boards."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/timers")
    def kitchen_board(request: Request) -> Response:
        now = site.now()
        since = now - timedelta(days=BOARD_DAYS)
        batches = []
        for token in told_since(site.store, "timer", since):
            try:
                found = load(site.store, token)
            except UnknownConsultation:
                continue
            timers = timers_of(found, now)
            if timers:
                batches.append(Batch(batch_name(found), timers))
        batches.sort(key=lambda batch: batch.timers[0].until)
        return site.page(
            request, "timer_board.html", batches=batches, now=now.astimezone().strftime("%H:%M")
        )

    def board(request: Request, found: Consultation, **more: Any) -> Response:
        dough = site.dough_of(found)
        return site.page(
            request,
            "timers.html",
            **{
                "token": found.token,
                "timers": (),
                "running": found.token,
                "board": site.timers(found),
                "now": round(site.now().timestamp()),
                "choices": CHOICES_MIN,
                "usual": _usual(dough, stage_of(found)),
                "what": "",
                "value": "",
                **more,
            },
        )

    @router.get("/c/{token}/timers")
    def timers(request: Request, token: str) -> Response:
        return board(request, site.consultation(token))

    @router.post("/c/{token}/timers")
    def tell(request: Request, token: str, form: Form) -> Response:
        found = site.consultation(token)
        dough = site.dough_of(found)
        told = _told(found, form, site)
        if isinstance(told, FieldProblem):
            return board(
                request, found, problems=[told], status=422, what=form["what"], value=form["own"]
            )
        if told:
            record(site.store, found, form_key(form["key"]), told)
        back = form["back"]
        if any(stage.id == back for stage in dough.stages):
            return see_other(f"/c/{token}/right/{back}")
        return see_other(f"/c/{token}/timers")

    return router


def _told(found: Consultation, form: Fields, site: Site) -> list[Telling] | FieldProblem:
    """What a form of the board tells, or what is wrong with it."""
    now = site.now()
    known = {timer.name: timer for timer in site.timers(found)}
    if form["off"]:
        return [("timer", form["off"], None)] if form["off"] in known else []
    if form["more"]:
        timer = known.get(form["more"])
        return longer(timer, MORE_MIN, now) if timer else []
    what = " ".join(form["what"].split()) or "Timer"
    if len(what) > LONGEST_WORDS or not what.isprintable():
        return FieldProblem("what", f"Say in at most {LONGEST_WORDS} letters what it is for.")
    text = form["minutes"] or form["own"]
    if not text:
        return FieldProblem("own", "Tap a number of minutes, or write one.")
    try:
        minutes = amounts.minutes(text if not text.replace(".", "").isdigit() else f"{text} min")
    except NotAQuantity as refused:
        return FieldProblem("own", str(refused))
    if minutes.value is None or not 0 < minutes.value <= LONGEST_MIN:
        return FieldProblem("own", "From 1 minute to 24 hours is accepted.")
    return starting(found, what, float(minutes.value), now, remedy=None)


def _usual(dough: Dough, stage: str | None) -> list[str]:
    """What timers are for in this recipe, those of the stage first."""
    order = sorted(dough.stages, key=lambda s: s.id != stage)
    return [timer.say for s in order for timer in s.timers]


def batch_name(found: Consultation) -> str:
    """What a batch is called on a board that everybody can read."""
    place = next(
        (str(e.value) for e in reversed(found.entries) if (e.kind, e.name) == ("kitchen", "place")),
        "A kitchen",
    )
    return f"{place.split(',')[0].split(':')[0]}, begun at {found.opened.astimezone():%H:%M}"
