"""Which units a cook reads first: chosen once, remembered on the phone and in the batch."""

from __future__ import annotations

import re

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from . import units
from .forms import Form
from .site import KEPT_S, UNITS_COOKIE, Site, see_other
from .told import form_key, record

_LOCAL = re.compile(r"/(?![/\\])[A-Za-z0-9/_.-]{0,200}")
_TOKEN = re.compile(r"/c/([A-Za-z0-9_-]{22})(?:/|$)")
SAYS = {
    "metric": "Grams and °C first",
    "us": "US cups, ounces and °F first",
}


def choosing(site: Site) -> APIRouter:
    """The page on which units are chosen."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/units")
    def choose(request: Request, back: str = "/") -> Response:
        return site.page(request, "units.html", back=local(back), says=SAYS)

    @router.post("/units")
    def chosen(request: Request, form: Form) -> Response:
        back, system = local(form["back"]), units.system_of(form["units"])
        batch = _TOKEN.match(back)
        if batch:
            found = site.consultation(batch[1])
            record(site.store, found, form_key(form["key"]), [("units", "units", system)])
        answer = see_other(back)
        secure = request.url.scheme == "https"
        answer.set_cookie(
            UNITS_COOKIE, system, KEPT_S, httponly=True, samesite="lax", secure=secure
        )
        return answer

    return router


def local(path: str) -> str:
    """A path of this site to go back to; the first page for anything else.

    >>> local("/right/chill"), local("//elsewhere.example"), local("https://elsewhere.example")
    ('/right/chill', '/', '/')
    """
    return path if _LOCAL.fullmatch(path) else "/"
