"""What the editors of rules and of other parts share: what was looked at, and what comes after."""

from __future__ import annotations

from hashlib import sha256

from fastapi import Request
from fastapi.responses import Response

from casebook.revisions import all_revisions
from diagnose.knowledge.editions import PartName

from .publishing_pages import press_of
from .signing_in import desk_page
from .site import Site

RULES = "rules"


def seen(text: str) -> str:
    """A mark of a text that was looked at, so that nothing else is saved."""
    return sha256(text.encode()).hexdigest()[:24]


def edit_path(part: PartName) -> str:
    """Where a part is changed."""
    if part.section == RULES:
        return f"/desk/rules/{part.name}"
    return f"/desk/parts/{part.section.replace(' ', '-')}/{part.name}"


def saved_path(part: PartName, number: int) -> str:
    """Where it is said that a part was saved."""
    return f"{edit_path(part)}/saved/{number}"


def after_page(
    site: Site, request: Request, part: PartName, heading: str, number: int, sentence: str
) -> Response:
    """After a change: what it does, and one tap to take it back if ``number`` is given."""
    press = press_of(site)
    text, _ = press.text_of(part)
    return desk_page(
        site,
        request,
        "desk_rule_saved.html",
        heading=heading,
        sentence=sentence,
        number=number,
        there=text is not None,
        page=f"/rules/{part.name}" if part.section == RULES else "",
        edit=edit_path(part),
        version=press.shelf.current.book.version,
        revision=len(all_revisions(site.store)),
    )


def lines(text: str) -> str:
    """Text from a form with the line ends of a file, and one at its end."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\n")
    return f"{text}\n" if text else ""
