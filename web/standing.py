"""The standing of a rule: the cases that speak for and against it, and a person's decision."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.judged import MOST_JUDGED, readable, spread
from casebook.problems import NotStorable
from casebook.progress import Progress
from casebook.publishing import ChangedMeanwhile, Press, Refused
from casebook.revisions import LONGEST_WHY, MovedOn, all_revisions
from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Rule, Standing
from diagnose.knowledge.editions import PartName
from diagnose.knowledge.problems import BrokenBook
from diagnose.knowledge.ruletext import fields_of, with_fields
from diagnose.rejudging import rejudge
from diagnose.standing import STEPS, Evidence, evidence, not_allowed

from .forms import FieldProblem, Fields, Form
from .lesson_words import working
from .lessons import Lesson, Lessons
from .publishing_pages import press_of
from .signing_in import desk_page, require_instructor
from .site import Site, see_other
from .works import Work, Works

MEANS: Mapping[Standing, str] = {
    "draft": "One person's claim with a named source. It counts half, and is shown as a draft.",
    "tried": "It spoke in three confirmed cases or more that turned out as it says, and in none "
    "that did not.",
    "trusted": "Tried, and a second person has checked its source.",
    "retired": "Taken out, with the reason. Its name is not used again.",
}


@dataclass(frozen=True, slots=True)
class Spoken:
    """In which confirmed cases the rules of a book spoke."""

    of: int
    """How many cases were looked at."""
    by_rule: Mapping[str, Evidence]


def standing_pages(site: Site) -> APIRouter:
    """The page on which the standing of a rule is seen and changed."""
    router = APIRouter(
        prefix="/desk/rules", include_in_schema=False, default_response_class=HTMLResponse
    )
    lessons, works = Lessons(site.store), Works()

    def spoken() -> Work[Spoken] | Work[Lesson]:
        book, dough = site.book, site.dough
        lesson = lessons.lesson(book, dough)
        if not lesson.wait():
            return lesson
        found = lesson.found

        def run(progress: Progress) -> Spoken:
            ready = OpenBook(book).ready(dough.id)
            some = spread(readable(dough, found.records.cases), MOST_JUDGED)
            judged = []
            for done, one in enumerate(rejudge(ready, some, remedies=False)):
                progress("cases looked at", done, len(some))
                judged.append(one)
            return Spoken(len(some), evidence(dough.rules, judged))

        return works.work((book.version, found.now.digest, "spoke"), run)

    @router.get("/{name}/standing")
    def show(request: Request, name: str) -> Response:
        who = require_instructor(site, request)
        return page(request, named(site, name), who, Fields(), ())

    @router.post("/{name}/standing")
    def change(request: Request, name: str, form: Form) -> Response:
        who = require_instructor(site, request)
        rule = named(site, name)
        work = spoken()
        if not work.wait() or not isinstance(work.found, Spoken):
            return working(site, request, work)
        wanted = next((word for word in STEPS if word == form["standing"]), None)
        if wanted is None:
            problem = FieldProblem("standing", "Choose what it shall be.")
            return page(request, rule, who, form, (problem,))
        refused = not_allowed(
            rule,
            wanted,
            work.found.by_rule.get(name, Evidence()),
            wrote=writer(site, name),
            asks=who,
            read_the_source=form["read"] == "yes",
        )
        problems = []
        if refused is not None:
            problems.append(FieldProblem("standing", refused))
        if not 1 <= len(form["why"]) <= LONGEST_WHY:
            problems.append(FieldProblem("why", f"Say why, in 1 to {LONGEST_WHY} characters."))
        if not problems:
            problems += published(site, press_of(site), rule, wanted, who, form)
        if problems:
            return page(request, rule, who, form, tuple(problems))
        return see_other("/rules" if wanted == "retired" else f"/rules/{name}")

    def page(
        request: Request, rule: Rule, who: str, form: Fields, problems: tuple[FieldProblem, ...]
    ) -> Response:
        work = spoken()
        if not work.wait() or not isinstance(work.found, Spoken):
            return working(site, request, work)
        found = work.found.by_rule.get(rule.id, Evidence())
        _, revision = press_of(site).text_of(PartName(site.dough.id, "rules", rule.id))
        return desk_page(
            site,
            request,
            "standing.html",
            status=422 if problems else 200,
            rule=rule,
            found=found,
            of=work.found.of,
            means=MEANS,
            wrote=writer(site, rule.id),
            steps=[(word, MEANS[word]) for word in STEPS if word != rule.standing],
            form=form,
            revision=form["revision"] or str(revision),
            problems=problems,
        )

    return router


def named(site: Site, name: str) -> Rule:
    """The rule of this name, or 404."""
    found = next((rule for rule in site.dough.rules if rule.id == name), None)
    if found is None:
        raise HTTPException(404, "There is no such rule in this book.")
    return found


def writer(site: Site, name: str) -> str | None:
    """Who wrote a rule as it stands, changes of its standing aside; None if it was shipped so."""
    part = PartName(site.dough.id, "rules", name)
    for one in reversed(all_revisions(site.store)):
        if one.part == part and one.after is not None and not _only_standing(one.before, one.after):
            return one.who
    return None


def _only_standing(before: str | None, after: str) -> bool:
    if before is None:
        return False
    try:
        was, now = fields_of(before), fields_of(after)
    except BrokenBook:
        return False
    return replace(was, standing=now.standing) == now


def published(
    site: Site, press: Press, rule: Rule, wanted: Standing, who: str, form: Fields
) -> list[FieldProblem]:
    """Publish a change of standing; what kept it from going live, if anything."""
    part = PartName(site.dough.id, "rules", rule.id)
    text, revision = press.text_of(part)
    if text is None or form["revision"] != str(revision):
        return [
            FieldProblem("standing", "Somebody changed this rule meanwhile. Load the page again.")
        ]
    changes: dict[PartName, str | None]
    try:
        if wanted == "retired":
            changes = {
                part: None,
                PartName(part.dough, "retired", rule.id): _retired(site, rule, form),
            }
        else:
            changes = {part: with_fields(text, replace(fields_of(text), standing=wanted))}
        press.publish(changes, who, form["why"], bases={part: revision}, at=site.now())
    except (Refused, BrokenBook) as refused:
        return [FieldProblem("standing", f"{p.what} {p.advice}") for p in refused.problems]
    except (ChangedMeanwhile, MovedOn) as moved:
        return [FieldProblem("standing", str(moved))]
    except NotStorable as unkept:
        return [FieldProblem("why", str(unkept))]
    return []


def _retired(site: Site, rule: Rule, form: Fields) -> str:
    """The entry that keeps a retired rule's name, date and reason."""
    lines = [
        f"{rule.id}:",
        f"  when: {site.now().date().isoformat()}",
        f"  why: {json.dumps(' '.join(form['why'].split()), ensure_ascii=False)}",
    ]
    if form["replaced"]:
        lines.append(f"  replaced by: {json.dumps(form['replaced'], ensure_ascii=False)}")
    return "\n".join(lines) + "\n"
