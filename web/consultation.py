"""The pages of one consultation: stage, complaint, one question a page, what was told."""

from __future__ import annotations

import math
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.consultations import Consultation
from diagnose.kitchen.quantities import NotAQuantity
from diagnose.knowledge.book import Reading, Sign, Stage
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.situations import read_situation

from . import amounts, setting_up, wording
from .forms import FieldProblem, Fields, Form
from .kitchens import ROUGH_PLACES
from .recap import recap
from .site import Site, has_picture, remember, see_other, stage_named
from .situation import as_request, current, questions, stage_of
from .told import SOMETHING_ELSE, Telling, form_key, record
from .units import System

FIRST_COMPLAINTS = 8
"""Complaints shown at once; a stage has more than a cook with a hot pan can read, and the book
puts the usual ones first."""


def consultation_pages(site: Site) -> APIRouter:
    """Everything at a consultation's address but its advice."""
    router = APIRouter(
        prefix="/c/{token}", include_in_schema=False, default_response_class=HTMLResponse
    )

    def onward(found: Consultation, form: Fields, told: list[Telling]) -> Response:
        """Store what was told, then go where the consultation stands."""
        return see_other(site.next_path(record(site.store, found, form_key(form["key"]), told)))

    def meanwhile(diagnosis: Diagnosis | None, stage: Stage) -> str:
        return stage.meanwhile[-1].say if diagnosis is None else diagnosis.meanwhile

    @router.get("")
    def resume(request: Request, token: str) -> Response:
        found = site.consultation(token)
        answer = remember(see_other(site.next_path(found)), request, token)
        return site.keep_units(answer, request, found)

    @router.get("/stage")
    def stages(request: Request, token: str) -> Response:
        found = site.consultation(token)
        return site.page(
            request,
            "stage.html",
            token=token,
            timers=site.timers(found),
            dough=site.dough_of(found),
            told=stage_of(found),
        )

    @router.post("/stage")
    def tell_stage(token: str, form: Form) -> Response:
        found = site.consultation(token)
        stage = stage_named(site.dough_of(found), form["stage"])
        told: list[Telling] = [("stage", "stage", stage.id)]
        if stage_of(found) not in (None, stage.id):
            # Another stage is another look into the pan.
            told.append(("look-again", stage.id, None))
        return onward(found, form, told)

    @router.get("/complaint")
    def complaints(request: Request, token: str) -> Response:
        found = site.consultation(token)
        dough = site.dough_of(found)
        name = stage_of(found)
        if name is None:
            return see_other(f"/c/{token}/stage")
        stage = stage_named(dough, name)
        return site.page(
            request,
            "complaint.html",
            token=token,
            timers=site.timers(found),
            stage=stage,
            meanwhile=meanwhile(site.diagnosis(found), stage),
            pictured=complaint_pictures(stage),
            first=FIRST_COMPLAINTS,
        )

    @router.post("/complaint")
    def tell_complaint(token: str, form: Form) -> Response:
        found = site.consultation(token)
        dough = site.dough_of(found)
        stage = stage_named(dough, form["stage"])
        if form["complaint"] == SOMETHING_ELSE:
            return onward(
                found, form, [("complaint", stage.id, {"id": SOMETHING_ELSE, "told": []})]
            )
        complaint = next((c for c in stage.complaints if c.id == form["complaint"]), None)
        if complaint is None:
            raise HTTPException(404, "There is no such complaint at this stage.")
        told: list[Telling] = [
            ("complaint", stage.id, {"id": complaint.id, "told": list(complaint.told)})
        ]
        told += [("sign", sign, answer) for sign, answer in complaint.told.items()]
        return onward(found, form, told)

    def asked(found: Consultation, name: str) -> Sign | Reading:
        question = questions(site.dough_of(found)).get(name)
        if question is None:
            raise HTTPException(404, "This book has no such question.")
        return question

    def ask_page(
        request: Request, found: Consultation, question: Sign | Reading, **more: Any
    ) -> Response:
        diagnosis = site.diagnosis(found)
        name = stage_of(found)
        if diagnosis is None or name is None:
            return see_other(f"/c/{found.token}/stage")
        now = diagnosis.question
        told = next(
            (e.value for e in current(found, site.dough_of(found))
             if e.name == question.id and e.kind in ("sign", "reading")),
            None,
        )  # fmt: skip
        sign = question if isinstance(question, Sign) else None
        reading = question if isinstance(question, Reading) else None
        return site.page(
            request,
            "ask.html",
            **{
                "token": found.token,
                "timers": site.timers(found),
                "meanwhile": diagnosis.meanwhile,
                "question": {
                    "id": question.id,
                    "ask": question.ask,
                    "how": question.how or "",
                    "needs": (reading.tool or "") if reading else "",
                    "answers": sign.answers if sign else (),
                    "why": now.why if now and now.id == question.id else "",
                },
                "pictured": sign and any(has_picture(sign.id, a.id) for a in sign.answers),
                "told": told if isinstance(told, str) else "",
                "value": wording.number(told["value"]) if isinstance(told, dict) else "",
                "units": choices(reading) if reading else (),
                "unit": _unit(found, reading, told, site.units(request)) if reading else "",
                "confirm": "",
                "confirm_say": "",
                **more,
            },
        )

    @router.get("/ask/{name}")
    def ask(request: Request, token: str, name: str) -> Response:
        found = site.consultation(token)
        return ask_page(request, found, asked(found, name))

    @router.post("/ask/{name}")
    def answer(request: Request, token: str, name: str, form: Form) -> Response:
        found = site.consultation(token)
        question = asked(found, name)
        if form["answer"] == "not-looked":
            return onward(found, form, [("not-looked", name, None)])
        if isinstance(question, Sign):
            if all(a.id != form["answer"] for a in question.answers):
                problem = FieldProblem("", "Tap one of the answers, or say that you did not look.")
                return ask_page(request, found, question, problems=[problem], status=422)
            told: Telling = ("sign", name, form["answer"])
            refused = _refused(site, found, told)
            if refused:
                problem = FieldProblem("", refused)
                return ask_page(request, found, question, problems=[problem], status=422)
            return onward(found, form, [told])
        read = _read_number(site, found, question, form)
        if isinstance(read, FieldProblem):
            value, unit = form["value"], form["unit"]
            unit = unit if unit in choices(question) else question.unit
            return ask_page(
                request, found, question, problems=[read], status=422, value=value, unit=unit,
                **_confirmation(read, value, unit),
            )  # fmt: skip
        return onward(found, form, [read])

    @router.get("/told")
    def told_so_far(request: Request, token: str) -> Response:
        found = site.consultation(token)
        rows, earlier = recap(found, site.dough_of(found))
        return site.page(
            request,
            "told.html",
            token=token,
            timers=site.timers(found),
            rows=rows,
            earlier=earlier,
            address=str(request.url_for("resume", token=token)),
        )

    def setup_page(
        request: Request, found: Consultation, said: dict[str, str], **more: Any
    ) -> Response:
        return site.page(
            request,
            "setup.html",
            token=found.token,
            timers=site.timers(found),
            rough_places=ROUGH_PLACES,
            boxes=setting_up.BOXES,
            said=said,
            **more,
        )

    @router.get("/setup")
    def setup(request: Request, token: str) -> Response:
        found = site.consultation(token)
        dough = site.dough_of(found)
        return setup_page(request, found, setting_up.form_of(current(found, dough), dough))

    @router.post("/setup")
    def change_setup(request: Request, token: str, form: Form) -> Response:
        found = site.consultation(token)
        dough = site.dough_of(found)
        told, problems = setting_up.read_setup(form, site.book, dough)
        if problems:
            kept = setting_up.kept(form, dough)
            return setup_page(request, found, kept, problems=problems, status=422)
        return onward(found, form, told)

    return router


