"""Going through the recipe stage by stage: what to do, what right looks like, yes or no."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.consultations import Consultation, Entry
from diagnose.kitchen.spoons import measure
from diagnose.knowledge.book import Dough, HouseBatch, Stage

from . import steps
from .forms import Form
from .library import right_looks
from .site import Site, see_other, stage_named
from .situation import current, stage_of
from .told import Telling, form_key, record
from .wording import number


def following_pages(site: Site) -> APIRouter:
    """The recipe of a consultation."""
    router = APIRouter(
        prefix="/c/{token}/right", include_in_schema=False, default_response_class=HTMLResponse
    )

    @router.get("/{name}")
    def stage_page(request: Request, token: str, name: str) -> Response:
        found = site.consultation(token)
        dough = site.dough_of(found)
        stage = stage_named(dough, name)
        held = current(found, dough)
        return site.page(
            request,
            "following.html",
            token=token,
            timers=site.timers(found),
            stage=stage,
            place=dough.stages.index(stage) + 1,
            of=len(dough.stages),
            do=with_amounts(stage, amounts_of(held, dough.house_batch)),
            looks=right_looks(dough, stage),
            avoid=to_avoid(held, dough, stage),
            following=after(dough, stage),
        )

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


def amounts_of(held: Iterable[Entry], house: HouseBatch) -> dict[str, str]:
    """The amounts of a batch in words, by ingredient; what was not told is in house proportion."""
    told = {e.name: e.value for e in held if e.kind == "batch" and isinstance(e.value, int | float)}
    milk = told.get("milk_g")
    scale = float(milk) / house.milk_g if isinstance(milk, int | float) else 1.0
    words = {}
    for name, amount in house_grams(house).items():
        key = name if name == "yolks" else f"{name}_g"
        value = told.get(key)
        grams = float(value) if isinstance(value, int | float) else amount * scale
        said = number(round(grams, 1))
        words[name] = said if name == "yolks" else f"{said} g ({measure(name, grams)})"
    return words


def house_grams(house: HouseBatch) -> Mapping[str, float]:
    """The house batch by ingredient; grams, and a number of yolks."""
    return {
        "milk": house.milk_g,
        "flour": house.flour_g,
        "salt": house.salt_g,
        "yolks": house.yolks,
        "cheese": house.cheese_g,
        "butter": house.butter_g,
    }


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
