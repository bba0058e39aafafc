"""Words that the pages about learning share, and the page that says how far something has come."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import HTTPException, Request
from fastapi.responses import Response

from diagnose.knowledge.book import ComputedReading, Dough, Sign
from diagnose.learning.reporting import Share
from diagnose.reasoning.likelihood import Asked
from diagnose.reasoning.words import SOMETHING_ELSE

from .site import Site
from .works import Work


def working(site: Site, request: Request, work: Work[Any]) -> Response:
    """How far something long has come; the page asks again by itself, also without script."""
    if work.failed:
        raise HTTPException(500, "This could not be worked out. Load the page again to try again.")
    answer = site.page(request, "working.html", status=200, work=work)
    # As a header: a page that reloads itself by a tag is refused by some readers.
    answer.headers["Refresh"] = "2"
    return answer


def ask_of(asked: Asked) -> str:
    """What a look asks, or what is worked out."""
    part = asked.part
    return part.means if isinstance(part, ComputedReading) else part.ask


def answer_of(asked: Asked, answer: str) -> str:
    """An answer in the cook's words."""
    options = asked.part.answers if isinstance(asked.part, Sign) else asked.part.bands
    return next((one.say for one in options if one.id == answer), answer.replace("-", " "))


def between(share: Share | None) -> str:
    """Where the true share may lie, in words; empty where there are no cases.

    >>> between(Share(8, 10))
    '49 and 94 in 100'
    """
    ends = None if share is None else share.between()
    return "" if ends is None else f"{round(ends[0] * 100)} and {round(ends[1] * 100)} in 100"


def names_of(dough: Dough, ids: Sequence[str]) -> str:
    """Causes in words, joined."""
    says = {cause.id: cause.say for cause in dough.causes}
    says[SOMETHING_ELSE] = "Something that the book does not have"
    return "; ".join(says.get(name, name) for name in ids)
