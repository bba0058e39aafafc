"""Changing the book from a page: done, or said in full why not, with nothing typed lost."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fastapi import HTTPException, Request
from fastapi.responses import Response

from casebook.problems import NotStorable
from casebook.publishing import ChangedMeanwhile, Press, Refused
from casebook.revisions import MovedOn
from diagnose.knowledge.differing import Difference, changes
from diagnose.knowledge.editions import PartName

from .forms import FieldProblem
from .signing_in import desk_page
from .site import Site


def press_of(site: Site) -> Press:
    """What publishes changes. Raises 404 where a book is served that nobody can change."""
    if site.press is None:
        raise HTTPException(404, "The book served here cannot be changed.")
    return site.press


@dataclass(frozen=True, slots=True)
class Versions:
    """A part that two people changed: both texts, and what they say differently."""

    part: PartName
    theirs: str | None
    mine: str | None
    differences: tuple[Difference, ...]


def publish_or_explain(
    site: Site,
    request: Request,
    who: str,
    act: Callable[[], tuple[int, ...]],
    then: Callable[[tuple[int, ...]], Response],
    *,
    mine: Mapping[PartName, str | None] | None = None,
    back: str = "/desk/history",
) -> Response:
    """Carry out a change of the book and go on; or a page that says why it was not done.

    ``act`` publishes and gives the numbers, which ``then`` turns into the answer. ``mine`` are the
    texts that were to be saved: where somebody else changed one of those parts meanwhile, the page
    shows both. ``back`` is where to look again.
    """
    try:
        return then(act())
    except ChangedMeanwhile as changed:
        own = (mine or {}).get(changed.part)
        both = Versions(changed.part, changed.now, own, changes(changed.now, own))
        return desk_page(
            site, request, "changed_meanwhile.html", status=409, who=who, by=changed.by, both=both,
            back=back, typed=mine is not None,
        )  # fmt: skip
    except Refused as refused:
        problems = [FieldProblem("", str(problem)) for problem in refused.problems]
        heading = "The checks refuse this"
    except MovedOn as moved:
        problems, heading = [FieldProblem("", str(moved))], "Not saved"
    except NotStorable as problem:
        problems, heading = [FieldProblem("", str(problem))], "Not saved"
    return desk_page(
        site, request, "not_published.html", status=422, who=who, problems=problems,
        heading=heading, back=back, texts=dict(mine or {}),
    )  # fmt: skip
