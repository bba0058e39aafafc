"""The rules, to be read: all of them by page, and each with its cases and its source."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from diagnose.explaining import Speaker
from diagnose.knowledge.book import Condition, Dough, Rule

from .paging import paged
from .site import Site
from .situation import questions


def rulebook(site: Site) -> APIRouter:
    """The rules of the book in use."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/rules")
    def rules(request: Request, page: int = 1) -> Response:
        dough = site.dough
        shown, pages = paged(dough.rules, page)
        standings = {word: sum(r.standing == word for r in dough.rules)
                     for word in ("draft", "tried", "trusted", "retired")}  # fmt: skip
        return site.page(
            request,
            "rules.html",
            rules=shown,
            at=page,
            pages=pages,
            standings={word: n for word, n in standings.items() if n},
            total=len(dough.rules),
            version=site.book.version,
        )

    @router.get("/rules/{name}")
    def rule(request: Request, name: str) -> Response:
        dough = site.dough
        found = next((r for r in dough.rules if r.id == name), None)
        if found is None:
            raise HTTPException(404, "There is no such rule in this book.")
        speaker = Speaker(site.book, dough)
        return site.page(
            request,
            "rule.html",
            rule=found,
            when=[condition_in_words(dough, c) for c in found.when],
            unless=[condition_in_words(dough, c) for c in found.unless],
            follows=consequence_in_words(dough, found),
            cases=[
                ("; ".join(speaker.fact(k, v) for k, v in c.told.items()), c.speaks)
                for c in found.cases
            ],
            source=speaker.source(found.source),
        )

    return router


def condition_in_words(dough: Dough, condition: Condition) -> tuple[str, str]:
    """What a condition looks at, and the phrase it is compared with, as written."""
    question = questions(dough).get(condition.subject)
    if question is not None:
        return question.ask, str(condition.phrase).replace("-", " ")
    means = {f.id: f.means for f in dough.findings} | {c.id: c.means for c in dough.computed}
    return means.get(condition.subject, condition.subject.capitalize()), str(condition.phrase)


def consequence_in_words(dough: Dough, rule: Rule) -> str:
    """What follows from a rule, as a sentence."""
    means = {f.id: f.means for f in dough.findings} | {c.id: c.say for c in dough.causes}
    if rule.concludes:
        return f"Concludes: {means[rule.concludes]}"
    if rule.points_to:
        return f"Points to, {rule.strength}: {means[rule.points_to]}"
    if rule.points_away_from:
        return f"Points away, {rule.strength}, from: {means[rule.points_away_from]}"
    return f"Rules out: {means[rule.rules_out or '']}"
