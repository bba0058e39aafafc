"""The pages that say what to do: a remedy and how it went, carry on, start over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.consultations import Consultation
from diagnose.knowledge.book import Dough, Remedy
from diagnose.knowledge.diagnosis import Amount, Because, Diagnosis, PlanStep
from diagnose.knowledge.situation import Tried
from diagnose.reasoning.words import SOMETHING_ELSE

from . import steps, wording
from .doors import open_batch
from .forms import Form
from .replanning import begun_again
from .site import Site, remember, see_other, stage_named
from .situation import current, stage_of
from .timing import starting
from .told import Telling, form_key, record

LABELS = {
    "common practice": "Common practice, no source.",
    "house rule": "House rule, untested.",
}
WORTH_A_LESSON = 0.2
"""A second cause with at least this chance is carried into the next batch as well."""
MOST_DOSES = 6
"""The longest list of amounts from which a cook says how much was added."""


@dataclass(frozen=True, slots=True)
class DoseChoice:
    """One line of "how much did you add?"."""

    count: int
    say: str
    grams: float


def advice_pages(site: Site) -> APIRouter:
    """Remedy, done, start over, and a new batch in the same kitchen."""
    router = APIRouter(
        prefix="/c/{token}", include_in_schema=False, default_response_class=HTMLResponse
    )

    def stand(token: str) -> tuple[Consultation, Dough, Diagnosis | None]:
        found = site.consultation(token)
        return found, site.dough_of(found), site.diagnosis(found)

    def remedy_named(dough: Dough, name: str) -> Remedy:
        remedy = next((r for r in dough.remedies if r.id == name), None)
        if remedy is None:
            raise HTTPException(404, "This book has no such remedy.")
        return remedy

    @router.get("/remedy/{name}")
    def remedy(request: Request, token: str, name: str) -> Response:
        found, dough, diagnosis = stand(token)
        remedy_named(dough, name)
        step = next((s for s in diagnosis.plan if s.remedy == name), None) if diagnosis else None
        if step is None or diagnosis is None:
            # An old page: what it advised no longer follows from what was told.
            return see_other(f"/c/{token}")
        tries = [t for t in _tried(found, dough) if t.remedy == name]
        timers = site.timers(found)
        return site.page(
            request,
            "remedy.html",
            token=token,
            timers=timers,
            timer=next((t for t in timers if t.remedy == name), None),
            step=step,
            doses=dose_choices(step.amounts),
            attempt=len(tries) + 1,
            before=", ".join(wording.RESULTS[t.result].lower() for t in tries),
            label=LABELS.get(step.label, f"Source: {step.source}."),
            diagnosis=diagnosis,
            because=strongest(diagnosis, calls_for(dough, name)),
            final=step.kind == "discard",
        )

    @router.get("/turning")
    def turning(request: Request, token: str) -> Response:
        found = site.consultation(token)
        turning = site.turning(found)
        if turning is None:
            return see_other(f"/c/{token}/stage")
        return site.page(
            request, "turning.html", token=token, timers=site.timers(found), turning=turning
        )

    @router.get("/why-not/{name}")
    def why_not(request: Request, token: str, name: str) -> Response:
        found, dough, _ = stand(token)
        situation = site.situation(found)
        if situation is None:
            return see_other(f"/c/{token}/stage")
        try:
            answer = site.consultant.why_not(situation, name)
        except ValueError:
            raise HTTPException(404, "This book has no such cause or remedy.") from None
        says = {c.id: c.say for c in dough.causes}
        says |= {r.id: r.id.replace("-", " ").capitalize() for r in dough.remedies}
        return site.page(
            request,
            "why_not.html",
            token=token,
            timers=site.timers(found),
            what=says[name],
            answer=answer,
        )

    @router.post("/remedy/{name}")
    def tell_result(token: str, name: str, form: Form) -> Response:
        found, dough, diagnosis = stand(token)
        known = remedy_named(dough, name)
        step = next((s for s in diagnosis.plan if s.remedy == name), None) if diagnosis else None
        key = form_key(form["key"])
        if form["timer"]:
            minutes = step.minutes if step else known.minutes
            what = step.first if step else name.replace("-", " ").capitalize()
            timer = starting(found, what, minutes, site.now(), remedy=name)
            if timer:
                record(site.store, found, key, timer)
            return see_other(f"/c/{token}/remedy/{name}")
        if form["result"] not in wording.RESULTS:
            raise HTTPException(422, "Tap one of the four: it worked, no change, worse, can't do.")
        if not form["time"].isdecimal() or not 1 <= len(form["time"]) <= 3:
            raise HTTPException(
                422, "This form is not one of ours; go back and load the page again."
            )
        value: dict[str, str | float | None] = {
            "remedy": name,
            "result": form["result"],
            "added_g": None,
        }
        if known.amounts and form["result"] != "cannot":
            value["added_g"] = _added(step, form["added"])
        told: list[Telling] = [("tried", f"{name}#{int(form['time'])}", value)]
        return see_other(site.next_path(record(site.store, found, key, told)))

    @router.get("/done")
    def done(request: Request, token: str) -> Response:
        found, dough, diagnosis = stand(token)
        name = stage_of(found)
        if diagnosis is None or name is None:
            return see_other(f"/c/{token}/stage")
        if steps.settled_first(found) or steps.next_step(found, diagnosis).page != "done":
            return see_other(f"/c/{token}")
        place = [s.id for s in dough.stages].index(name)
        return site.page(
            request,
            "done.html",
            token=token,
            timers=site.timers(found),
            stage=dough.stages[place],
            following=dough.stages[place + 1] if place + 1 < len(dough.stages) else None,
            worked=steps.just_worked(found),
            carry_on=next((s for s in diagnosis.plan if s.kind == "none"), None),
            diagnosis=diagnosis,
        )

    @router.post("/done")
    def go_on(token: str, form: Form) -> Response:
        found = site.consultation(token)
        dough = site.dough_of(found)
        told: list[Telling]
        if form["recipe"]:
            where = form["recipe"]
            if where != steps.PLATED:
                where = stage_named(dough, where).id
            told = [("follows", "recipe", where)]
        else:
            stage = stage_named(dough, form["next"])
            told = [("stage", "stage", stage.id), ("look-again", stage.id, None)]
        return see_other(site.next_path(record(site.store, found, form_key(form["key"]), told)))

    @router.get("/over")
    def over(request: Request, token: str) -> Response:
        found, dough, diagnosis = stand(token)
        wrong = likely(diagnosis)
        lessons = [c.next_time for name in wrong for c in dough.causes if c.id == name]
        return site.page(
            request,
            "over.html",
            token=token,
            timers=site.timers(found),
            best=diagnosis is not None and diagnosis.situation in ("start-over", "discard"),
            cost=diagnosis.start_over if diagnosis else None,
            lessons=lessons,
            cautions=diagnosis.cautions if diagnosis else (),
        )

    @router.post("/again")
    def again(request: Request, token: str, form: Form) -> Response:
        found = site.consultation(token)
        dough = site.dough_of(found)
        told: list[Telling] = [
            (e.kind, e.name, e.value)
            for e in current(found, dough)
            if e.kind in ("kitchen", "batch", "batch-said", "avoid", "plan")
            and e.name not in ("serve_in_min", "chill")
        ]
        if not told:
            return see_other("/start")
        told = begun_again(told, site.now())
        told += [("avoid", name, None) for name in likely(site.diagnosis(found))]
        told.append(("follows", "recipe", dough.stages[0].id))
        fresh = open_batch(site, form["key"], told)
        return remember(see_other(f"/c/{fresh}"), request, fresh)

    return router


def likely(diagnosis: Diagnosis | None) -> list[str]:
    """The causes worth a thought next time: the first, and a second that may well be it too."""
    if diagnosis is None:
        return []
    return [
        cause.id
        for place, cause in enumerate(diagnosis.causes[:2])
        if cause.id != SOMETHING_ELSE and (place == 0 or cause.chance >= WORTH_A_LESSON)
    ]


def dose_choices(amounts: Sequence[Amount]) -> list[DoseChoice]:
    """How much may have been added, in steps of the first dose; the first step comes first.

    Of a remedy that adds two things the first is counted: the second goes along with it.
    """
    if not amounts:
        return []
    first = amounts[0]
    step = first.start_grams
    found = []
    for count in range(1, MOST_DOSES + 1):
        say = first.start_with if count == 1 else f"{count} times that"
        found.append(DoseChoice(count, f"{say} of {first.of}" if count == 1 else say, count * step))
    return found


def calls_for(dough: Dough, remedy: str) -> frozenset[str]:
    """The findings that leave this remedy and nothing else."""
    return frozenset(f.id for f in dough.findings if f.calls_for == remedy)


def strongest(
    diagnosis: Diagnosis, calling: frozenset[str] = frozenset(), most: int = 4
) -> list[Because]:
    """What speaks for the first cause, and what was found; rules before rows of the table.

    Where a finding in ``calling`` left no choice, only what concluded it is the reason.
    """
    called = [b for b in diagnosis.because if b.strength == "concludes" and b.for_ in calling]
    if called:
        return called[:most]
    top = diagnosis.causes[0].id if diagnosis.causes else ""
    words = ("decisive", "strong", "moderate", "concludes", "slight")
    bearing = [b for b in diagnosis.because if b.for_ == top and "against" not in b.strength]
    found = [b for b in diagnosis.because if b.strength == "concludes"]
    ranked = sorted(bearing, key=lambda b: words.index(b.strength.split()[0])
                    if b.strength.split()[0] in words else len(words))  # fmt: skip
    return (ranked + found)[:most]


def _added(step: PlanStep | None, text: str) -> float | None:
    """Grams of the dose chosen; None when it is not known."""
    if step is None or not text.isdecimal():
        return None
    return next((d.grams for d in dose_choices(step.amounts) if str(d.count) == text), None)


def _tried(found: Consultation, dough: Dough) -> list[Tried]:
    return [
        Tried(**e.value)
        for e in current(found, dough)
        if e.kind == "tried" and isinstance(e.value, dict)
    ]
