"""Practise: a case whose cause is hidden, looked into at the price of time, then answered.

All of an exercise stands in its address: which looks were taken, in order, and what was named. So
a reload, Back and a second phone are right, and nothing about a learner is kept here: progress is
a cookie (`practised`).
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from casebook.exercising import Exercise, exercise, exercise_names
from casebook.problems import UnknownCase
from diagnose.knowledge.book import Dough, Reading, Sign
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.situation import Situation
from diagnose.knowledge.situations import read_situation
from diagnose.knowledge.teaching import DIFFICULTIES
from diagnose.practising import (
    Verdict,
    can_be_asked,
    difficulty_of,
    first_of,
    known_looks,
    looked_at,
    minutes_spent,
    opening,
    verdict,
)
from diagnose.reasoning.words import EFFORT_MINUTES

from . import wording
from .case_pages import batch_in_words, causes_in_words, remedy_in_full, remedy_named, stage_title
from .forms import Form
from .practised import COOKIE, KEPT_S, Practised, as_cookie, from_cookie
from .site import Site, has_picture, see_other
from .summary import OUTCOMES

MOST_TRIED = 12
"""Cases that are weighed to find one of the wanted difficulty; each takes some milliseconds."""
EFFORTS = {
    "glance": "At a glance",
    "remember": "Ask the cook",
    "touch": "By touch",
    "taste": "By taste",
    "test": "By a test",
    "measure": "By measuring",
}
"""The kinds of looks, cheapest first."""


@dataclass(frozen=True)
class Opened:
    """An exercise, with all that was seen as the book in use reads it."""

    exercise: Exercise
    dough: Dough
    whole: Situation

    @property
    def name(self) -> str:
        return self.exercise.name


def practising(site: Site) -> APIRouter:
    """The pages of an exercise."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/practise")
    def first(request: Request) -> Response:
        practised = progress_of(request)
        return site.page(
            request,
            "practise.html",
            progress=practised.progress,
            due=practised.progress.due() is not None,
            levels=DIFFICULTIES,
        )

    @router.post("/practise/forget")
    def forget() -> Response:
        answer = see_other("/practise")
        answer.delete_cookie(COOKIE, httponly=True, samesite="lax")
        return answer

    @router.get("/practise/next")
    def another(request: Request, level: str = "") -> Response:
        if level and level not in DIFFICULTIES:
            raise HTTPException(404, f"There is no level {level!r}; {', '.join(DIFFICULTIES)} are.")
        name = choose(site, progress_of(request), level)
        if name is None:
            raise HTTPException(
                404, "There is no case to practise on yet: none has a cause that is known."
            )
        return see_other(f"/practise/{name}")

    @router.get("/practise/{name}")
    def look(request: Request, name: str) -> Response:
        opened = opened_exercise(site, name)
        asked = looks_of(request, opened)
        return site.page(request, "practise_look.html", **as_found(site, opened, asked))

    @router.get("/practise/{name}/cause")
    def name_cause(request: Request, name: str) -> Response:
        opened = opened_exercise(site, name)
        asked = looks_of(request, opened)
        return site.page(
            request,
            "practise_name.html",
            name=name,
            asked=asked,
            post=False,
            action=f"/practise/{name}/remedy",
            field="cause",
            kept={},
            heading="What went wrong?",
            choices=[(c.id, c.say) for c in opened.dough.causes
                     if opened.whole.stage in c.shows_at],
        )  # fmt: skip

    @router.get("/practise/{name}/remedy")
    def name_remedy(request: Request, name: str, cause: str = "") -> Response:
        opened = opened_exercise(site, name)
        asked = looks_of(request, opened)
        check_named(opened, cause)
        return site.page(
            request,
            "practise_name.html",
            name=name,
            asked=asked,
            post=True,
            action=f"/practise/{name}/answer",
            field="remedy",
            kept={"cause": cause},
            heading="What would you do first?",
            choices=[(r.id, remedy_named(opened.dough, r.id)) for r in opened.dough.remedies
                     if opened.whole.stage in r.stages],
        )  # fmt: skip

    @router.post("/practise/{name}/answer")
    def tell(request: Request, name: str, form: Form) -> Response:
        opened = opened_exercise(site, name)
        check_named(opened, form["cause"], form["remedy"])
        asked = [one for one in form["looked"].split(".") if one]
        right = judged(site, opened, form["cause"], form["remedy"]).right
        practised = progress_of(request).answered(name, right)
        query = {"looked": ".".join(asked), "cause": form["cause"], "remedy": form["remedy"]}
        return remember(
            see_other(f"/practise/{name}/answer?{urlencode(query)}"), request, practised
        )

    @router.get("/practise/{name}/answer")
    def answer(request: Request, name: str, cause: str = "", remedy: str = "") -> Response:
        opened = opened_exercise(site, name)
        check_named(opened, cause, remedy)
        asked = looks_of(request, opened)
        values = answered(site, opened, asked, cause, remedy)
        practised = progress_of(request)
        back = next((m for m in practised.progress.missed if m.name == name), None)
        return site.page(
            request,
            "practise_answer.html",
            back_after=back.due - practised.progress.done if back else 0,
            **values,
        )

    return router


