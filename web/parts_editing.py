"""The desk's pages for every other part of the book: signs, readings, causes, remedies, ..."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.progress import Progress
from casebook.publishing import Press, Refused
from casebook.revisions import all_revisions
from diagnose.knowledge.editions import SECTIONS, PartName, check_part
from diagnose.knowledge.fields import NAME
from diagnose.knowledge.nodes import PASTED, Mapping, read_nodes
from diagnose.replaying import Replay

from . import previewing
from .editing_after import after_page, edit_path, lines, saved_path, seen
from .editing_page import change_lines
from .forms import FieldProblem, Fields, Form
from .part_boxes import TITLES, Box, boxes_for, missing, name_for, text_from
from .past_cases import PastCases
from .previewing import new_problems, sentences
from .publishing_pages import press_of, publish_or_explain
from .signing_in import desk_page, require_instructor
from .site import Site, see_other
from .works import Work, Works

NEW = "new"
EDITED = tuple(section for section in SECTIONS if section != "rules")
"""Rules have pages of their own."""


@dataclass(frozen=True, slots=True)
class Look:
    """What was found when a part was looked at."""

    errors: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    replay: Replay | None = None


def parts_editing(site: Site) -> APIRouter:
    """The pages on which parts of the book are written as text, and begun with boxes."""
    router = APIRouter(
        prefix="/desk/parts", include_in_schema=False, default_response_class=HTMLResponse
    )
    past, works = PastCases(site.store), Works()

    def page(
        request: Request, part: PartName, text: str, revision: int, reason: str,
        look: Look | None = None, problems: tuple[FieldProblem, ...] = (), status: int = 200,
        boxes: tuple[Box, ...] = (), said: Fields | None = None,
        waiting: Work[Look] | None = None,
    ) -> Response:  # fmt: skip
        fine = look is not None and not look.errors
        return desk_page(
            site, request, "desk_part.html", status=status, part=part, typed=text,
            rows=min(40, text.count("\n") + 4), revision=revision, reason=reason, look=look,
            seen=seen(text) if fine else "", problems=problems, boxes=boxes, said=said or Fields(),
            waiting=waiting,
            heading=TITLES.get(part.section, "A new part") if part.name == NEW else part.name,
            as_written=True, change_lines=lambda found: change_lines(found, site.dough),
        )  # fmt: skip

    @router.get("")
    def parts(request: Request) -> Response:
        require_instructor(site, request)
        press = press_of(site)
        return desk_page(
            site, request, "desk_book.html", sections=_listed(press, site), titles=TITLES
        )

    @router.get("/{section}/{name}")
    def edit(request: Request, section: str, name: str) -> Response:
        require_instructor(site, request)
        part = _part(site, section, name)
        press = press_of(site)
        if name == NEW:
            boxes = boxes_for(part.section, press.shelf.current.book, site.dough)
            text = "" if boxes else "name-of-it:\n"
            return page(request, part, text, 0, "A new part", boxes=boxes)
        text_now, revision = press.text_of(part)
        if text_now is None:
            raise HTTPException(404, "There is no such part in this book.")
        return page(request, part, text_now, revision, "")

    @router.post("/{section}/{name}")
    def send(request: Request, section: str, name: str, form: Form) -> Response:
        who = require_instructor(site, request)
        part, press = _part(site, section, name), press_of(site)
        reason, text = " ".join(form["reason"].split()), lines(form["typed"])
        number = form["revision"]
        revision = int(number) if number.isdecimal() and len(number) < 10 else 0
        boxes: tuple[Box, ...] = ()
        if form["act"] == "write":
            boxes = boxes_for(part.section, press.shelf.current.book, site.dough)
            problems = missing(boxes, form)
            if problems:
                return page(request, part, text, 0, reason, None, tuple(problems), 422, boxes,
                            form)  # fmt: skip
            text = text_from(name_for(part.section, form, _taken(press, site)), boxes, form)
        named = PartName(part.dough, part.section, _named(text) if name == NEW else name)
        problems = _problems(press, site, named, text, new=name == NEW)
        if form["act"] == "save":
            now, latest = press.text_of(named)
            if now == text and latest and form["seen"] == seen(text):
                return see_other(saved_path(named, latest))  # sent twice
            if not reason:
                problems.append(FieldProblem("reason", "Say why, for whoever looks later."))
        if problems:
            return page(request, part, text, revision, reason, None, tuple(problems), 422)
        if form["act"] == "save" and form["seen"] == seen(text):
            return publish_or_explain(
                site, request, who,
                lambda: press.publish({named: text}, who, reason, bases={named: revision}),
                lambda numbers: see_other(saved_path(named, numbers[0])),
                mine={named: text}, back=edit_path(named),
            )  # fmt: skip
        looked = works.work(
            (press.shelf.current, past.marked(), named, text),
            lambda told: _looked_at(press, past, named, text, told),
        )
        if not looked.wait(previewing.PATIENCE_S):
            return page(request, part, text, revision, reason, waiting=looked)
        return page(request, part, text, revision, reason, looked.found)

    @router.get("/{section}/{name}/saved/{number}")
    def saved(request: Request, section: str, name: str, number: int) -> Response:
        require_instructor(site, request)
        one = next((r for r in all_revisions(site.store) if r.number == number), None)
        if one is None or one.part != _part(site, section, name):
            raise HTTPException(404, f"There is no revision {number} of {name}.")
        return after_page(site, request, one.part, "Saved", number, "The next cook gets it.")

    return router


def _part(site: Site, section: str, name: str) -> PartName:
    found = next((s for s in EDITED if s.replace(" ", "-") == section), None)
    if found is None:
        raise HTTPException(404, "There is no such section of the book.")
    return PartName(site.dough.id, found, name)


def _looked_at(
    press: Press, past: PastCases, part: PartName, text: str, progress: Progress
) -> Look:
    progress("checks of the changed book", 0, 0)
    try:
        trial = press.try_out({part: text})
    except Refused as refused:
        return Look(sentences(refused.problems))
    errors, notices = new_problems(press, trial)
    if errors:
        return Look(errors, notices)
    return Look((), notices, past.of(press.shelf.current).replay(trial.opened, progress))


def _named(text: str) -> str:
    """The name that a text begins with; empty if it has none."""
    root, _ = read_nodes(text, "", PASTED)
    return root.entries[0].key if isinstance(root, Mapping) and root.entries else ""


def _problems(
    press: Press, site: Site, part: PartName, text: str, *, new: bool
) -> list[FieldProblem]:
    if not text or not NAME.fullmatch(part.name):
        sentence = "The text begins with a name and a colon, like slab-edge:"
        return [FieldProblem("typed", sentence)]
    if new and part.name in _taken(press, site):
        sentence = f"{part.name} is or was something else in this book. Choose another name."
        return [FieldProblem("typed", sentence)]
    return [FieldProblem("typed", one) for one in sentences(check_part(part, text))]


def _taken(press: Press, site: Site) -> list[str]:
    """Names that a new part cannot have."""
    stored = [r.part.name for r in all_revisions(press.store)]
    named = [name for _, names in _listed(press, site) for name, _ in names]
    return [*stored, *named, NEW]


def _listed(press: Press, site: Site) -> list[tuple[str, list[tuple[str, str]]]]:
    """Every section with its entries: name, and what it is called."""
    dough = press.shelf.current.book.dough(site.dough.id) or site.dough
    return [
        ("stages", [(x.id, x.title) for x in dough.stages]),
        ("signs", [(x.id, x.ask) for x in dough.signs]),
        ("readings", [(x.id, x.ask) for x in dough.readings]),
        ("computed readings", [(x.id, x.means) for x in dough.computed]),
        ("findings", [(x.id, x.means) for x in dough.findings]),
        ("causes", [(x.id, x.say) for x in dough.causes]),
        ("remedies", [(x.id, x.first) for x in dough.remedies]),
        ("cautions", [(x.id, x.say) for x in dough.cautions]),
        ("whole cases", [(x.id, x.story) for x in dough.whole_cases]),
    ]
