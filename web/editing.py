"""The desk's pages on which a rule is written, looked at, saved, and taken back."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.problems import NotStorable
from casebook.publishing import ChangedMeanwhile, Press, Refused
from casebook.revisions import MovedOn, all_revisions
from diagnose.consulting import OpenBook
from diagnose.engine.session import run
from diagnose.knowledge.book import Dough
from diagnose.knowledge.editions import PartName
from diagnose.knowledge.problems import BrokenBook
from diagnose.knowledge.ruletext import RuleFields, fields_of, new_text, with_fields

from . import editing_from, previewing
from .editing_after import RULES, after_page, lines, seen
from .editing_cases import examples_in_step, one_more
from .editing_form import (
    Sheet,
    fields_of_sheet,
    name_from,
    problems_of,
    sheet_from,
    sheet_of,
    with_row,
)
from .editing_page import form_values
from .forms import FieldProblem, Fields, Form
from .past_cases import PastCases
from .previewing import Preview, preview_of, sentences
from .publishing_pages import press_of, publish_or_explain
from .signing_in import desk_page, require_instructor
from .site import Site, see_other
from .suggesting import GONE, Offering
from .works import Work as LongWork
from .works import Works

NEW = "new"
"""The address of a rule not yet written, and so no rule's name."""
BOTH = (
    "Both the boxes and the text were changed, and they say different things. Nothing is lost: "
    "choose below which of the two counts."
)
JUDGED = ("when", "unless", "outcome", "target", "strength", "group")
"""What a rule was tried with. Once one of these changes it is somebody's claim again."""


@dataclass(frozen=True, slots=True)
class Work:
    """One page of the editor on its way: the form, the text, and what is wrong."""

    sheet: Sheet
    text: str
    typed: str
    revision: int
    reason: str
    problems: tuple[FieldProblem, ...] = ()
    preview: Preview | None = None
    waiting: LongWork[Preview] | None = None
    choosing: str = ""
    both: bool = False
    theirs: str = ""
    """What somebody else made of the rule in the meantime."""
    status: int = 200