def complaint_pictures(stage: Stage) -> dict[str, tuple[str, str]]:
    """For each complaint that is drawn, the (sign, answer) whose picture stands for it."""
    found: dict[str, tuple[str, str]] = {}
    for complaint in stage.complaints:
        drawn = [told for told in complaint.told.items() if has_picture(*told)]
        if drawn:
            found[complaint.id] = drawn[0]
    return found


def choices(question: Reading) -> tuple[str, ...]:
    """The units in which a reading may be told."""
    return wording.CHOICES.get(question.unit, (question.unit,))


def _unit(found: Consultation, question: Reading, told: object, system: System) -> str:
    """The unit to offer first: the one told before, or last used for a number of this kind."""
    offered = choices(question)
    used = [e.value for e in found.entries if e.kind == "reading" and isinstance(e.value, dict)]
    for value in ([told] if isinstance(told, dict) else []) + used[::-1]:
        if value["unit"] in offered:
            return str(value["unit"])
    first = next((u for u in US_FIRST if u in offered), None) if system == "us" else None
    return first or question.unit


US_FIRST = ("degF", "oz", "in", "ft")
"""The units offered first to a cook who reads US units."""
_BORDERLINE = "Is that right?"


def _read_number(
    site: Site, found: Consultation, question: Reading, form: Fields
) -> Telling | FieldProblem:
    """The reading in a form, or what is wrong with it, or the question whether it is right."""
    unit = form["unit"] or question.unit
    if unit not in choices(question):
        return FieldProblem("unit", "Choose one of the units listed.")
    try:
        quantity = amounts.reading(form["value"], unit)
    except NotAQuantity as refused:
        return FieldProblem("value", str(refused))
    told: Telling = (
        "reading",
        question.id,
        {"value": quantity.value, "unit": quantity.unit},
    )
    refused_because = _refused(site, found, told)
    if refused_because:
        return FieldProblem("value", refused_because)
    here = quantity.value if quantity.unit == question.unit else quantity.to(question.unit)
    low, high = question.likely
    said = wording.with_unit(quantity.value, quantity.unit)
    if not low <= here <= high and form["confirm"] != said:
        likely = _likely_in(question, quantity.unit)
        return FieldProblem(
            "value", f"{said} would be unusual here, where most read {likely}. {_BORDERLINE}"
        )
    return told