# --- the exercise ---


def opened_exercise(site: Site, name: str) -> Opened:
    """The exercise of that name, or 404."""
    try:
        found = exercise(site.store, name)
    except UnknownCase:
        raise HTTPException(404, "There is no such case to practise on.") from None
    opened = whole_of(site, found)
    if opened is None:
        raise HTTPException(
            404, "The book has changed, and this case can no longer be practised. Take another."
        )
    return opened


def whole_of(site: Site, found: Exercise) -> Opened | None:
    """All that was told in a case before anything was done; None if the book cannot read it.

    What a cook tried later, in the same consultation, would give the answer away; what a teaching
    case says was tried came before.
    """
    dough = site.book.dough(found.case.dough)
    situation, _ = read_situation({**found.case.situation, "dough": found.case.dough}, site.book)
    if situation is None or dough is None:
        return None
    if found.case.entered_by != "shipped":
        situation = situation.model_copy(update={"tried": ()})
    return Opened(found, dough, situation)


def looks_of(request: Request, opened: Opened) -> tuple[str, ...]:
    """The looks in an address, each once, in order; 404 for one that cannot be taken here."""
    parts = [p for text in request.query_params.getlist("looked") for p in text.split(".") if p]
    asked = tuple(dict.fromkeys(parts))
    known = {part.id for part in can_be_asked(opened.dough, opened.whole)}
    if not known.issuperset(asked):
        raise HTTPException(404, "There is no such look in this step.")
    return asked


def check_named(opened: Opened, cause: str, remedy: str | None = None) -> None:
    """404 for a cause or a remedy that nobody could have chosen."""
    stage, dough = opened.whole.stage, opened.dough
    if cause not in {c.id for c in dough.causes if stage in c.shows_at}:
        raise HTTPException(404, "Choose one of the causes listed.")
    if remedy is not None and remedy not in {r.id for r in dough.remedies if stage in r.stages}:
        raise HTTPException(404, "Choose one of the remedies listed.")


def judged(site: Site, opened: Opened, cause: str, remedy: str) -> Verdict:
    """Whether an answer is right."""
    known = opened.exercise.truth
    whole = site.consultant.diagnose(opened.whole)
    return verdict(cause, remedy, known.causes, known.first_remedy, whole)


# --- pages ---


def as_found(site: Site, opened: Opened, asked: Sequence[str]) -> dict[str, Any]:
    """The case as the cook brought it, and what was looked at: nothing else is in the page."""
    whole, dough = opened.whole, opened.dough
    parts = {part.id: part for part in can_be_asked(dough, whole)}
    known = known_looks(whole, asked)
    groups = [
        (say, wording.seconds(EFFORT_MINUTES[effort]),  # type: ignore[index]
         [p for p in parts.values() if p.effort == effort and p.id not in asked])
        for effort, say in EFFORTS.items()
    ]  # fmt: skip
    place = next((t.value for t in opened.exercise.case.told if t.name == "place"), None)
    return {
        "name": opened.name,
        "title": opened.exercise.case.title,
        "stage": stage_title(dough, whole.stage),
        "place": place if isinstance(place, str) else "",
        "elevation_m": whole.kitchen.elevation_m,
        "batch": batch_in_words(whole.batch.model_dump(exclude_none=True)),
        "tried": [(remedy_named(dough, t.remedy), wording.RESULTS[t.result]) for t in whole.tried],
        "asked": tuple(asked),
        "seen": [seen(parts[n], whole) if n in known else (parts[n].ask, "", None) for n in asked],
        "spent": minutes_spent(dough, whole, asked),
        "groups": [group for group in groups if group[2]],
    }


def seen(part: Sign | Reading, whole: Situation) -> tuple[str, str, tuple[str, str] | None]:
    """(what was asked, what the cook saw, the drawn answer if there is one)."""
    if isinstance(part, Sign):
        answer = whole.signs[part.id]
        said = next(a.say for a in part.answers if a.id == answer)
        drawn = (part.id, answer) if has_picture(part.id, answer) else None
        return part.ask, said, drawn
    return part.ask, wording.with_unit(whole.readings[part.id], part.unit), None


