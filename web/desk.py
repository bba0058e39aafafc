"""The first page of the rule desk: where everything an instructor does begins."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from .signing_in import desk_page, require_instructor
from .site import Site

DOORS = (
    ("/desk/queue", "Cases to confirm", "What ended in the kitchen, and what it was"),
    ("/desk/cases/new", "Enter a case", "From the bench or from paper"),
    ("/desk/rules/new", "Make a rule", "From what was seen to what it points to"),
    ("/rules", "Rules", "All of them, to read, to change, to take back"),
    (
        "/desk/parts",
        "Parts of the book",
        "Signs, causes, remedies: what rules speak of",
    ),
    ("/desk/suggestions", "Suggestions", "What the confirmed cases say about the rules"),
    ("/desk/learning", "Learning", "Whether the counts of confirmed cases are used"),
    ("/desk/history", "History", "Every change: who, when, why; undo and roll back"),
    ("/desk/additions", "Our additions", "Save what was changed here; read another school's"),
    ("/desk/exchange", "Exchange of cases", "Save cases to a file, or read one"),
    ("/desk/instructors", "Instructors", "Who may change the book"),
)
"""Address, what it is called, what is there."""


def desk(site: Site) -> APIRouter:
    """The first page of the desk."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/desk")
    def home(request: Request) -> Response:
        who = require_instructor(site, request)
        aside = site.press.set_aside if site.press else ()
        return desk_page(site, request, "desk.html", who=who, doors=DOORS, aside=aside)

    return router
