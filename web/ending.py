"""How a batch ends: how it came out, and a summary to print or send."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, PlainTextResponse, Response

from casebook.cases import cases_of
from casebook.consultations import Consultation

from .advice import likely
from .forms import Form
from .site import Site, see_other
from .summary import OUTCOMES, as_text, story, thought
from .told import form_key, record


def ending_pages(site: Site) -> APIRouter:
    """The last pages of a consultation."""
    router = APIRouter(
        prefix="/c/{token}", include_in_schema=False, default_response_class=HTMLResponse
    )

    @router.get("/end")
    def end(request: Request, token: str) -> Response:
        found = site.consultation(token)
        return site.page(
            request,
            "end.html",
            token=token,
            timers=site.timers(found),
            outcomes=OUTCOMES,
            told=outcome_of(found),
        )

    @router.post("/end")
    def tell_outcome(token: str, form: Form) -> Response:
        found = site.consultation(token)
        if form["outcome"] not in OUTCOMES:
            raise HTTPException(422, "Tap one of the answers listed.")
        told = [("outcome", "batch", form["outcome"])]
        record(site.store, found, form_key(form["key"]), told)
        return see_other(f"/c/{token}/keep")

    def parts(found: Consultation) -> tuple[list[str], list[str]]:
        dough, diagnosis = site.dough_of(found), site.diagnosis(found)
        wrong = [n for n in likely(diagnosis) if n != dough.carry_on]
        lessons = [c.next_time for name in wrong for c in dough.causes if c.id == name]
        return thought(diagnosis) if wrong else [], lessons

    @router.get("/summary")
    def summary(request: Request, token: str) -> Response:
        found = site.consultation(token)
        thoughts, lessons = parts(found)
        return site.page(
            request,
            "summary.html",
            token=token,
            timers=site.timers(found),
            title=title_of(found),
            lines=story(found, site.dough_of(found)),
            thoughts=thoughts,
            lessons=lessons,
            told=outcome_of(found),
            kept=cases_of(site.store, token),
        )

    @router.get("/summary.txt")
    def summary_text(token: str) -> Response:
        found = site.consultation(token)
        text = as_text(title_of(found), story(found, site.dough_of(found)), *parts(found))
        name = f"batch-{found.opened.astimezone():%Y-%m-%d-%H%M}.txt"
        return PlainTextResponse(
            text, headers={"Content-Disposition": f'attachment; filename="{name}"'}
        )

    return router


def title_of(found: Consultation) -> str:
    """What to call a batch: the day and the hour it was begun, on this computer's clock."""
    return f"The batch of {found.opened.astimezone():%d %B %Y, %H:%M}"


def outcome_of(found: Consultation) -> str | None:
    """How the cook said it came out; None while nothing was said."""
    return next((str(e.value) for e in reversed(found.entries) if e.kind == "outcome"), None)
