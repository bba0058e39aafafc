"""The plan of a batch in hand: what is left to do, what changed, and what still fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.consultations import JSON, Consultation, Entry
from diagnose.kitchen.quantities import NotAQuantity
from diagnose.planning.asking import Wanted
from diagnose.planning.batch_plan import BatchPlan, plan
from diagnose.planning.relieving import hours
from diagnose.planning.sharing import share
from diagnose.planning.sizing import loads_of, sized
from diagnose.planning.tasks import STAGES, Standing, chill_range

from . import amounts, plan_form
from .beginning import batch_told, plan_told
from .forms import FieldProblem, Fields, Form
from .plan_request import minutes_of, request_of, wanted_from
from .planned import as_page
from .site import Site, see_other
from .situation import stage_of
from .steps import PLATED
from .timing import starting
from .told import Telling, form_key, record

MADE_FROM = "simmer"
"""From this stage on the batch is weighed: more guests share what is there."""


@dataclass(frozen=True, slots=True)
class Held:
    """What a consultation knows of its plan."""

    wanted: Wanted
    first: Wanted
    """As it was when the batch was weighed: it gives the size of the slab in hand."""
    serving: datetime | None
    stage: str
    chill_left: int | None
    loads_left: int | None
    """Loads still to brown, where the cook has said so."""
    done: frozenset[str]
    """Garnishes that are ready already."""
    since: datetime
    """Since when the batch stands at its stage."""


def replanning(site: Site) -> APIRouter:
    """The plan of a consultation."""
    router = APIRouter(
        prefix="/c/{token}/plan", include_in_schema=False, default_response_class=HTMLResponse
    )

    def show(
        request: Request, found: Consultation, held: Held, lost: bool = False, **more: Any
    ) -> Response:
        now = site.now()
        again = replanned(held, now, lost)
        pieces = None if lost else slab_in_hand(held)
        shared = None
        if pieces is not None:
            shared = share(pieces, held.wanted.guests, held.wanted.portion)
        stage = next((s for s in site.dough_of(found).stages if s.id == held.stage), None)
        return site.page(
            request,
            "replan.html",
            **{
                "token": found.token,
                "timers": site.timers(found),
                "lost": lost,
                "stage": None if lost else stage,
                "now": now.astimezone().strftime("%H:%M"),
                "left": _left(held.serving, now),
                "shared": shared,
                "boxes": boxes_of(held),
                "asks": asks_at(held.stage),
                "garnishes": [
                    {"name": g.name, "done": g.name in held.done} for g in held.wanted.garnishes
                ],
                **as_page(again, held.serving),
                **more,
            },
        )

    def known(token: str) -> tuple[Consultation, Held | None]:
        found = site.consultation(token)
        return found, held_by(found, site.now())

    @router.get("")
    def look(request: Request, token: str) -> Response:
        found, held = known(token)
        if held is None:
            return see_other("/plan")
        return show(request, found, held, "lost" in request.query_params)

    @router.post("")
    def change(request: Request, token: str, form: Form) -> Response:
        found, held = known(token)
        if held is None:
            raise HTTPException(404, "This batch was begun without a plan.")
        told, problems = changed(held, form, site.now())
        if problems:
            kept = {name: form[name] for name in boxes_of(held)}
            return show(request, found, held, problems=problems, boxes=kept, status=422)
        record(site.store, found, form_key(form["key"]), told)
        return see_other(f"/c/{token}/plan")

    @router.post("/timer")
    def timer(token: str, form: Form) -> Response:
        found, held = known(token)
        steps = replanned(held, site.now(), False).day.steps if held else ()
        step = next((s for s in steps if s.id == form["step"]), None)
        if step is None:
            raise HTTPException(404, "That step is done, or not in this plan.")
        told = starting(found, step.say, float(step.minutes), site.now(), remedy=None)
        if told:
            record(site.store, found, form_key(form["key"]), told)
        return see_other(f"/c/{token}/timers")

    return router


def held_by(found: Consultation, now: datetime) -> Held | None:
    """The plan a consultation was begun with, as it stands now; None without one."""
    plans = [e for e in found.entries if (e.kind, e.name) == ("plan", "plan")]
    weighed = [e for e in plans if isinstance(e.value, Mapping) and e.value.get("sized")]
    if not weighed:
        return None
    sizing, last = _read(weighed[-1].value), _read(plans[-1].value)
    if sizing is None or last is None:
        return None
    first, (wanted, serving) = sizing[0], last
    stage, since = _stands(found)
    since_here = [e for e in found.entries if e.kind == "plan" and e.at >= since]
    left = _minutes(serving, now)
    wanted = wanted.but(to_serving_min=None if left is None else max(0, left))
    chill = None
    if stage == "chill":
        until = _last(since_here, "chill", "until")
        if until is not None:
            chill = _minutes(datetime.fromisoformat(str(until)), now)
        else:
            gone = max(0, int((now - since).total_seconds() // 60))
            chill = ceil(chill_range(wanted).high) - gone
        chill = max(0, chill or 0)
    left_loads = _last(since_here, "loads", "left") if stage == "brown" else None
    ready = _last(found.entries, "ready", "garnishes")
    return Held(
        wanted,
        first,
        serving,
        stage,
        chill,
        left_loads if isinstance(left_loads, int) else None,
        frozenset(str(name) for name in ready) if isinstance(ready, list | tuple) else frozenset(),
        since,
    )


def known_by_plan(found: Consultation, now: datetime) -> dict[str, dict[str, str]]:
    """What the plan can put into the boxes of a help: help → box → text; empty without a plan."""
    held = held_by(found, now)
    if held is None:
        return {}
    wanted = held.wanted
    thick = f"{wanted.thickness_mm:g} mm"
    chill = {
        "thickness": thick,
        "support": str(wanted.support),
        "fridge": f"{wanted.fridge_c:g} °C",
    }
    if held.stage == "chill":
        chill["minutes"] = f"{max(0, int((now - held.since).total_seconds() // 60))} min"
    return {"slab": {"thickness": thick}, "chill": chill, "hot-middle": {"edge": thick}}


def _last(entries: Sequence[Entry], name: str, part: str) -> JSON:
    """What was last told under this name; None where nothing was."""
    told = next((e for e in reversed(entries) if (e.kind, e.name) == ("plan", name)), None)
    return told.value.get(part) if told and isinstance(told.value, Mapping) else None


def _read(value: JSON) -> tuple[Wanted, datetime | None] | None:
    if not isinstance(value, Mapping):
        return None
    wanted, _ = wanted_from(value["request"])
    if wanted is None:
        return None
    at = value.get("serving")
    return wanted, datetime.fromisoformat(str(at)) if at else None


def _stands(found: Consultation) -> tuple[str, datetime]:
    """The stage the cook is at, and since when."""
    for entry in reversed(found.entries):
        if entry.kind in ("follows", "stage"):
            stage = "serve" if entry.value == PLATED else str(entry.value)
            if stage in STAGES:
                return stage, entry.at
    return (stage_of(found) or STAGES[0]), found.opened


def _minutes(until: datetime | None, now: datetime) -> int | None:
    return None if until is None else int((until - now).total_seconds() // 60)


def _left(serving: datetime | None, now: datetime) -> str:
    left = _minutes(serving, now)
    if left is None:
        return ""
    return "The hour of serving is past." if left < 0 else f"{hours(left)} to the plate."


def slab_in_hand(held: Held) -> int | None:
    """Pieces of the batch that is made, None while it can still grow."""
    if STAGES.index(held.stage) < STAGES.index(MADE_FROM):
        return None
    return sized(held.first)[0].slab.pieces


def replanned(held: Held, now: datetime, lost: bool) -> BatchPlan:
    """What is left to do; for a lost batch all of it, in the time that is left."""
    if lost:
        return plan(held.wanted)
    at = Standing(held.stage, held.chill_left, slab_in_hand(held), held.loads_left, held.done)
    return plan(held.wanted, at)


def asks_at(stage: str) -> frozenset[str]:
    """The boxes that can still change something at this stage."""
    place = STAGES.index(stage)
    asked = {
        "thickness": place <= STAGES.index("shape"),
        "chill": stage == "chill",
        "loads": stage == "brown",
    }
    return frozenset(name for name, there in asked.items() if there)


def boxes_of(held: Held) -> dict[str, str]:
    """What the boxes for a change hold."""
    at = held.wanted.serve_at
    return {
        "guests": str(held.wanted.guests),
        "serve": "" if at is None else f"{at // 60:02}:{at % 60:02}",
        "thickness": f"{held.wanted.thickness_mm:g} mm",
        "chill": "",
        "loads": "" if held.loads_left is None else str(held.loads_left),
    }


def changed(held: Held, form: Fields, now: datetime) -> tuple[list[Telling], list[FieldProblem]]:
    """What a change tells: the plan anew, and how long the chill still takes."""
    boxes, asked = boxes_of(held), asks_at(held.stage)
    data = request_of(held.wanted)
    serving = held.serving
    problems: list[FieldProblem] = []
    told: list[Telling] = []

    def wrong(box: str, sentence: object) -> None:
        problems.append(FieldProblem(box, str(sentence)))

    more = form["more"]
    try:
        if more == "2":
            data["guests"] = held.wanted.guests + 2
        elif form["guests"] != boxes["guests"]:
            data["guests"] = plan_form.whole(form["guests"])
    except NotAQuantity as refused:
        wrong("guests", refused)
    try:
        if not more and form["serve"] and form["serve"] != boxes["serve"]:
            data["serve_at"] = plan_form.clock(form["serve"])
            serving = _moved(serving, data["serve_at"], now)
    except NotAQuantity as refused:
        wrong("serve", refused)
    try:
        if not more and "thickness" in asked and form["thickness"] not in ("", boxes["thickness"]):
            data["thickness_mm"] = plan_form.millimetres(form["thickness"])
    except NotAQuantity as refused:
        wrong("thickness", refused)
    try:
        if not more and "chill" in asked and form["chill"]:
            left = amounts.minutes(form["chill"]).value
            if not 0 <= left <= 24 * 60:
                raise NotAQuantity("From 0 minutes to 24 hours is accepted.")
            told.append(("plan", "chill", {"until": (now + timedelta(minutes=left)).isoformat()}))
    except NotAQuantity as refused:
        wrong("chill", refused)
    try:
        if not more and "loads" in asked and form["loads"] != boxes["loads"]:
            told.append(("plan", "loads", {"left": _loads(held, form["loads"])}))
    except NotAQuantity as refused:
        wrong("loads", refused)
    if not more:
        ready = [
            one.name
            for number, one in enumerate(held.wanted.garnishes, 1)
            if form[f"done{number}"] == "yes"
        ]
        if frozenset(ready) != held.done:
            told.append(("plan", "ready", {"garnishes": ready}))
    if problems:
        return [], problems
    wanted, refusals = wanted_from(data)
    if wanted is None:
        return [], [FieldProblem(plan_form.box_of(f), sentence) for f, sentence in refusals]
    left_now = None if serving is None else max(0, _minutes(serving, now) or 0)
    wanted = wanted.but(to_serving_min=left_now)
    try:
        again = plan(wanted)
    except ValueError as refused:
        return [], [FieldProblem("guests", str(refused))]
    to_be_weighed = slab_in_hand(held) is None
    if to_be_weighed:
        told += batch_told(again)
    elif serving != held.serving:
        told.append(("batch", "serve_in_min", left_now))
    return [*told, plan_told(wanted, serving, sized=to_be_weighed)], []


def _loads(held: Held, text: str) -> int | None:
    """How many loads are left; None takes it back. ``NotAQuantity`` beyond those there are."""
    if not text:
        return None
    most = loads_of(held.wanted, sized(held.wanted)[0], slab_in_hand(held)).loads
    left = plan_form.whole(text)
    if not 0 <= left <= most:
        raise NotAQuantity(f"There are {most} loads in all; 0 to {most} is accepted.")
    return left


def _moved(serving: datetime | None, serve_at: str, now: datetime) -> datetime:
    """The new hour, on the day it was planned for, or today."""
    day = (serving or now).astimezone()
    at = minutes_of(serve_at)
    assert at is not None
    return day.replace(hour=at // 60, minute=at % 60, second=0, microsecond=0)


def begun_again(told: list[Telling], now: datetime) -> list[Telling]:
    """What a batch told, for the next one: with a plan, the amounts and the time of that plan."""
    value = next((v for kind, name, v in told if (kind, name) == ("plan", "plan")), None)
    read = _read(value)
    if read is None:
        return [one for one in told if one[0] != "plan"]
    wanted, serving = read
    left = None if serving is None else max(0, _minutes(serving, now) or 0)
    again = plan(wanted.but(to_serving_min=left))
    kept = [one for one in told if one[0] not in ("batch", "batch-said", "plan")]
    return [*kept, *batch_told(again), plan_told(again.wanted, serving, sized=True)]
