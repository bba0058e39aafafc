"""A failure seen at the bench, kept by an instructor: one page, in under a minute.

What the form says becomes the entries of a consultation that was never opened, so that such a case
is made, checked and learned from like any other.
"""

from collections.abc import AsyncIterator
from dataclasses import replace
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.cases import Photo, UnknownCase, case, keep_case, mark
from casebook.consultations import Consultation, Entry
from casebook.photos import LARGEST_UPLOAD
from diagnose.kitchen.quantities import NotAQuantity
from diagnose.knowledge.book import Dough, Reading, Sign, Stage
from diagnose.knowledge.case import LONGEST_NOTE
from diagnose.knowledge.situations import read_situation
from diagnose.reasoning.posterior import in_play
from diagnose.reasoning.words import SOMETHING_ELSE as ANOTHER_CAUSE

from . import amounts, signing_in, wording
from .failures import case_of, failures
from .forms import FieldProblem, Fields
from .keeping import (
    alt_text,
    class_code_of,
    key_of,
    read_class_code,
    read_note,
    read_photo,
    remember_class,
)
from .kitchens import KITCHENS
from .site import Site, see_other, stage_named
from .situation import as_request
from .summary import OUTCOMES
from .told import SOMETHING_ELSE, Telling
from .uploads import Upload, read_desk_upload
from .wording import height, thousands


def bench_entry(site: Site) -> APIRouter:
    """The one page, first without and then with a stage."""
    router = APIRouter(
        prefix="/desk/cases/new", include_in_schema=False, default_response_class=HTMLResponse
    )

    def signed_in(request: Request) -> str:
        return signing_in.require_instructor(site, request)

    # Annotations are evaluated as they stand in this module: these names are local.
    Who = Annotated[str, Depends(signed_in)]

    async def upload_of(request: Request, who: Who) -> AsyncIterator[Upload]:
        # Who is asked first: nothing of a stranger's upload is read.
        async for upload in read_desk_upload(request, file="photo", most=LARGEST_UPLOAD):
            yield upload

    def show(request: Request, stage: Stage, said: dict[str, str], **more: Any) -> Response:
        signs, readings = looks_at(site.dough, stage)
        return signing_in.desk_page(
            site,
            request,
            "bench.html",
            **{
                "stage": stage,
                "signs": signs,
                "readings": readings,
                "kitchens": {k.id: f"{k.name}, {thousands(k.elevation_m)} m" for k in KITCHENS},
                "outcomes": OUTCOMES,
                "causes": causes_at(site.dough, stage),
                "said": Fields(said),
                "sure": "",
                "most": LONGEST_NOTE,
                "megabytes": LARGEST_UPLOAD // 1_000_000,
                **more,
            },
        )

    @router.get("")
    def page(
        request: Request, who: Who, stage: str = "", kitchen: str = "", kept: str = ""
    ) -> Response:
        if not stage:
            return signing_in.desk_page(
                site,
                request,
                "bench_stage.html",
                dough=site.dough,
                kitchen=kitchen if any(k.id == kitchen for k in KITCHENS) else "",
                kept=_title_of(site, kept),
            )
        said = {"kitchen": kitchen, "class_code": class_code_of(request)}
        return show(request, stage_named(site.dough, stage), said)

    @router.post("")
    def keep(request: Request, who: Who, upload: Annotated[Upload, Depends(upload_of)]) -> Response:
        form, dough, now = upload.fields, site.dough, site.now()
        stage = stage_named(dough, form["stage"])
        problems: list[FieldProblem] = []
        told, unusual = read_bench(form, dough, stage, problems)
        note = read_note(form["note"], problems)
        code = read_class_code(form["class"], problems)
        jpeg = read_photo(upload, problems)
        cause = form["cause"]
        if cause and cause not in causes_at(dough, stage):
            problems.append(FieldProblem("cause", "Choose one of the causes listed."))
        sure = "; ".join(problem.sentence for problem in unusual)
        if sure != form["sure"]:
            problems += unusual
        said = {**form, "class_code": form["class"]}
        if problems:
            return show(request, stage, said, problems=problems, status=422, sure=sure)
        found = _as_consultation(dough, told, now)
        (failure,) = failures(found, dough)
        _, wrong = read_situation(as_request(failure.situation, dough), site.book)
        if wrong:
            problems = [_problem(str(p), p.where) for p in wrong]
            return show(request, stage, said, problems=problems, status=422, sure=sure)
        made = replace(
            case_of(
                found,
                failure,
                dough,
                site.consultant.diagnose(failure.situation),
                note=note,
                class_code=code,
                kept=now,
            ),
            entered_by="instructor",
        )
        key = key_of(form["key"], who, told, note, code, jpeg, cause)
        photos = () if jpeg is None else (Photo(jpeg, alt_text(made.title)),)
        id = keep_case(site.store, made, key, photos=photos)
        if cause:
            mark(site.store, id, f"{key} 1", by=who, verdict="confirmed", causes=(cause,))
        answer = see_other(f"/desk/cases/new?kept={id}&kitchen={form['kitchen']}")
        return remember_class(answer, request, code)

    return router


