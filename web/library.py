"""The library: cases found in words and by what can be ticked; and what right looks like."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.searching import BANDS, Found, Results, search_cases
from casebook.store import Store
from diagnose.knowledge.book import Dough, Stage

from .paging import paged
from .site import Site, has_picture, stage_named
from .summary import OUTCOMES, remedy_in_words

HEIGHTS = {
    "low": "Below 300 m",
    "middle": "300 to 900 m",
    "high": "From 900 m up",
}
"""The bands of a kitchen's height, house rule; as ``casebook.preparing`` draws them."""
MOST_WORDS = 200
LABELS = {"shipped": "Invented teaching case", "confirmed": "Confirmed", "kept": "Kept"}


def library(site: Site) -> APIRouter:
    """The reading room."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/right")
    def right(request: Request) -> Response:
        return site.page(request, "right.html", dough=site.dough)

    @router.get("/right/{name}")
    def right_stage(request: Request, name: str) -> Response:
        dough = site.dough
        stage = stage_named(dough, name)
        place = dough.stages.index(stage)
        looks = right_looks(dough, stage)
        return site.page(
            request,
            "right_stage.html",
            stage=stage,
            following=dough.stages[place + 1] if place + 1 < len(dough.stages) else None,
            looks=looks,
        )

    @router.get("/cases")
    def cases(request: Request, page: int = 1) -> Response:
        dough = site.dough
        asked = read_asked(dict(request.query_params), dough)
        if not 1 <= page <= 100:
            raise HTTPException(404, "There are pages 1 to 100.")
        found = found_by(site.store, dough, asked, page)
        if page > max(1, found.pages):
            raise HTTPException(404, f"There are {found.pages} pages of these.")
        plenty = found.total and not found.loosely
        return site.page(
            request,
            "cases.html",
            asked=asked,
            choices=choices_for(dough, asked),
            chosen=chosen_in_words(dough, asked),
            found=found,
            heading=heading(found, asked),
            loosened=() if plenty else loosened(site.store, dough, asked),
            rows=[in_list(dough, row) for row in found.rows],
            earlier=asked.address(page - 1) if page > 1 else None,
            later=asked.address(page + 1) if page < found.pages else None,
        )

    @router.get("/cases/choose")
    def choose(request: Request, what: str = "sign") -> Response:
        asked = read_asked(dict(request.query_params), site.dough)
        heading, choices = choosing_one(site.dough, asked, what)
        back = asked.address() if "." in asked.sign else asked.without("sign").address()
        return site.page(request, "choose_case.html", heading=heading, choices=choices, back=back)

    @router.get("/cases/of-the-book")
    def of_the_book(request: Request, page: int = 1) -> Response:
        shown, pages = paged(site.dough.whole_cases, page)
        return site.page(request, "whole_cases.html", cases=shown, at=page, pages=pages)

    return router


def right_looks(dough: Dough, stage: Stage) -> list[tuple[str, str, str]]:
    """(sign, answer, words) of the drawn answers that speak for "nothing is wrong" at a stage."""
    signs = {s.id: s for s in dough.signs if stage.id in s.stages or "all" in s.stages}
    return [
        (row.of, answer.id, answer.say)
        for row in dough.evidence
        if row.about == dough.carry_on and row.of in signs
        for answer in signs[row.of].answers
        if row.answers.get(answer.id, "").endswith(" for") and has_picture(row.of, answer.id)
    ]


# --- what is asked of the library: read from an address, and written to one ---


@dataclass(frozen=True, slots=True)
class Asked:
    """What is looked for; an empty text asks nothing. ``sign`` may be a sign or sign.answer."""

    q: str = ""
    stage: str = ""
    sign: str = ""
    cause: str = ""
    band: str = ""
    remedy: str = ""
    outcome: str = ""
    confirmed: str = ""

    def address(self, page: int = 1, to: str = "/cases") -> str:
        """The address of one page of what is found, or of another page about the same."""
        told = {name: value for name in FILTERS if (value := getattr(self, name))}
        if page > 1:
            told["page"] = str(page)
        return f"{to}?{urlencode(told)}" if told else to

    def without(self, name: str) -> Asked:
        """The same with one thing less."""
        changed: dict[str, Any] = {name: ""}
        return replace(self, **changed)

    @property
    def filtered(self) -> bool:
        """Whether anything but words is asked."""
        return any(getattr(self, name) for name in FILTERS[1:])


FILTERS = ("q", "stage", "sign", "cause", "band", "remedy", "outcome", "confirmed")


def read_asked(given: dict[str, str], dough: Dough) -> Asked:
    """What an address asks for; 404 with a sentence for a name that this book does not know."""
    told = {name: given.get(name, "").strip() for name in FILTERS}
    told["q"] = told["q"][:MOST_WORDS]
    asked = Asked(**{**told, "confirmed": "1" if told["confirmed"] else ""})
    sign, _, answer = asked.sign.partition(".")
    answers = {s.id: {a.id for a in s.answers} for s in dough.signs}
    known = {
        "stage": asked.stage in {"", *(s.id for s in dough.stages)},
        "sign": not sign or (sign in answers and (not answer or answer in answers[sign])),
        "cause": asked.cause in {"", *(c.id for c in dough.causes)},
        "remedy": asked.remedy in {"", *(r.id for r in dough.remedies)},
        "band": asked.band in {"", *BANDS},
        "outcome": asked.outcome in {"", *OUTCOMES},
    }
    for what, fits in known.items():
        if not fits:
            raise HTTPException(404, f"This book knows no such {what}. Choose from the lists.")
    return asked


def found_by(store: Store, dough: Dough, asked: Asked, page: int = 1) -> Results:
    """One page of what is found."""
    sign, _, answer = asked.sign.partition(".")
    return search_cases(
        store,
        asked.q,
        dough=dough.id,
        stage=asked.stage or None,
        sign=(sign, answer) if answer else None,
        cause=asked.cause or None,
        elevation_band=next((band for band in BANDS if band == asked.band), None),
        remedy=asked.remedy or None,
        outcome=asked.outcome or None,
        confirmed_only=bool(asked.confirmed),
        page=page,
    )


def loosened(store: Store, dough: Dough, asked: Asked) -> list[tuple[str, str, int]]:
    """What would be found with one thing less: (what to leave out, address, how many)."""
    words = dict(chosen_in_words(dough, asked))
    if asked.q:
        words = {"q": f"the words “{asked.q}”", **words}
    found = []
    for name, say in words.items():
        other = asked.without(name)
        if other != Asked():
            total = found_by(store, dough, other).total
            if total:
                found.append((say, other.address(), total))
    return found


def choices_for(dough: Dough, asked: Asked) -> dict[str, list[tuple[str, str]]]:
    """What can be chosen on the page itself: causes only of a chosen step, else there are many."""
    choices = {
        "stage": [(s.id, s.title) for s in dough.stages],
        "band": list(HEIGHTS.items()),
        "outcome": list(OUTCOMES.items()),
        "confirmed": [("1", "Confirmed by an instructor")],
    }
    stage = asked.stage
    if stage:
        choices["cause"] = [(c.id, c.say) for c in dough.causes if stage in c.shows_at]
    return choices


def choosing_one(dough: Dough, asked: Asked, what: str) -> tuple[str, list[tuple[str, str]]]:
    """A page's question and its answers, each with the address it leads to.

    What was tried in a step, or what was seen: first the look, then its answer.
    """
    stage = asked.stage
    if not stage:
        raise HTTPException(404, "Choose a step first, then what was seen or tried in it.")
    if what == "remedy":
        return "What was tried?", [
            (said[:1].upper() + said[1:], replace(asked, remedy=r.id).address())
            for r in dough.remedies
            if stage in r.stages and r.kind not in ("none", "restart", "discard")
            for said in (remedy_in_words(r, r.id),)
        ]
    sign = next((s for s in dough.signs if s.id == asked.sign), None)
    if sign is None:
        return "Which look?", [
            (s.ask, replace(asked, sign=s.id).address(to="/cases/choose"))
            for s in dough.signs
            if stage in s.stages
        ]
    return sign.ask, [
        (a.say, replace(asked, sign=f"{sign.id}.{a.id}").address()) for a in sign.answers
    ]


def chosen_in_words(dough: Dough, asked: Asked) -> list[tuple[str, str]]:
    """Each filter that is set, and how to say it."""
    said = []
    if asked.stage:
        said.append(("stage", next(s.title for s in dough.stages if s.id == asked.stage)))
    sign, _, answer = asked.sign.partition(".")
    if answer:
        told = next(s for s in dough.signs if s.id == sign)
        said.append(("sign", next(a.say for a in told.answers if a.id == answer)))
    if asked.cause:
        said.append(("cause", next(c.say for c in dough.causes if c.id == asked.cause)))
    if asked.band:
        said.append(("band", HEIGHTS[asked.band].lower()))
    if asked.remedy:
        remedy = next(r for r in dough.remedies if r.id == asked.remedy)
        said.append(("remedy", f"tried: {remedy_in_words(remedy, remedy.id)}"))
    if asked.outcome:
        said.append(("outcome", OUTCOMES[asked.outcome]))
    if asked.confirmed:
        said.append(("confirmed", "confirmed only"))
    return said


def heading(found: Results, asked: Asked) -> str:
    """How many were found."""
    if not found.total:
        return "Nothing found"
    many = f"{found.total:,}{' and more' if found.more else ''}"
    kind = "case" if found.total == 1 else "cases"
    return f"{many} {kind}" + (", the newest first" if not asked.q else "")


@dataclass(frozen=True, slots=True)
class Row:
    """A case in the list."""

    id: str
    title: str
    where: str
    snippet: str


def in_list(dough: Dough, found: Found) -> Row:
    """How a case is listed: its step, how it ended, its label, and a sentence with the words."""
    head = found.head
    stage = next((s.title for s in dough.stages if s.id == head.stage), head.stage)
    parts = [stage, OUTCOMES.get(head.outcome or "", "")]
    snippet = found.snippet if len(found.snippet) <= 100 else f"{found.snippet[:97]}..."
    return Row(
        head.id,
        head.title,
        ". ".join(part for part in (*parts, label_of(head.entered_by, head.standing)) if part),
        snippet,
    )


def label_of(entered_by: str, standing: str) -> str:
    """How far a case can be trusted: invented, only kept, or confirmed by an instructor."""
    if entered_by == "shipped":
        return LABELS["shipped"]
    return LABELS["confirmed" if standing == "confirmed" else "kept"]
