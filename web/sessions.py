"""What ties a browser to an instructor: the signed cookie, the token on forms, and from where.

The cookie holds a session's id, signed with this database's secret; whether that session still
runs is looked up in the casebook. A form carries a keyed hash of the same id, so that only a page
printed for a session can send for it.
"""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass, field

from fastapi import Request
from itsdangerous import BadSignature, Signer

from casebook import instructors
from casebook.store import Store

from .throttle import Throttle, is_this_computer

COOKIE = "panadier-desk"
FIELD = "desk-token"
"""The hidden field that says for which session a form was printed."""
KEPT_S = int(instructors.KEPT.total_seconds())


@dataclass
class Desk:
    """What signing in needs for as long as the program runs."""

    store: Store
    on_lan: bool = False
    throttle: Throttle = field(default_factory=Throttle)
    _secret: str | None = None

    @property
    def secret(self) -> str:
        """This database's secret, by which cookies and forms are signed."""
        if self._secret is None:
            self._secret = instructors.secret(self.store, "desk")
        return self._secret

    @property
    def signer(self) -> Signer:
        """Signs the cookie, so that only ids given out here are looked up."""
        return Signer(self.secret, salt="session", digest_method=hashlib.sha256)

    def token(self, session: str) -> str:
        """What a form printed for a session carries."""
        made = hmac.new(self.secret.encode(), f"form\0{session}".encode(), hashlib.sha256)
        return made.hexdigest()


def is_desk(path: str) -> bool:
    """Whether an address belongs to the desk."""
    return path == "/desk" or path.startswith("/desk/")


def may_be_here(request: Request, desk: Desk) -> bool:
    """Whether the desk is open from where the request comes."""
    host = request.client.host if request.client else ""
    return desk.on_lan or request.url.scheme == "https" or is_this_computer(host)


def session_of(request: Request, desk: Desk) -> str | None:
    """The session id in a cookie that was signed here; whether it still runs is not looked up."""
    try:
        return desk.signer.unsign(request.cookies.get(COOKIE, "")).decode()
    except (BadSignature, UnicodeDecodeError):
        return None
