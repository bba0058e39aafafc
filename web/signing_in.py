"""Who is signed in at the desk; nobody yet, until instructors can sign in."""

from __future__ import annotations

from fastapi import HTTPException, Request
from fastapi.responses import HTMLResponse

from .site import Site


def instructor(request: Request) -> str | None:
    """The name of the instructor who is signed in, or None."""
    return None


def require_instructor(site: Site, request: Request) -> str:
    """The name of the instructor; to the sign-in page without one."""
    name = instructor(request)
    if name is None:
        raise HTTPException(303, headers={"Location": f"/desk/sign-in?back={request.url.path}"})
    return name


def desk_page(site: Site, request: Request, template: str, **values: object) -> HTMLResponse:
    """A page of the desk: never kept by a browser."""
    page = site.page(request, template, **{"desk_token": lambda: "", **values})  # type: ignore[arg-type]
    page.headers["Cache-Control"] = "no-store"
    return page
