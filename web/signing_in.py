"""Signing in to the rule desk: instructors only, and only under ``/desk``. Cooks never sign in.

What other pages of the desk need is here: who is signed in, that somebody must be, and printing a
page that no browser keeps. Every address under ``/desk`` passes :func:`desk_gate` first, which
asks where a request comes from and whether a form was printed for the session that sends it; the
gate stands before the pages, so that no page can forget it.
"""

from __future__ import annotations

import hmac
import logging
import re
from urllib.parse import quote, urlsplit

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from markupsafe import Markup

from casebook import instructors
from casebook.instructors import NotAccepted, TooBusy

from .forms import FieldProblem, Form
from .guard import READING
from .sessions import COOKIE, FIELD, KEPT_S, is_desk, may_be_here, session_of
from .site import Site, see_other
from .throttle import is_this_computer

_BEFORE = frozenset({"/desk/sign-in", "/desk/first"})
"""Where nobody is signed in yet, so that no form can be tied to a session."""
_DESK = re.compile(r"/desk(?:[/?][A-Za-z0-9/_.?=&%+~:,-]{0,300})?")
_log = logging.getLogger("web.desk")

NOT_FROM_HERE = (
    "The rule desk is not open from this machine. A passphrase sent over plain http can be read "
    "by anyone on this Wi-Fi. Use the desk on the computer that serves this site, or over https."
)
NOT_OUR_FORM = (
    "This form was printed before you signed in, so nothing was stored. Open the page again, and "
    "send it from there."
)


class SignInFirst(Exception):
    """Somebody must sign in; afterwards they go on to ``back``."""

    def __init__(self, back: str) -> None:
        super().__init__(back)
        self.back = desk_path(back)

    @property
    def answer(self) -> Response:
        """To the page for signing in."""
        return RedirectResponse(f"/desk/sign-in?back={quote(self.back, safe='/')}", 303)


def desk_path(path: str) -> str:
    """A path of the desk to go back to; its first page for anything else.

    >>> desk_path("/desk/rules/new?from=42"), desk_path("//elsewhere.example")
    ('/desk/rules/new?from=42', '/desk')
    """
    return path if _DESK.fullmatch(path) else "/desk"


async def desk_gate(request: Request) -> None:
    """What each request to the desk passes before its page.

    Raises 403 with a sentence from a machine the desk is not open to, and for a form that was not
    printed for the session that sends it.
    """
    if not is_desk(request.url.path):
        return
    desk = _site(request).desk
    if not may_be_here(request, desk):
        raise HTTPException(403, NOT_FROM_HERE)
    if request.method in READING or request.url.path in _BEFORE:
        return
    session = session_of(request, desk)
    if session is None:
        return
    given = (await request.form()).get(FIELD)
    if not isinstance(given, str) or not hmac.compare_digest(
        given.encode("utf-8", "surrogatepass"), desk.token(session).encode()
    ):
        raise HTTPException(403, NOT_OUR_FORM)


def instructor(request: Request) -> str | None:
    """The instructor who is signed in; None for everybody else."""
    site = _site(request)
    session = session_of(request, site.desk)
    if session is None or not may_be_here(request, site.desk):
        return None
    return instructors.signed_in(site.store, session, at=site.now())


def require_instructor(site: Site, request: Request) -> str:
    """The instructor who is signed in.

    Raises `SignInFirst`, which is answered with the page for signing in and leads back here.
    """
    who = instructor(request)
    if who is not None:
        return who
    if request.method in READING:
        here = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    else:
        here = urlsplit(request.headers.get("referer", "")).path
    raise SignInFirst(here)


def desk_page(
    site: Site, request: Request, template: str, *, status: int = 200, **values: object
) -> HTMLResponse:
    """A page of the desk: with the token for its forms, and kept by no browser."""
    session = session_of(request, site.desk) or ""
    token = Markup('<input type="hidden" name="{}" value="{}">').format(
        FIELD, site.desk.token(session) if session else ""
    )
    values = {"who": None, "desk_token": lambda: token, **values}
    page = site.page(request, template, status=status, **values)
    page.headers["Cache-Control"] = "no-store"
    return page


