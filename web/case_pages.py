"""A case to read: its story in order, what it turned out to be, and what the book says today."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.cases import case as load_case
from casebook.cases import photo, photos, standing
from casebook.consultations import Entry
from casebook.exchange import export_case
from casebook.exercising import named, truth
from casebook.likeness import alike
from casebook.problems import UnknownCase
from diagnose.explaining import Speaker
from diagnose.knowledge.book import Book, Dough, WholeCase
from diagnose.knowledge.case import Case, Told
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.situation import Situation
from diagnose.knowledge.situations import read_situation
from diagnose.knowledge.teaching import CASES

from . import wording
from .library import label_of
from .signing_in import instructor
from .site import Site, has_picture
from .situation import questions
from .summary import OUTCOMES, line_of, remedy_in_words

MOST_PICTURES = 8
"""Drawings on a page, which keep it within its budget of bytes."""
MOST_LINES = 60
MOST_RULES = 6


@dataclass(frozen=True, slots=True)
class StoryLine:
    """One thing told or done; ``picture`` is the drawn (sign, answer), if there is one."""

    clock: str
    what: str
    said: str
    picture: tuple[str, str] | None = None


def case_pages(site: Site) -> APIRouter:
    """The page of a case, its file and its photos."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/cases/{name}.yaml")
    def file(name: str) -> Response:
        text = text_of(site, name)
        headers = {"Content-Disposition": f'attachment; filename="{name}.yaml"'}
        return Response(text, media_type="application/yaml", headers=headers)

    @router.get("/cases/{name}/photos/{number}.jpg")
    def picture(name: str, number: int) -> Response:
        if not 1 <= number <= 99:
            raise HTTPException(404, "There is no such photo.")
        try:
            found = photo(site.store, name, number)
        except UnknownCase:
            raise HTTPException(404, "There is no such photo.") from None
        # A case is never changed, so neither is its photo.
        keep = {"Cache-Control": "private, max-age=86400, immutable"}
        return Response(found.jpeg, media_type="image/jpeg", headers=keep)

    @router.get("/cases/of-the-book/{name}")
    def of_the_book(request: Request, name: str) -> Response:
        return whole_case(request, name)

    @router.get("/cases/{name}")
    def case(request: Request, name: str) -> Response:
        try:
            found = load_case(site.store, name)
        except UnknownCase:
            return whole_case(request, name)
        dough = site.book.dough(found.dough)
        if dough is None:
            raise HTTPException(
                404, f'This book has no dough called "{found.dough}". The case is still kept.'
            )
        known = truth(site.store, name)
        lines = story_lines(found, dough)
        situation, cannot = situation_of_case(found, site.book)
        said = None if situation is None else site.consultant.diagnose(situation)
        note = (found.note or "").split("\n")
        shipped = found.entered_by == "shipped"
        return site.page(
            request,
            "case.html",
            case=found,
            may_change=instructor(request) is not None,
            label=label_of(found.entered_by, standing(site.store, name)),
            when="" if shipped else f"{found.opened.astimezone():%d %B %Y}",
            stage=stage_title(dough, found.stage),
            lines=lines[:MOST_LINES],
            left=max(0, len(lines) - MOST_LINES),
            photos=photos(site.store, name),
            note=note[:-1] if shipped else [line for line in note if line.strip()],
            lesson=note[-1] if shipped else "",
            known=known,
            causes=causes_in_words(dough, known.causes),
            first=remedy_in_full(dough, said, known.first_remedy),
            thought=thought_in_words(dough, found) if not shipped else (),
            outcome=OUTCOMES.get(found.outcome or "", ""),
            diagnosis=said,
            cannot=cannot,
            rules=rules_that_spoke(said, dough, known.causes),
            alike=[(a.head, label_of(a.head.entered_by, a.head.standing),
                    stage_title(dough, a.head.stage)) for a in alike(site.store, name)],
            practise=f"/practise/{named(name, found.entered_by)}" if known.causes else None,
        )  # fmt: skip

    def whole_case(request: Request, name: str) -> Response:
        dough = site.dough
        found = next((c for c in dough.whole_cases if c.id == name), None)
        if found is None:
            raise HTTPException(404, "There is no such case in this casebook.")
        situation, problems = read_situation({"dough": dough.id, **found.situation}, site.book)
        if situation is None:
            raise HTTPException(500, f"This case cannot be read: {problems[0]}")
        return site.page(
            request,
            "whole_case.html",
            case=found,
            may_change=instructor(request) is not None,
            told=told_in_words(dough, found),
            diagnosis=site.consultant.diagnose(situation),
            source=Speaker(site.book, dough).source(found.source),
        )

    return router


