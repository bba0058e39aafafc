"""Keeping a batch as a case, at its end or days later by its address; and the pictures of cases."""

from __future__ import annotations

import hashlib
import json
from collections.abc import AsyncIterator
from typing import Annotated, Any
from urllib.parse import quote, unquote

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from casebook.cases import Case, Photo, UnknownCase, case, cases_of, keep_case
from casebook.cases import photo as picture_of
from casebook.consultations import Consultation
from casebook.photos import LARGEST_UPLOAD, PhotoRefused, take_photo
from diagnose.knowledge.case import LONGEST_NOTE, LONGEST_WORD, NOT_TEXT

from .failures import Failure, case_of, covers, failures, has_news
from .forms import FieldProblem
from .site import Site, see_other
from .summary import OUTCOMES
from .told import form_key, new_key, record
from .uploads import Upload, read_upload

CLASS_COOKIE = "panadier-class"
"""The cookie that holds a lesson's code, so that a phone is told it once."""
CLASS_KEPT_S = 12 * 3600
"""Longer than any lesson, and over before tomorrow's."""
LONGEST_CODE = 20
_LINE_ENDS = ("\r\n", "\r", "\x85", "\u2028", "\u2029")


async def with_photo(request: Request) -> AsyncIterator[Upload]:
    """A form with a picture, for as long as it is answered."""
    upload = await read_upload(request, file="photo", most=LARGEST_UPLOAD)
    with upload.file:
        yield upload


WithPhoto = Annotated[Upload, Depends(with_photo)]
"""A form with a picture, for the signature of an endpoint."""


