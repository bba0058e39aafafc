"""The machine face: stateless JSON, the same inference as the pages, nothing stored."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import JSONResponse

from diagnose.knowledge.book import Dough
from diagnose.knowledge.situations import read_situation

from .site import Site


class Unreadable(HTTPException):
    """A request that holds no situation at all."""


async def read_json(request: Request) -> object:
    """The body as JSON. Refuses everything else with a status and a sentence."""
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    if kind != "application/json":
        raise Unreadable(
            415, f'The content type "{kind[:60]}" is not accepted; send application/json.'
        )
    try:
        return json.loads(
            await request.body(), object_pairs_hook=_once, parse_constant=_no_constant
        )
    except _Doubled as doubled:
        raise Unreadable(422, str(doubled)) from None
    except RecursionError:
        raise Unreadable(
            422, "The JSON is nested too deeply; a situation has three levels."
        ) from None
    except UnicodeDecodeError:
        raise Unreadable(422, "The text is not UTF-8; send JSON in UTF-8.") from None
    except json.JSONDecodeError as broken:
        raise Unreadable(
            422,
            f"This is not JSON: {broken.msg} at line {broken.lineno}, column {broken.colno}.",
        ) from None
    except ValueError:
        raise Unreadable(422, "A number is too long; write it with at most 15 digits.") from None


class _Doubled(ValueError):
    pass


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise _Doubled(f'"{name[:60]}" is told twice in one object; tell it once.')
        found[name] = value
    return found


def _no_constant(name: str) -> None:
    raise _Doubled(f"{name} is not a number that can be measured; leave the value out.")


Body = Annotated[object, Depends(read_json)]


def api(site: Site) -> APIRouter:
    """The three addresses of the machine face."""
    router = APIRouter(prefix="/api/v1")

    @router.get("/doughs")
    def doughs() -> JSONResponse:
        """The doughs of this book with their stages."""
        return JSONResponse(
            [{"id": d.id, "title": d.title, "stages": _stages(d)} for d in site.book.doughs]
        )

    @router.get("/doughs/{name}", responses={404: {"description": "No such dough."}})
    def vocabulary(name: str) -> JSONResponse:
        """Everything a situation about this dough may name."""
        dough = site.book.dough(name)
        if dough is None:
            known = ", ".join(d.id for d in site.book.doughs)
            raise HTTPException(404, f'There is no dough "{name[:60]}"; known are {known}.')
        return JSONResponse(vocabulary_of(dough))

    @router.post(
        "/diagnose",
        openapi_extra={
            "requestBody": {
                "required": True,
                "content": {"application/json": {"schema": {"type": "object"}}},
            }
        },
        responses={
            413: {"description": "Too much was sent."},
            415: {"description": "Only application/json is accepted."},
            422: {"description": "One sentence for each mistake."},
        },
    )
    def diagnose(body: Body) -> JSONResponse:
        """A situation in, a diagnosis out; nothing is stored and no cookie is read."""
        situation, problems = read_situation(body, site.book)
        if situation is None:
            return JSONResponse({"problems": [str(p) for p in problems]}, 422)
        return JSONResponse(
            site.consultant.diagnose(situation).model_dump(mode="json", by_alias=True)
        )

    return router


def _stages(dough: Dough) -> list[dict[str, str]]:
    return [{"id": s.id, "title": s.title} for s in dough.stages]


def vocabulary_of(dough: Dough) -> dict[str, object]:
    """Stages, signs with answers, readings with units and ranges, causes, remedies with kind."""
    return {
        "id": dough.id,
        "title": dough.title,
        "covers": dough.covers,
        "does_not_cover": dough.does_not_cover,
        "stages": _stages(dough),
        "signs": [
            {
                "id": s.id,
                "ask": s.ask,
                "answers": [{"id": a.id, "say": a.say} for a in s.answers],
                "stages": list(s.stages),
            }
            for s in dough.signs
        ],
        "readings": [
            {
                "id": r.id,
                "ask": r.ask,
                "unit": r.unit,
                "likely": list(r.likely),
                "possible": list(r.possible),
                "good_to": r.good_to,
                "stages": list(r.stages),
            }
            for r in dough.readings
        ],
        "computed": [{"id": c.id, "means": c.means, "unit": c.unit} for c in dough.computed],
        "causes": [{"id": c.id, "say": c.say} for c in dough.causes],
        "remedies": [{"id": r.id, "kind": r.kind} for r in dough.remedies],
    }