def looks_at(dough: Dough, stage: Stage) -> tuple[list[Sign], list[Reading]]:
    """What can be seen and measured at a stage, without what the kitchen's own boxes hold."""
    return (
        [s for s in dough.signs if stage.id in s.stages],
        [r for r in dough.readings if stage.id in r.stages and r.given_by != "elevation"],
    )


def causes_at(dough: Dough, stage: Stage) -> dict[str, str]:
    """The causes that can show at a stage, in the order of their words, and "something else"."""
    found = sorted(in_play(dough, stage.id), key=lambda cause: cause.say)
    return {cause.id: cause.say for cause in found} | {
        ANOTHER_CAUSE: "Something else, which the book does not know"
    }


def read_bench(
    form: Fields, dough: Dough, stage: Stage, problems: list[FieldProblem]
) -> tuple[list[Telling], list[FieldProblem]]:
    """What the form tells, and the numbers that are possible and unusual.

    What is wrong is added to ``problems``.
    """
    told: list[Telling] = _kitchen(form, problems)
    told.append(("stage", "stage", stage.id))
    complaint = next((c for c in stage.complaints if c.id == form["complaint"]), None)
    if complaint is not None:
        signs = dict(complaint.told)
    elif form["complaint"] == SOMETHING_ELSE:
        signs = {}
    else:
        signs = {}
        problems.append(FieldProblem("complaint", "Say what went wrong; it may be the last one."))
    named: Telling = (
        "complaint",
        stage.id,
        {"id": complaint.id if complaint else SOMETHING_ELSE, "told": list(signs)},
    )
    told.append(named)
    looks, readings = looks_at(dough, stage)
    for sign in looks:
        answer = form[f"sign-{sign.id}"]
        if answer and all(a.id != answer for a in sign.answers):
            problems.append(FieldProblem(f"sign-{sign.id}", "Choose one of the answers listed."))
        elif answer:
            signs[sign.id] = answer
    told += [("sign", sign, answer) for sign, answer in signs.items()]
    unusual: list[FieldProblem] = []
    for reading in readings:
        text = form[f"reading-{reading.id}"]
        if text:
            read = _number(text, reading, unusual)
            if isinstance(read, FieldProblem):
                problems.append(read)
            else:
                told.append(("reading", reading.id, read))
    if form["outcome"] and form["outcome"] not in OUTCOMES:
        problems.append(FieldProblem("outcome", "Choose one of the answers listed."))
    elif form["outcome"]:
        told.append(("outcome", "batch", form["outcome"]))
    return told, unusual


def _kitchen(form: Fields, problems: list[FieldProblem]) -> list[Telling]:
    where = next((k for k in KITCHENS if k.id == form["kitchen"]), None)
    place, metres = "not known", None
    if form["elevation"] and form["kitchen"]:
        sentence = "Choose a kitchen or write an elevation, not both; empty one of them."
        problems.append(FieldProblem("elevation", sentence))
    elif form["elevation"]:
        try:
            metres = amounts.metres(form["elevation"]).value
            place = height(metres)
        except NotAQuantity as refused:
            problems.append(FieldProblem("elevation", str(refused)))
    elif where is not None:
        place, metres = f"{where.name}, {thousands(where.elevation_m)} m", where.elevation_m
    elif form["kitchen"]:
        problems.append(FieldProblem("kitchen", "Choose one of the kitchens listed."))
    return [("kitchen", "place", place), ("kitchen", "elevation_m", metres)]


def _number(
    text: str, reading: Reading, unusual: list[FieldProblem]
) -> FieldProblem | dict[str, Any]:
    field = f"reading-{reading.id}"
    try:
        quantity = amounts.reading(text, reading.unit)
        here = amounts.in_unit(quantity.value, quantity.unit, reading.unit)
    except (NotAQuantity, ValueError) as refused:
        return FieldProblem(field, str(refused))
    low, high = reading.likely
    if not low <= here <= high:
        said = wording.with_unit(quantity.value, quantity.unit)
        usual = f"{wording.number(low)} to {wording.with_unit(high, reading.unit)}"
        sentence = (
            f"{said} would be unusual here, where most read {usual}; send it again if it is right."
        )
        unusual.append(FieldProblem(field, sentence))
    return {"value": quantity.value, "unit": quantity.unit}


def _as_consultation(dough: Dough, told: list[Telling], now: datetime) -> Consultation:
    entries = [Entry(n, kind, name, value, now) for n, (kind, name, value) in enumerate(told, 1)]
    return Consultation("", dough.id, now, tuple(entries))


def _problem(sentence: str, where: str) -> FieldProblem:
    """A mistake that the reader of situations found, beside the box it is about."""
    part, _, name = where.partition(".")
    boxes = {"signs": f"sign-{name}", "readings": f"reading-{name}"}
    sentence = sentence.removeprefix(f"{where}: ")
    return FieldProblem(boxes.get(part, "elevation"), sentence[:1].upper() + sentence[1:])


def _title_of(site: Site, id: str) -> dict[str, str]:
    """What was kept just now, for the sentence above the next one."""
    try:
        return {"id": id, "title": case(site.store, id).title} if id else {}
    except UnknownCase:
        raise HTTPException(404, "There is no such case.") from None