def text_of(site: Site, name: str) -> str:
    """A case as YAML: as it is exchanged, or a teaching case as it was written."""
    try:
        found = load_case(site.store, name)
        # An id is a name of small letters, digits and hyphens, so it names no other folder.
        if found.entered_by == "shipped" and (CASES / f"{name}.yaml").is_file():
            return (CASES / f"{name}.yaml").read_text(encoding="utf-8")
        return export_case(site.store, name)
    except UnknownCase:
        raise HTTPException(404, "There is no file of such a case.") from None


def situation_of_case(case: Case, book: Book) -> tuple[Situation | None, str]:
    """What was told, as this book reads it; without a remedy that settled it at the end.

    None, and why, if the book has changed too much since.
    """
    situation, problems = read_situation({**case.situation, "dough": case.dough}, book)
    if situation is None:
        return None, str(problems[0]) if problems else "nothing was told"
    tried = situation.tried
    if tried and tried[-1].result == "worked":
        situation = situation.model_copy(update={"tried": tried[:-1]})
    return situation, ""


def story_lines(case: Case, dough: Dough) -> list[StoryLine]:
    """What was told and done, in order; of a thing told again at once, only the last word."""
    lines: list[StoryLine] = []
    batch = batch_in_words(case.situation.get("batch"))
    if batch:
        lines.append(StoryLine("", "What went in", batch))
    drawn = 0
    for number, told in enumerate(case.told, 1):
        line = _line(told, number, dough, clock=case.entered_by != "shipped")
        if line is None:
            continue
        if lines and lines[-1].what == line.what:
            drawn -= lines.pop().picture is not None
        if line.picture is not None and drawn >= MOST_PICTURES:
            line = StoryLine(line.clock, line.what, line.said)
        drawn += line.picture is not None
        lines.append(line)
    return lines


def _line(told: Told, number: int, dough: Dough, *, clock: bool) -> StoryLine | None:
    when = f"{told.at.astimezone():%H:%M}" if clock else ""
    try:
        line = line_of(Entry(number, told.kind, told.name, told.value, told.at), dough)
    except (KeyError, TypeError, ValueError, AttributeError):
        # A case of another casebook may hold what this program never wrote: shown as it stands.
        return StoryLine(when, told.name[:80], str(told.value)[:200])
    if line is None:
        return None
    shown = (told.name, str(told.value))
    drawn = told.kind == "sign" and has_picture(*shown)
    return StoryLine(when, line.what, line.said, shown if drawn else None)


def batch_in_words(batch: object) -> str:
    """What went in, in one line; empty if nobody said."""
    return "; ".join(_batch(batch)) if isinstance(batch, Mapping) else ""


def _batch(batch: Mapping[str, Any]) -> Iterator[str]:
    known = [name for name in wording.FIELDS if name in batch]
    for name in (*known, *(name for name in batch if name not in wording.FIELDS)):
        value = batch[name]
        what, _, unit = wording.FIELDS.get(name, name.replace("_", " ")).partition(", ")
        if name == "flour_measured":
            if value != "unknown":
                yield f"flour {wording.FLOUR_MEASURED.get(str(value), str(value)).lower()}"
        elif isinstance(value, int | float):
            yield f"{what.lower()} {wording.number(value)}{' ' + unit if unit else ''}"