def signing_in(site: Site) -> APIRouter:
    """The pages for signing in and out, and for making instructors."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)
    desk = site.desk

    def sign_in_page(request: Request, back: str, name: str = "", **more: object) -> Response:
        first = instructors.nobody_yet(site.store)
        shown = "desk_first.html" if first else "desk_sign_in.html"
        if first and not _local(request):
            shown = "desk_first_elsewhere.html"
        values = {"back": back, "name": name, "problems": (), **more}
        return desk_page(site, request, shown, **values)  # type: ignore[arg-type]

    @router.get("/desk/sign-in")
    def ask(request: Request, back: str = "/desk") -> Response:
        return sign_in_page(request, desk_path(back))

    @router.post("/desk/sign-in")
    def enter(request: Request, form: Form) -> Response:
        back, name = desk_path(form["back"]), form["name"]
        address = request.client.host if request.client else ""
        wait = desk.throttle.take(address)
        if wait:
            sentence = f"Too many tries. Wait {in_words(wait)}, then try again."
            problem = FieldProblem("passphrase", sentence)
            answer = sign_in_page(request, back, name, problems=(problem,), status=429)
            answer.headers["Retry-After"] = str(int(wait) + 1)
            return answer
        try:
            session = instructors.sign_in(
                site.store, name, form.untrimmed("passphrase"), at=site.now()
            )
        except TooBusy as busy:
            desk.throttle.not_tried(address)
            problem = FieldProblem("passphrase", str(busy))
            return sign_in_page(request, back, name, problems=(problem,), status=503)
        if session is None:
            _log.warning("A passphrase did not fit, from %r", address)
            problem = FieldProblem(
                "passphrase", "Name and passphrase do not belong together. Enter both again."
            )
            return sign_in_page(request, back, name, problems=(problem,), status=401)
        desk.throttle.passed(address)
        return _with_session(request, session, back)

    @router.post("/desk/first")
    def make_first(request: Request, form: Form) -> Response:
        if not _local(request):
            raise HTTPException(403, "The first instructor is made on the computer itself.")
        name, passphrase = form["name"], form.untrimmed("passphrase")
        try:
            instructors.add_first(site.store, name, passphrase, at=site.now())
            session = instructors.sign_in(site.store, name, passphrase, at=site.now())
        except (NotAccepted, TooBusy) as refused:
            problem = FieldProblem("name" if "name" in str(refused) else "passphrase", str(refused))
            return sign_in_page(request, "/desk", name, problems=(problem,), status=422)
        assert session is not None, "made a moment ago"
        return _with_session(request, session, "/desk")

    def _with_session(request: Request, session: str, back: str) -> Response:
        # A session that was open on this browser ends, and its id is of no use any more.
        before = session_of(request, desk)
        if before is not None:
            instructors.sign_out(site.store, before, at=site.now())
        answer = see_other(back)
        answer.set_cookie(
            COOKIE,
            desk.signer.sign(session).decode(),
            max_age=KEPT_S,
            httponly=True,
            samesite="strict",
            secure=request.url.scheme == "https",
        )
        answer.headers["Cache-Control"] = "no-store"
        return answer

    @router.post("/desk/sign-out")
    def leave(request: Request, form: Form) -> Response:
        session = session_of(request, desk)
        if session is not None:
            who = instructor(request)
            instructors.sign_out(site.store, session, at=site.now())
            if form["everywhere"] and who is not None:
                instructors.sign_out_everywhere(site.store, who, at=site.now())
        answer = see_other("/desk/sign-in")
        answer.delete_cookie(COOKIE)
        answer.headers["Cache-Control"] = "no-store"
        return answer

    @router.get("/desk/instructors")
    def everybody(request: Request) -> Response:
        who = require_instructor(site, request)
        return _instructors_page(request, who)

    @router.post("/desk/instructors")
    def add(request: Request, form: Form) -> Response:
        who = require_instructor(site, request)
        try:
            instructors.add(site.store, form["name"], form.untrimmed("passphrase"), at=site.now())
        except (NotAccepted, TooBusy) as refused:
            sentence = str(refused)
            field_name = "passphrase" if "passphrase" in sentence.split(".")[0] else "name"
            problem = FieldProblem(field_name, sentence)
            return _instructors_page(
                request, who, name=form["name"], problems=(problem,), status=422
            )
        return see_other("/desk/instructors")

    def _instructors_page(request: Request, who: str, **more: object) -> Response:
        values = {"name": "", **more}
        return desk_page(
            site, request, "desk_instructors.html", who=who,
            names=instructors.names(site.store), **values,  # type: ignore[arg-type]
        )  # fmt: skip

    return router


def in_words(seconds: float) -> str:
    """A wait as a person would say it, never shorter than it is.

    >>> in_words(1.2), in_words(63), in_words(900)
    ('2 seconds', '2 minutes', '15 minutes')
    """
    whole = int(-(-seconds // 1))
    if whole < 60:
        return f"{whole} second{'s' if whole != 1 else ''}"
    minutes = -(-whole // 60)
    return f"{minutes} minute{'s' if minutes != 1 else ''}"


def _local(request: Request) -> bool:
    return is_this_computer(request.client.host if request.client else "")


def _site(request: Request) -> Site:
    site = request.app.state.site
    assert isinstance(site, Site), "put there when the application was made"
    return site