def _likely_in(question: Reading, unit: str) -> str:
    ends = [amounts.in_unit(end, question.unit, unit) for end in question.likely]
    return (
        " to ".join(f"{math.floor(end + 0.5):,}" for end in ends)
        + f" {wording.UNITS.get(unit, unit)}"
    )


def _confirmation(problem: FieldProblem, value: str, unit: str) -> dict[str, str]:
    if not problem.sentence.endswith(_BORDERLINE):
        return {}
    quantity = amounts.reading(value, unit)
    said = wording.with_unit(quantity.value, quantity.unit)
    return {"confirm": said, "confirm_say": said}


def _refused(site: Site, found: Consultation, told: Telling) -> str:
    """Why the reader of situations will not take this answer, or nothing.

    First the answer alone, so that a range is said in the cook's own unit; then together with
    everything else, since a number can be possible and yet contradict another.
    """
    dough = site.dough_of(found)
    kind, name, value = told
    part = "signs" if kind == "sign" else "readings"
    alone = {"dough": dough.id, "stage": dough.stages[0].id, part: {name: value}}
    _, problems = read_situation(alone, site.book)
    if not problems:
        situation = site.situation_with(found, told)
        if situation is not None:
            _, problems = read_situation(as_request(situation, dough), site.book)
    if not problems:
        return ""
    sentence = str(problems[0]).removeprefix(f"{problems[0].where}: ")
    for unit in ("degC", "degF"):
        sentence = sentence.replace(unit, wording.UNITS[unit])
    return sentence[:1].upper() + sentence[1:]