def answered(
    site: Site, opened: Opened, asked: Sequence[str], cause: str, remedy: str
) -> dict[str, Any]:
    """What was true, what the book says from the same looks, and where the two differ."""
    whole, dough, known = opened.whole, opened.dough, opened.exercise.truth
    diagnose = site.consultant.diagnose
    told, same, at_first = (
        diagnose(whole), diagnose(looked_at(whole, asked)), diagnose(opening(whole)),
    )  # fmt: skip
    found = verdict(cause, remedy, known.causes, known.first_remedy, told)
    wanted = known.first_remedy if known.first_remedy is not None else first_of(told)
    case = opened.exercise.case
    note = (case.note or "").split("\n")
    shipped = case.entered_by == "shipped"
    return {
        "id": case.id,
        "title": case.title,
        "found": found,
        "named_cause": causes_in_words(dough, [cause])[0][0],
        "named_remedy": remedy_named(dough, remedy),
        "causes": causes_in_words(dough, known.causes),
        "wanted": remedy_in_full(dough, told, wanted),
        "by_book": known.first_remedy is None,
        "by": known.by,
        "outcome": OUTCOMES.get(case.outcome or "", ""),
        "lesson": note[-1] if shipped else "",
        "same": same,
        "told": told,
        "question": at_first.question,
        "differs": differences(dough, same, at_first, asked, cause, remedy),
        "spent": minutes_spent(dough, whole, asked),
        "looks": len(known_looks(whole, asked)),
        "level": difficulty_of(told, known.causes),
    }


def differences(
    dough: Dough,
    same: Diagnosis,
    at_first: Diagnosis,
    asked: Sequence[str],
    cause: str,
    remedy: str,
) -> list[str]:
    """Where a learner and the book part, from the same looks; in order of reasoning."""
    said = []
    question = at_first.question
    if question is not None and (not asked or question.id != asked[0]):
        place = "You did not look there"
        if question.id in asked:
            place = f"You looked there at look {list(asked).index(question.id) + 1}"
        said.append(f"It would have asked first: “{question.ask}” {place}.")
    if same.causes and same.causes[0].id != cause:
        mine = next((c for c in same.causes if c.id == cause), None)
        held = f"; to yours it gives “{mine.words}”" if mine else ""
        said.append(f"It holds this likeliest: “{same.causes[0].say}”{held}.")
    first = first_of(same)
    if first is not None and first != remedy:
        said.append(f"It would begin with: “{same.plan[0].first}”.")
    return said


# --- which case is next, and what was practised ---


def choose(site: Site, practised: Practised, level: str = "") -> str | None:
    """The name of the next exercise: one that comes back, a teaching case, a confirmed one.

    Those not seen lately come first, in no order; never the last one again if there is another.
    With a level, the first of those weighed that has it, else any.
    """
    due = practised.progress.due()
    teaching, confirmed = exercise_names(site.store, site.dough.id)
    if due is not None and not level and usable(site, due):
        return due
    lucky = secrets.SystemRandom()
    last = practised.progress.last
    shuffled = [lucky.sample(names, len(names)) for names in (teaching, confirmed)]
    fresh = [n for names in shuffled for n in names if not practised.has_seen(n)]
    known = [n for names in shuffled for n in names if practised.has_seen(n) and n != last]
    names = [*fresh, *known, *([last] if last in {*teaching, *confirmed} else [])]
    weighed: list[str] = []
    for name in names:
        if len(weighed) == MOST_TRIED:
            break
        found = usable(site, name)
        if found is None:
            continue
        if not level or level_of(site, found) == level:
            return name
        weighed.append(name)
    return weighed[0] if weighed else None


def usable(site: Site, name: str) -> Opened | None:
    """The exercise, if there still is one of that name that this book can read."""
    try:
        return whole_of(site, exercise(site.store, name))
    except UnknownCase:
        return None


def level_of(site: Site, opened: Opened) -> str:
    """How hard an exercise is."""
    told = site.consultant.diagnose(opened.whole)
    return difficulty_of(told, opened.exercise.truth.causes)


def progress_of(request: Request) -> Practised:
    """What this learner has practised, as their own device tells."""
    return from_cookie(request.cookies.get(COOKIE, ""))


def remember(answer: RedirectResponse, request: Request, practised: Practised) -> RedirectResponse:
    """Let the device keep what was practised."""
    answer.set_cookie(
        COOKIE, as_cookie(practised), KEPT_S, httponly=True, samesite="lax",
        secure=request.url.scheme == "https",
    )  # fmt: skip
    return answer
