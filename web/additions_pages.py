"""Our additions as a text, and another school's read in, with a look at what it would do first."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from casebook.additions import Incoming, NotAdditions, compare, read, written
from casebook.publishing import Refused
from diagnose.knowledge.differing import changes
from diagnose.knowledge.editions import PartName
from diagnose.knowledge.loading import fingerprint

from .forms import FieldProblem, Form
from .publishing_pages import press_of, publish_or_explain
from .signing_in import desk_page, require_instructor
from .site import Site, see_other


def additions_pages(site: Site) -> APIRouter:
    """The pages of additions."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    def page(request: Request, who: str, **more: object) -> Response:
        values = {"text": "", "incoming": (), "differing": {}, "why": "", **more}
        return desk_page(
            site, request, "additions.html", who=who, count=len(press_of(site).edits()),
            **values,  # type: ignore[arg-type]
        )  # fmt: skip

    @router.get("/desk/additions")
    def additions(request: Request) -> Response:
        return page(request, require_instructor(site, request))

    @router.get("/desk/additions.yaml")
    def save(request: Request) -> Response:
        require_instructor(site, request)
        press = press_of(site)
        text = written(press.edits(), fingerprint(press.shipped))
        headers = {
            "Content-Disposition": 'attachment; filename="additions.yaml"',
            "Cache-Control": "no-store",
        }
        return Response(text, media_type="application/yaml", headers=headers)

    @router.post("/desk/additions")
    def read_in(request: Request, form: Form) -> Response:
        who = require_instructor(site, request)
        text = form.untrimmed("text").replace("\r\n", "\n")
        why = form["why"]
        try:
            found = incoming(text)
        except NotAdditions as refused:
            problems = [FieldProblem("text", str(problem)) for problem in refused.problems]
            return page(request, who, text=text, problems=problems, status=422)
        take = {
            one.part: one.theirs
            for one in found
            if one.kind != "same" and form[f"take {one.part.dough} {one.part}"] == "yes"
        }
        if form["act"] != "take":
            return page(request, who, text=text, **_seen(site, found, why))
        press = press_of(site)
        bases = {part: press.text_of(part)[1] for part in take}
        return publish_or_explain(
            site, request, who,
            lambda: press.publish(take, who, why, bases=bases, kind="import", at=site.now()),
            lambda numbers: see_other(f"/desk/history/{numbers[0]}"),
            mine=take, back="/desk/additions",
        )  # fmt: skip

    def incoming(text: str) -> list[Incoming]:
        press = press_of(site)
        theirs = read(text)
        here = {edit.part: press.text_of(edit.part)[0] for edit in theirs}
        return compare(theirs, here, {edit.part: edit.text for edit in press.edits()})

    return router


def _seen(site: Site, found: list[Incoming], why: str) -> dict[str, object]:
    """What the page shows before anything is stored: each part, and what the checks say."""
    differing: dict[PartName, list[str]] = {
        one.part: [str(change) for change in changes(one.here, one.theirs)] for one in found
    }
    wanted = {one.part: one.theirs for one in found if one.kind not in ("same", "changed here too")}
    says: list[str] = []
    if wanted:
        try:
            says = [str(problem) for problem in press_of(site).try_out(wanted).errors]
        except Refused as refused:
            says = [str(problem) for problem in refused.problems]
    return {"incoming": found, "differing": differing, "checks": says, "why": why}