def editing(site: Site) -> APIRouter:
    """The pages of the editor of rules."""
    router = APIRouter(
        prefix="/desk/rules", include_in_schema=False, default_response_class=HTMLResponse
    )

    past, works = PastCases(site.store), Works()
    suggested = Offering(site)

    def page(request: Request, name: str, work: Work) -> Response:
        opened = press_of(site).shelf.current
        dough = opened.book.dough(site.dough.id) or site.dough
        return desk_page(
            site, request, "desk_rule.html", status=work.status,
            **form_values(opened.book, dough, work, name, name == NEW),
        )  # fmt: skip

    @router.get("/new")
    def new(
        request: Request,
        case: str = "",
        c: str = "",
        copy: str = "",
        stage: str = "",
        suggestion: str = "",
    ) -> Response:
        require_instructor(site, request)
        dough, press = site.dough, press_of(site)
        reason = "A new rule"
        if case:
            sheet = editing_from.begun_from_case(site, dough, case)
            reason = f"Made from case {case}"
        elif c:
            situation = site.situation(site.consultation(c))
            if situation is None:
                raise HTTPException(409, "Nothing was told in this consultation yet.")
            sheet = editing_from.begun_from(situation, dough, "", "")
            reason = "Made from a consultation"
        elif copy:
            text, _ = press.text_of(PartName(dough.id, RULES, copy))
            if text is None:
                raise HTTPException(404, "There is no such rule in this book.")
            sheet = editing_from.copied(sheet_of(_fields(text), dough))
            reason = f"Like the rule {copy}"
        elif suggestion:
            begun = suggested.rule_text(suggestion)
            if begun is None:
                raise HTTPException(404, GONE)
            sheet = sheet_of(_fields(begun), dough)
            reason = f"Suggested by the cases: {suggestion}"[:200]
        else:
            sheet = editing_from.begun_empty(stage, dough)
        sheet = _in_step(sheet, dough, press.shelf.current)
        text = _text_of(sheet, "", dough, NEW, press)
        return page(request, NEW, Work(sheet, text, text, 0, reason))

    @router.get("/{name}")
    def edit(request: Request, name: str) -> Response:
        require_instructor(site, request)
        text, revision = _existing(press_of(site), site.dough, name)
        sheet, problems = _shown(text, site.dough)
        return page(request, name, Work(sheet, text, text, revision, "", tuple(problems)))

    @router.post("/take-back/{number}")
    def take_back(request: Request, number: int, form: Form) -> Response:
        who = require_instructor(site, request)
        press = press_of(site)
        revisions = all_revisions(site.store)
        if any(r.kind == "undo" and r.undoes == number for r in revisions):
            return see_other(f"/desk/rules/taken-back/{number}")  # the same tap, sent twice
        if all(r.number != number for r in revisions):
            raise HTTPException(404, f"There is no revision {number}.")
        return publish_or_explain(
            site, request, who,
            lambda: press.undo(number, who, "Taken back"),
            lambda _: see_other(f"/desk/rules/taken-back/{number}"),
        )  # fmt: skip

    @router.get("/taken-back/{number}")
    def taken_back(request: Request, number: int) -> Response:
        require_instructor(site, request)
        one = next((r for r in all_revisions(site.store) if r.number == number), None)
        if one is None:
            raise HTTPException(404, f"There is no revision {number}.")
        return after_page(
            site, request, one.part, "Taken back", 0,
            "The book answers as it did before. The change stays in the history.",
        )  # fmt: skip

    @router.get("/{name}/saved/{number}")
    def saved(request: Request, name: str, number: int) -> Response:
        require_instructor(site, request)
        one = next((r for r in all_revisions(site.store) if r.number == number), None)
        if one is None or one.part.name != name:
            raise HTTPException(404, f"There is no revision {number} of {name}.")
        return after_page(
            site, request, one.part, "Saved", number,
            "The next cook gets it. As long as it is a draft it speaks at half its strength, and "
            'every page on which it speaks says "draft rule".',
        )  # fmt: skip

    @router.post("/{name}")
    def send(request: Request, name: str, form: Form) -> Response:
        who = require_instructor(site, request)
        press, dough = press_of(site), site.dough
        act = form["act"] or "preview"
        known = _saved_already(press, dough, form) if act == "save" else None
        if known is not None:
            return see_other(known)
        work = _received(press, dough, name, form)
        if act.startswith("choose-"):
            return page(request, name, replace(work, choosing=act.removeprefix("choose-")))
        if act.startswith("add-"):
            sheet = with_row(work.sheet, act.removeprefix("add-"), form["subject"], dough)
            return page(request, name, replace(work, sheet=sheet))
        if act.startswith(("without-", "otherwise-", "case-")):
            return page(request, name, replace(work, sheet=one_more(work.sheet, act, dough)))
        if work.problems:
            return page(request, name, replace(work, status=422))
        work = _written(press, dough, name, work, act == "save")
        if work.problems:
            return page(request, name, replace(work, status=422))
        part = PartName(dough.id, RULES, _fields(work.text).name)
        text, changed_standing = _standing(press, part, work.text)
        work = replace(work, text=text, typed=text, sheet=_same_standing(work.sheet, text))
        unseen = act == "save" and form["seen"] != seen(text)
        if act == "save" and not unseen:
            return _save(request, press, who, name, part, work)
        about = (press.shelf.current, past.marked(), part, text, changed_standing)
        looked = works.work(
            about, lambda told: preview_of(press, past, part, text, changed_standing, told)
        )
        if not looked.wait(previewing.PATIENCE_S):
            return page(request, name, replace(work, waiting=looked))
        return page(request, name, replace(work, preview=looked.found))

    def _save(
        request: Request, press: Press, who: str, name: str, part: PartName, work: Work
    ) -> Response:
        try:
            numbers = press.publish(
                {part: work.text}, who, work.reason, bases={part: work.revision}
            )
        except ChangedMeanwhile as changed:
            return page(request, name, _met(work, changed))
        except (Refused, MovedOn, NotStorable) as refused:
            problem = FieldProblem("", str(refused))
            return page(request, name, replace(work, problems=(problem,), status=409))
        return see_other(f"/desk/rules/{part.name}/saved/{numbers[0]}")

    return router


def taken_names(press: Press, dough: Dough) -> frozenset[str]:
    """Names that a new rule cannot have: every rule there is, was, or was ever stored."""
    current = press.shelf.current.book.dough(dough.id) or dough
    kept = {r.part.name for r in all_revisions(press.store) if r.part.section == RULES}
    rules = {rule.id for rule in current.rules} | {old.id for old in current.retired}
    return frozenset(kept | rules | {NEW, "take-back", "taken-back"})


def _met(work: Work, changed: ChangedMeanwhile) -> Work:
    """The page when somebody else was faster: both texts, and nothing lost."""
    sentence = (
        f"{changed.by.who} changed this rule while you worked on it, and said why: "
        f"{changed.by.why}. Nothing of yours is stored or lost. Compare the two texts; what you "
        "look at and save now takes the place of theirs."
    )
    theirs = changed.now if changed.now is not None else "The rule was taken out."
    problems = (FieldProblem("typed", sentence),)
    return replace(work, problems=problems, theirs=theirs, revision=changed.by.number, status=409)


