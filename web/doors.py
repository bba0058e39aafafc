"""The first page, and the one form that sets up a kitchen and a batch."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from casebook.consultations import load, open_consultation

from . import setting_up
from .forms import Form
from .kitchens import KITCHENS, ROUGH_PLACES
from .site import Site, remember, see_other, stage_named
from .told import Telling, form_key, key_for, record


def doors(site: Site) -> APIRouter:
    """The pages before there is a consultation."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    def start_page(
        request: Request, form: dict[str, str], stage: str, follow: str = "", **more: Any
    ) -> Response:
        return site.page(
            request,
            "start.html",
            dough=site.dough,
            kitchens=KITCHENS,
            rough_places=ROUGH_PLACES,
            boxes=setting_up.BOXES,
            house=setting_up.house_in_words(site.dough.house_batch),
            said=form,
            stage=stage,
            follow=follow,
            changed=form != setting_up.empty_form(site.dough),
            **more,
        )

    @router.get("/")
    def first_page(request: Request) -> Response:
        return site.page(request, "doors.html", dough=site.dough)

    @router.get("/start")
    def start(request: Request, stage: str = "", follow: str = "") -> Response:
        for name in filter(None, (stage, follow)):
            stage_named(site.dough, name)
        return start_page(request, setting_up.empty_form(site.dough), stage, follow)

    @router.post("/start")
    def begin(request: Request, form: Form) -> Response:
        stage, follow = form["stage"], form["follow"]
        for name in filter(None, (stage, follow)):
            stage_named(site.dough, name)
        if not form["kitchen"]:
            # A door of another page ("no, it is not right") that has asked nothing yet.
            return see_other(f"/start?stage={stage}" if stage else "/start")
        told, problems = setting_up.read_setup(form, site.book, site.dough)
        if problems:
            kept = setting_up.kept(form, site.dough)
            return start_page(request, kept, stage, follow, problems=problems, status=422)
        if stage:
            told.append(("stage", "stage", stage))
        if follow:
            told.append(("follows", "recipe", follow))
        token = open_batch(site, form["key"], told)
        return remember(see_other(f"/c/{token}"), request, token)

    return router


def open_batch(site: Site, key: str, told: list[Telling]) -> str:
    """Open a consultation with this kitchen and batch; its token. Twice the same: one."""
    key = key_for(form_key(key), told)
    token = open_consultation(site.store, site.dough.id, key)
    return record(site.store, load(site.store, token), key.replace(".", "-")[:40], told).token
