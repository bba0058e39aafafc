"""The history of the book: every change, who made it, when and why; taking back, going back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, Response

from casebook.revisions import Revision, all_revisions
from diagnose.knowledge.differing import Difference, changes

from .forms import Form
from .publishing_pages import press_of, publish_or_explain
from .signing_in import desk_page, require_instructor
from .site import Site, see_other

A_PAGE = 20
_KINDS = {
    "change": "Changed",
    "undo": "Took back",
    "roll-back": "Went back to",
    "import": "Read in",
}
_SECTIONS = {"rules": "rule", "causes": "cause", "remedies": "remedy", "signs": "sign",
             "readings": "reading", "findings": "finding", "cautions": "caution",
             "stages": "stage", "whole cases": "whole case"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Go:
    """What was changed in one go."""

    number: int
    last: int
    title: str
    who: str
    at: str
    why: str
    parts: tuple[str, ...]
    revisions: tuple[Revision, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """One part of a go, with what it says differently and both texts."""

    name: str
    differences: tuple[Difference, ...]
    before: str | None
    after: str | None


def history(site: Site) -> APIRouter:
    """The pages of what was changed."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/desk/history")
    def everything(request: Request, page: int = 1) -> Response:
        who = require_instructor(site, request)
        found = goes(all_revisions(site.store))[::-1]
        pages = max(1, -(-len(found) // A_PAGE))
        if not 1 <= page <= pages:
            raise HTTPException(404, f"There is no such page; there are {pages}.")
        return desk_page(
            site, request, "history.html", who=who, total=len(found), number=page, pages=pages,
            goes=found[(page - 1) * A_PAGE : page * A_PAGE], version=site.book.version,
            aside=press_of(site).set_aside,
        )  # fmt: skip

    @router.get("/desk/history/{number}")
    def one(request: Request, number: int) -> Response:
        who = require_instructor(site, request)
        go, newer = found_go(number)
        shown = [
            Shown(_named(one), changes(one.before, one.after), one.before, one.after)
            for one in go.revisions
        ]
        return desk_page(
            site, request, "history_one.html", who=who, go=go, shown=shown, newer=newer
        )  # fmt: skip

    @router.post("/desk/history/{number}/undo")
    def undo(request: Request, number: int, form: Form) -> Response:
        who = require_instructor(site, request)
        go, _ = found_go(number)
        return publish_or_explain(
            site, request, who,
            lambda: press_of(site).undo(go.number, who, form["why"], at=site.now()),
            lambda numbers: see_other(f"/desk/history/{numbers[0]}"),
            mine={one.part: one.before for one in go.revisions},
            back=f"/desk/history/{go.number}",
        )  # fmt: skip

    @router.post("/desk/history/{number}/roll-back")
    def roll_back(request: Request, number: int, form: Form) -> Response:
        who = require_instructor(site, request)
        last = 0 if number == 0 else found_go(number)[0].last
        back = "/desk/history" if number == 0 else f"/desk/history/{number}"
        return publish_or_explain(
            site, request, who,
            lambda: press_of(site).roll_back(last, who, form["why"], at=site.now()),
            lambda numbers: see_other(f"/desk/history/{numbers[0]}"),
            back=back,
        )  # fmt: skip

    def found_go(number: int) -> tuple[Go, int]:
        """The go a revision belongs to, and how many came after it."""
        found = goes(all_revisions(site.store))
        for place, go in enumerate(found):
            if go.number <= number <= go.last:
                return go, len(found) - place - 1
        raise HTTPException(404, "There is no such change. The history lists them all.")

    return router


def goes(revisions: Sequence[Revision]) -> list[Go]:
    """Revisions by what was changed in one go, oldest first."""
    found = []
    for number, some in groupby(revisions, lambda one: one.together):
        made = tuple(some)
        first = made[0]
        parts = tuple(map(_named, made))
        what = parts[0] if len(parts) == 1 else f"{len(parts)} parts"
        title = f"{_KINDS[first.kind]} {what}"
        if first.kind == "undo":
            title = f"Took back change {first.undoes}"
        elif first.kind == "roll-back":
            title = (
                f"Went back to change {first.undoes}" if first.undoes else "Went back to shipped"
            )
        at = first.at.astimezone().strftime("%d %B %Y, %H:%M").lstrip("0")
        found.append(Go(number, made[-1].number, title, first.who, at, first.why, parts, made))
    return found


def _named(one: Revision) -> str:
    return f"{_SECTIONS.get(one.part.section, one.part.section)} {one.part.name}"