def _saved_already(press: Press, dough: Dough, form: Fields) -> str | None:
    """Where the first of two sendings of one form went."""
    text = lines(form["text"])
    if not text or form["seen"] != seen(text):
        return None
    name = _fields(text).name
    now, latest = press.text_of(PartName(dough.id, RULES, name))
    return f"/desk/rules/{name}/saved/{latest}" if now == text and latest else None


def _existing(press: Press, dough: Dough, name: str) -> tuple[str, int]:
    text, revision = press.text_of(PartName(dough.id, RULES, name))
    if text is None:
        raise HTTPException(404, "There is no such rule in this book.")
    return text, revision


def _shown(text: str, dough: Dough) -> tuple[Sheet, list[FieldProblem]]:
    """The form of a text; an empty one, and why, if no form can show it."""
    try:
        return sheet_of(fields_of(text), dough), []
    except BrokenBook as broken:
        found = [FieldProblem("typed", line) for line in sentences(broken.problems)]
        return Sheet(RuleFields("")), found


def _received(press: Press, dough: Dough, name: str, form: Fields) -> Work:
    """What was sent, with the side that counts taken over to the other."""
    text = lines(form["text"])
    typed = lines(form["typed"]) or text
    sheet = sheet_from(form, dough)
    number = form["revision"]
    revision = int(number) if number.isdecimal() and len(number) < 10 else 0
    work = Work(sheet, text, typed, revision, " ".join(form["reason"].split()))
    if form["act"] == "boxes" or typed == text:
        return replace(work, typed=text, sheet=_in_step(sheet, dough, press.shelf.current))
    touched = _text_of(sheet, text, dough, name, press) != text
    if touched and form["act"] != "text":
        return replace(work, both=True, problems=(FieldProblem("typed", BOTH),))
    read, problems = _shown(typed, dough)
    if not problems and name not in (NEW, read.fields.name):
        what = f"This text is called {read.fields.name}, not {name}."
        problems = [FieldProblem("typed", f"{what} A name stands for one thing for ever.")]
    if problems:
        return replace(work, problems=tuple(problems))
    read = replace(read, base=sheet.base)
    return replace(work, sheet=read, text=typed, typed=typed)


def _written(press: Press, dough: Dough, name: str, work: Work, saving: bool) -> Work:
    """The text that the form stands for, or what is wrong with the form."""
    taken = taken_names(press, dough) if name == NEW else None
    problems = problems_of(work.sheet, dough, taken)
    if saving and not work.reason:
        problems.append(FieldProblem("reason", "Say why, for whoever looks later."))
    text = _text_of(work.sheet, work.text, dough, name, press)
    if not problems and not any(e.rule == "speaks" and e.kept for e in work.sheet.examples):
        problems.append(FieldProblem("cases", "Keep or add a case in which it speaks."))
    return replace(work, text=text, typed=text, problems=tuple(problems))


def _text_of(sheet: Sheet, text: str, dough: Dough, name: str, press: Press) -> str:
    """The text of a form, keeping what the old text has beside the fields."""
    fields = fields_of_sheet(sheet, dough)
    if name != NEW:
        fields = replace(fields, name=name)
    elif not fields.name:
        fields = replace(fields, name=name_from(fields.says, taken_names(press, dough)))
    try:
        return with_fields(text, fields) if text else new_text(fields)
    except BrokenBook:
        return new_text(fields)


def _in_step(sheet: Sheet, dough: Dough, opened: OpenBook) -> Sheet:
    if not sheet.in_step:
        return sheet
    rules = opened.ready(dough.id).rules
    examples = examples_in_step(sheet, dough, lambda facts: run(rules, facts).findings)
    return replace(sheet, examples=examples)


def _standing(press: Press, part: PartName, text: str) -> tuple[str, str]:
    """The text with the standing it may have, and a sentence if that was not what was written."""
    fields = fields_of(text)
    before, _ = press.text_of(part)
    try:
        old = fields_of(before) if before else None
    except BrokenBook:
        old = None
    same = old is not None and all(getattr(old, k) == getattr(fields, k) for k in JUDGED)
    allowed = old.standing if old is not None and same else "draft"
    if fields.standing == allowed:
        return text, ""
    why = (
        "A rule whose conditions or outcome change is a draft again: nobody has tried it so."
        if old is not None and not same
        else "The standing of a rule comes from recorded cases and a second reader, not from here."
    )
    return with_fields(text, replace(fields, standing=allowed)), why


def _same_standing(sheet: Sheet, text: str) -> Sheet:
    standing = fields_of(text).standing
    return replace(sheet, fields=replace(sheet.fields, standing=standing))


def _fields(text: str) -> RuleFields:
    try:
        return fields_of(text)
    except BrokenBook as broken:
        raise HTTPException(409, sentences(broken.problems)[0]) from None