def keeping(site: Site) -> APIRouter:
    """The page that keeps a batch, and the address of each picture."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    def show(request: Request, found: Consultation, **more: Any) -> Response:
        wrong = failures(found, site.dough_of(found))
        earlier = kept_of(site, found.token)
        untold = [one for one in wrong if _last_case(earlier, one) is None]
        further = [
            one
            for one in wrong
            for known in [_last_case(earlier, one)]
            if known is not None and has_news(known, one)
        ]
        form: dict[str, Any] = {
            "note": "",
            "class_code": class_code_of(request),
            "failure": "",
            "outcome": "",
            "again": "",
            **more.pop("form", {}),
        }
        return site.page(
            request,
            "keep.html",
            **{
                "token": found.token,
                "timers": site.timers(found),
                "stages": {stage.id: stage.title for stage in site.dough_of(found).stages},
                "nothing": not wrong,
                "open": untold + further or (wrong if more.get("status") else []),
                "further": bool(further) and not untold,
                "earlier": earlier,
                "outcomes": {} if _outcome(found) else OUTCOMES,
                "said": form,
                "most": LONGEST_NOTE,
                "megabytes": LARGEST_UPLOAD // 1_000_000,
                **more,
            },
        )

    @router.get("/c/{token}/keep")
    def page(request: Request, token: str) -> Response:
        return show(request, site.consultation(token))

    @router.post("/c/{token}/keep")
    def keep(request: Request, token: str, upload: WithPhoto) -> Response:
        found, form = site.consultation(token), upload.fields
        problems: list[FieldProblem] = []
        note = read_note(form["note"], problems)
        code = read_class_code(form["class"], problems)
        jpeg = read_photo(upload, problems)
        outcome = form["outcome"]
        if outcome and outcome not in OUTCOMES:
            problems.append(FieldProblem("outcome", "Tap one of the answers listed."))
        failure = _chosen(failures(found, site.dough_of(found)), form["failure"])
        if failure is None:
            problems.append(FieldProblem("failure", "Say which of these you want to keep."))
        said = {
            "note": form["note"],
            "class_code": form["class"],
            "failure": form["failure"],
            "outcome": outcome,
        }
        if problems or failure is None:
            return show(request, found, form=said, problems=problems, status=422)
        if outcome and _outcome(found) != outcome:
            found = record(
                site.store, found, form_key(form["key"]), [("outcome", "batch", outcome)]
            )
            failure = _chosen(failures(found, site.dough_of(found)), str(failure.number))
            assert failure is not None, "an outcome takes no failure away"
        earlier = _last_case(kept_of(site, token), failure)
        if earlier is not None and not has_news(earlier, failure):
            if _same(site, earlier, note, jpeg):
                return remember_class(see_other(f"/c/{token}/keep"), request, code)
            if form["again"] != "yes":
                sentence = (
                    f"This is kept already, as case {earlier.id}, and a kept case is never "
                    "changed. To keep what you added, keep it once more."
                )
                if jpeg is not None:
                    sentence += " Choose the picture again."
                return show(
                    request, found, form={**said, "again": "yes"}, status=409,
                    problems=[FieldProblem("", sentence)],
                )  # fmt: skip
        made = case_of(
            found,
            failure,
            site.dough_of(found),
            site.consultant.diagnose(failure.situation),
            note=note,
            class_code=code,
            kept=site.now(),
        )
        photos = () if jpeg is None else (Photo(jpeg, alt_text(made.title)),)
        key = key_of(form["key"], token, failure.number, made.outcome, note, code, jpeg)
        keep_case(site.store, made, key, token=token, photos=photos)
        return remember_class(see_other(f"/c/{token}/keep"), request, code)

    return router


def kept_of(site: Site, token: str) -> list[Case]:
    """The cases kept from a consultation, oldest first."""
    return [case(site.store, id) for id in cases_of(site.store, token)]


def _last_case(kept: list[Case], failure: Failure) -> Case | None:
    return next((one for one in reversed(kept) if covers(one, failure)), None)


def _chosen(wrong: list[Failure], number: str) -> Failure | None:
    if len(wrong) == 1 and not number:
        return wrong[0]
    return next((one for one in wrong if str(one.number) == number), None)


def _outcome(found: Consultation) -> str | None:
    return next((str(e.value) for e in reversed(found.entries) if e.kind == "outcome"), None)


def _same(site: Site, kept: Case, note: str | None, jpeg: bytes | None) -> bool:
    """Whether a form sends again what this case holds already."""
    if note != kept.note and note is not None:
        return False
    if jpeg is None:
        return True
    try:
        return picture_of(site.store, kept.id, 1).jpeg == jpeg
    except UnknownCase:
        return False


def key_of(key: str, *parts: object) -> str:
    """The key of what one form sent: another content from the same page is another sending."""
    text = json.dumps([hashlib.sha256(p).hexdigest() if isinstance(p, bytes) else p for p in parts])
    return f"{form_key(key) if key else new_key()}.{hashlib.sha256(text.encode()).hexdigest()[:32]}"


def alt_text(title: str) -> str:
    """What is said of a picture to whoever cannot see it; nobody is asked to describe it."""
    return f"A photo from the kitchen; nobody described it. {title}"[:LONGEST_WORD]


def read_note(text: str, problems: list[FieldProblem]) -> str | None:
    """A note as it is kept, or None; what is wrong with it is added to ``problems``."""
    for end in _LINE_ENDS:
        text = text.replace(end, "\n")
    text = text.strip()
    strange = NOT_TEXT.search(text)
    if strange:
        before = " ".join(text[: strange.start()].split())[-20:]
        where = f'after "{before}"' if before else "at its beginning"
        problems.append(
            FieldProblem(
                "note",
                f"The note holds a character that cannot be shown, {where}; take it out. "
                "The rest can stay as it is.",
            )
        )
    if len(text) > LONGEST_NOTE:
        over = len(text) - LONGEST_NOTE
        problems.append(
            FieldProblem(
                "note",
                f"The note has {len(text):,} characters and up to {LONGEST_NOTE:,} are kept; "
                f"shorten it by {over:,}. Nothing of it is lost yet: it stands below.",
            )
        )
    return text or None


def read_class_code(text: str, problems: list[FieldProblem]) -> str | None:
    """A lesson's code in capitals, or None."""
    code = " ".join(text.split()).upper()
    if len(code) > LONGEST_CODE or not all(c.isalnum() or c in " -" for c in code):
        problems.append(
            FieldProblem(
                "class",
                f"A class code is up to {LONGEST_CODE} letters, digits and hyphens, like TUE-2; "
                "leave it empty if you have none.",
            )
        )
    return code or None


def read_photo(upload: Upload, problems: list[FieldProblem]) -> bytes | None:
    """The picture that came with a form, drawn again, or None if there was none."""
    if upload.empty:
        return None
    if upload.too_large:
        problems.append(
            FieldProblem(
                "photo",
                f"The picture takes {upload.size / 1e6:.1f} MB; up to "
                f"{LARGEST_UPLOAD // 1_000_000} MB are taken. Send a smaller one, or none.",
            )
        )
        return None
    try:
        return take_photo(upload.read())
    except PhotoRefused as refused:
        problems.append(FieldProblem("photo", str(refused)))
        return None


def class_code_of(request: Request) -> str:
    """The lesson's code that this phone was told, or nothing."""
    problems: list[FieldProblem] = []
    code = read_class_code(unquote(request.cookies.get(CLASS_COOKIE, "")[:200]), problems)
    return "" if problems or code is None else code


def remember_class(
    answer: RedirectResponse, request: Request, code: str | None
) -> RedirectResponse:
    """Let this phone know the lesson's code, or forget it."""
    if code is None:
        answer.delete_cookie(CLASS_COOKIE, httponly=True, samesite="lax")
    else:
        answer.set_cookie(
            CLASS_COOKIE, quote(code), CLASS_KEPT_S, httponly=True, samesite="lax",
            secure=request.url.scheme == "https",
        )  # fmt: skip
    return answer
