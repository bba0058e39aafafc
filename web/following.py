"""Going through the recipe stage by stage: what to do, what right looks like, yes or no."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.consultations import Consultation, Entry
from diagnose.kitchen.measuring import FLOUR_METHODS, flour_really_used_g
from diagnose.kitchen.spoons import measure
from diagnose.knowledge.book import Dough, Stage
from diagnose.planning.formula import Amounts

from . import steps
from .forms import Form
from .helps import help_named, helps_at
from .library import right_looks
from .replanning import known_by_plan
from .site import Site, see_other, stage_named
from .situation import current, stage_of
from .told import Telling, form_key, record
from .wording import number
from .working import Worked, batch_of, read_help, worked


def following_pages(site: Site) -> APIRouter:
    """The recipe of a consultation."""
    router = APIRouter(
        prefix="/c/{token}/right", include_in_schema=False, default_response_class=HTMLResponse
    )

    def show(request: Request, found: Consultation, stage: Stage, **more: Any) -> Response:
        dough = site.dough_of(found)
        token = found.token
        held = current(found, dough)
        batch = batch_of(held, dough.house_batch)
        known = known_by_plan(found, site.now())
        return site.page(
            request,
            "following.html",
            token=token,
            timers=site.timers(found),
            stage=stage,
            planned=any(e.kind == "plan" for e in held),
            place=dough.stages.index(stage) + 1,
            of=len(dough.stages),
            do=with_amounts(stage, in_words(batch, way_of(held))),
            looks=right_looks(dough, stage),
            avoid=to_avoid(held, dough, stage),
            following=after(dough, stage),
            **{
                "helps": [worked(e, held, batch, known.get(e.id)) for e in helps_at(stage.id)],
                **more,
            },
        )

    @router.get("/{name}")
    def stage_page(request: Request, token: str, name: str) -> Response:
        found = site.consultation(token)
        return show(request, found, stage_named(site.dough_of(found), name))

    @router.post("/{name}/{which}")
    def work_out(request: Request, token: str, name: str, which: str, form: Form) -> Response:
        found = site.consultation(token)
        dough = site.dough_of(found)
        stage = stage_named(dough, name)
        each = help_named(which)
        if each is None or each.stage != stage.id:
            raise HTTPException(404, "There is nothing to work out under that name.")
        held = current(found, dough)
        batch = batch_of(held, dough.house_batch)
        told, problems = read_help(each, form, dough, batch)
        if problems:
            kept = {box.name: form[box.name] for box in each.boxes}
            shown = [
                Worked(each, kept, ()) if other is each else worked(other, held, batch)
                for other in helps_at(stage.id)
            ]
            return show(request, found, stage, helps=shown, problems=problems, status=422)
        told.append(("follows", "recipe", stage.id))
        record(site.store, found, form_key(form["key"]), told)
        return see_other(f"/c/{token}/right/{stage.id}#{each.id}")

    @router.post("/{name}")
    def tell(token: str, name: str, form: Form) -> Response:
        found = site.consultation(token)
        dough = site.dough_of(found)
        stage = stage_named(dough, name)
        told: list[Telling]
        if form["right"] == "yes":
            following = after(dough, stage)
            told = [("follows", "recipe", following.id if following else steps.PLATED)]
        elif form["right"] == "no":
            told = [("stage", "stage", stage.id)]
            if stage_of(found) is not None:
                # Another look into the pan: what was seen earlier is no longer there.
                told.append(("look-again", stage.id, None))
        else:
            raise HTTPException(422, "Tap one of the two: yes, go on; or no, something is wrong.")
        return see_other(site.next_path(record(site.store, found, form_key(form["key"]), told)))

    return router


def after(dough: Dough, stage: Stage) -> Stage | None:
    """The stage that follows, or None after the last."""
    place = dough.stages.index(stage) + 1
    return dough.stages[place] if place < len(dough.stages) else None


def way_of(held: Iterable[Entry]) -> str:
    """How the flour of a batch is measured."""
    told = {e.value for e in held if (e.kind, e.name) == ("batch", "flour_measured")}
    return next((str(way) for way in told if way in FLOUR_METHODS), "unknown")


def in_words(batch: Amounts, way: str = "unknown") -> dict[str, str]:
    """The amounts of a batch, by the names that a step may hold.

    Flour by the cup is told in the label's grams; what cups filled this way weigh is shown.
    """
    grams = {
        "milk": batch.milk_g,
        "flour": batch.flour_g,
        "salt": batch.salt_g,
        "cheese": batch.cheese_g,
        "butter": batch.butter_g,
    }
    words = {name: f"{number(round(g, 1))} g ({measure(name, g)})" for name, g in grams.items()}
    really = round(flour_really_used_g(batch.flour_g, way))
    if way not in ("weighed", "unknown", "sifted-after"):
        words["flour"] = f"{really} g ({measure('flour', batch.flour_g)})"
    return {**words, "yolks": number(round(batch.yolks, 1))}


def with_amounts(stage: Stage, amounts: Mapping[str, str]) -> list[str]:
    """The steps of a stage with the amounts put in, plainly: a step is data, not a template."""
    steps_ = []
    for text in stage.do:
        for name, words in amounts.items():
            text = text.replace(f"{{{name}}}", words)
        steps_.append(text)
    return steps_


def to_avoid(held: Iterable[Entry], dough: Dough, stage: Stage) -> list[str]:
    """What went wrong with the batch before this one and can be avoided here."""
    carried = {e.name for e in held if e.kind == "avoid"}
    first = dough.stages[0].id
    return [
        cause.next_time
        for cause in dough.causes
        if cause.id in carried and (stage.id in cause.shows_at or stage.id == first)
    ]


def following_stage(consultation: Consultation) -> str | None:
    """The stage at which a cook who goes through the recipe stands; None for one who does not."""
    return next((str(e.value) for e in reversed(consultation.entries) if e.kind == "follows"), None)
