"""The planner's pages: a short form, the plan, and the batch that begins with it."""

from __future__ import annotations

from datetime import datetime, timedelta
from urllib.parse import parse_qsl

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from casebook.counting import batches_lost
from diagnose.planning.asking import Wanted
from diagnose.planning.batch_plan import BatchPlan, plan
from diagnose.planning.spare import chance_lost_from

from . import plan_form
from .api import Body
from .beginning import told_by
from .doors import open_batch
from .forms import FieldProblem, Form
from .kitchens import KITCHENS
from .plan_request import as_json, schemas, wanted_from
from .planned import as_page
from .site import Site, remember, see_other


def planning(site: Site) -> APIRouter:
    """Form, plan and start."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    def form_page(request: Request, said: dict[str, str], problems: list[FieldProblem]) -> Response:
        return site.page(
            request,
            "plan.html",
            status=422 if problems else 200,
            problems=problems,
            said=said,
            kitchens=KITCHENS,
            choices=plan_form.CHOICES,
        )

    @router.get("/plan")
    def show(request: Request) -> Response:
        said = plan_form.held(request.query_params)
        if not any(said.values()) or "edit" in request.query_params:
            return form_page(request, said, [])
        found, counted, problems = planned(site, said)
        if found is None:
            return form_page(request, said, problems)
        return site.page(
            request,
            "plan_result.html",
            here="/plan",
            address=plan_form.address(said),
            **as_page(found, serving_of(found.wanted, site.now()), counted),
        )

    @router.post("/plan/start")
    def start(request: Request, form: Form) -> Response:
        said = plan_form.held(dict(parse_qsl(form["plan"])))
        found, _, problems = planned(site, said)
        if found is None:
            return form_page(request, said, problems)
        told = told_by(found, said, site.dough, site.now())
        token = open_batch(site, form["key"], told)
        return remember(see_other(f"/c/{token}"), request, token)

    return router


def planned(
    site: Site, said: dict[str, str]
) -> tuple[BatchPlan | None, tuple[int, int] | None, list[FieldProblem]]:
    """The plan for what stands in the boxes and the batches it counted, or what is wrong."""
    wanted, problems = plan_form.read(said, site.now())
    if wanted is None:
        return None, None, problems
    counted = None
    if wanted.elevation_m is not None:
        lost, of = counted = batches_lost(site.store, site.dough.id, wanted.elevation_m)
        wanted = wanted.but(chance_lost=chance_lost_from(lost, of) if of else None)
    try:
        return plan(wanted), counted, []
    except ValueError as refused:
        return None, None, [FieldProblem("", str(refused))]


def serving_of(wanted: Wanted, now: datetime) -> datetime | None:
    """When it is served, to the minute; None for another day or no hour."""
    if wanted.to_serving_min is None:
        return None
    return now.replace(second=0, microsecond=0) + timedelta(minutes=wanted.to_serving_min)


def plan_api(site: Site) -> APIRouter:
    """The plan for programs."""
    router = APIRouter(prefix="/api/v1")
    asked, answered = schemas()

    @router.post(
        "/plan",
        openapi_extra={
            "requestBody": {
                "required": True,
                "content": {"application/json": {"schema": asked}},
            }
        },
        responses={
            200: {"content": {"application/json": {"schema": answered}}},
            413: {"description": "Too much was sent."},
            415: {"description": "Only application/json is accepted."},
            422: {"description": "One sentence for each mistake."},
        },
    )
    def make_plan(body: Body) -> JSONResponse:
        """Guests and kitchen in, a whole batch plan out; nothing is stored."""
        wanted, problems = wanted_from(body)
        if wanted is None:
            return JSONResponse({"problems": [sentence for _, sentence in problems]}, 422)
        try:
            found = plan(wanted)
        except ValueError as refused:
            raise HTTPException(422, str(refused)) from None
        return JSONResponse(as_json(found))

    return router