def rules_that_spoke(
    said: Diagnosis | None, dough: Dough, causes: Sequence[str]
) -> list[tuple[str | None, str, str]]:
    """(rule id or None for a row of the table, what it says, how it speaks), the telling first.

    About the true causes if they are known, else about the likeliest.
    """
    if said is None:
        return []
    about = set(causes) or {cause.id for cause in said.causes[:1]}
    rules = {rule.id for rule in dough.rules}
    telling = [b for b in said.because if b.for_ in about or b.strength == "concludes"]
    telling.sort(key=lambda b: (b.strength == "concludes", b.rule not in rules))
    return [
        (b.rule if b.rule in rules else None, wording.full_stop(b.says), speaks(b.strength))
        for b in telling[:MOST_RULES]
    ]


def speaks(strength: str) -> str:
    """How a rule or a row speaks, in words; empty for one that only concludes.

    >>> speaks("strong for"), speaks("slight against"), speaks("rules out"), speaks("concludes")
    ('strong evidence', 'speaks against it', 'speaks against it', '')
    """
    if strength.endswith("against") or strength == "rules out":
        return "speaks against it"
    return wording.evidence(strength)


def causes_in_words(dough: Dough, causes: Sequence[str]) -> list[tuple[str, str]]:
    """(what it was, what to do next time) of each cause; of one this book lost, its name."""
    known = {cause.id: cause for cause in dough.causes}
    return [
        (known[name].say, known[name].next_time) if name in known
        else (name.replace("-", " ").capitalize(), "")
        for name in causes
    ]  # fmt: skip


def remedy_named(dough: Dough, name: str | None) -> str:
    """A remedy's headline; empty for none."""
    if name is None:
        return ""
    remedy = next((r for r in dough.remedies if r.id == name), None)
    said = remedy_in_words(remedy, name)
    return said[:1].upper() + said[1:]


def remedy_in_full(dough: Dough, said: Diagnosis | None, name: str | None) -> str:
    """A remedy's headline, with its amounts where the book advises it here; empty for none."""
    plan = () if said is None else said.plan
    step = next((step for step in plan if step.remedy == name), None)
    return remedy_named(dough, name) if step is None else step.first


def thought_in_words(dough: Dough, case: Case) -> tuple[str, ...]:
    """What the program thought when the case was kept."""
    if case.thought is None:
        return ()
    says = {cause.id: cause.say for cause in dough.causes}
    return tuple(
        f"{says.get(name, name.replace('-', ' ').capitalize())} ({chance:.0%})"
        for name, chance in case.thought.causes[:3]
    )


def stage_title(dough: Dough, name: str) -> str:
    """The title of a step, or its name if this book has lost it."""
    return next((s.title for s in dough.stages if s.id == name), name)


def told_in_words(dough: Dough, case: WholeCase) -> list[tuple[str, str]]:
    """What was told in a case of the book, as the cook would read it."""
    asked = questions(dough)
    told: list[tuple[str, str]] = []
    for part, entries in case.situation.items():
        if part == "stage":
            told.append(("Stage", stage_title(dough, str(entries))))
        elif part == "tried" and isinstance(entries, list | tuple):
            told += [
                (f"Tried: {str(t['remedy']).replace('-', ' ')}", wording.RESULTS[t["result"]])
                for t in entries
            ]
        elif isinstance(entries, dict):
            for name, value in entries.items():
                question = asked.get(name)
                what = question.ask if question else wording.FIELDS.get(name, name)
                told.append((what, _value_in_words(question, value)))
    return told


def _value_in_words(question: object, value: object) -> str:
    answers = {a.id: a.say for a in getattr(question, "answers", ())}
    if isinstance(value, dict):
        return wording.with_unit(float(value["value"]), str(value["unit"]))
    if isinstance(value, float | int):
        return wording.number(value)
    return answers.get(str(value)) or wording.FLOUR_MEASURED.get(str(value), str(value))
