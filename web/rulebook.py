"""The rules, to be read: all of them by page, and each with its cases and its source."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.revisions import all_revisions
from diagnose.explaining import Speaker
from diagnose.knowledge.book import Book, Condition, Dough, Rule
from diagnose.knowledge.editions import PartName
from diagnose.knowledge.phrases import Interval, OneOf, Presence

from .paging import paged
from .signing_in import instructor
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
        part = PartName(dough.id, "rules", name)
        return site.page(
            request,
            "rule.html",
            rule=found,
            words=words_of(site.book, dough, found),
            did=[found.id in site.consultant.spoke(dough.id, case.told) for case in found.cases],
            changes=[one for one in all_revisions(site.store) if one.part == part],
            may_change=instructor(request) is not None,
        )

    return router


@dataclass(frozen=True, slots=True)
class RuleWords:
    """A rule as a page prints it."""

    when: tuple[tuple[str, str], ...]
    unless: tuple[tuple[str, str], ...]
    follows: str
    cases: tuple[tuple[str, bool], ...]
    """What was told, and whether the rule must speak."""
    source: str


def words_of(book: Book, dough: Dough, rule: Rule) -> RuleWords:
    """A rule of a book in plain words."""
    speaker = Speaker(book, dough)
    return RuleWords(
        when=tuple(condition_in_words(dough, c) for c in rule.when),
        unless=tuple(condition_in_words(dough, c) for c in rule.unless),
        follows=consequence_in_words(dough, rule),
        cases=tuple(
            ("; ".join(speaker.fact(k, v) for k, v in case.told.items()), case.speaks)
            for case in rule.cases
        ),
        source=speaker.source(rule.source),
    )


def condition_in_words(dough: Dough, condition: Condition) -> tuple[str, str]:
    """What a condition looks at, and what it wants to be so.

    For the author's rule ``paste-body: pours or slumps``: the question, and the two answers in
    the cook's words.
    """
    subject, phrase = condition.subject, condition.phrase
    question = questions(dough).get(subject)
    means = {f.id: f.means for f in dough.findings} | {c.id: c.means for c in dough.computed}
    asked = question.ask if question else means.get(subject, subject.capitalize())
    if isinstance(phrase, OneOf):
        said = {a.id: a.say for a in getattr(question, "answers", ())}
        said |= {stage.id: stage.title for stage in dough.stages} if subject == "stage" else {}
        words = [said[name] for name in phrase.answers]
        listed = words[0] if len(words) == 1 else " or ".join(f"“{one}”" for one in words)
        return asked, f"answered, and not: {listed}" if phrase.negated else listed
    if isinstance(phrase, Presence):
        return asked, "holds" if phrase.present else "is not established"
    assert isinstance(phrase, Interval)
    return asked, str(phrase)


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
