"""Instructors and their sessions: who may change the book, by a passphrase that is never kept.

What is kept is an argon2id hash (RFC 9106, the library's default settings) and, of a session's
id, its SHA-256: a copy of the database opens no session. Sessions are rows, so that one can be
ended from elsewhere.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
from datetime import datetime, timedelta

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import ColumnElement, Connection, func, insert, select, update

from .connecting import Store
from .moments import from_text, now, to_text
from .tables import desk_secret, desk_session, instructor

SHORTEST = 15
"""Characters a passphrase has at least: four or five ordinary words. House rule."""
LONGEST = 200
LONGEST_NAME = 60
KEPT = timedelta(hours=8)
"""How long a session lasts: a working day."""
AT_ONCE = 2
"""Hashes worked out at the same time. Each takes 64 MiB and about a tenth of a second."""

_hasher = PasswordHasher()
_slots = threading.BoundedSemaphore(AT_ONCE)
# Verified for a name nobody has, so that the answer takes as long as for one somebody has.
_NOBODY = _hasher.hash(secrets.token_urlsafe(32))


class NotAccepted(ValueError):
    """A name or passphrase that cannot be used, or a sign-in that is not allowed; says why."""


class TooBusy(RuntimeError):
    """As many passphrases are being checked as may be at once."""

    def __init__(self) -> None:
        super().__init__("Others are signing in at this moment. Try again in a few seconds.")


def nobody_yet(store: Store) -> bool:
    """Whether no instructor has been made."""
    with store.reading() as connection:
        return _count(connection) == 0


def add_first(store: Store, name: str, passphrase: str, *, at: datetime | None = None) -> None:
    """Make the first instructor.

    Raises `NotAccepted` if there is one already, or for a name or passphrase that cannot be used.
    """
    row = _row(name, passphrase, at)
    with store.writing() as connection:
        if _count(connection):
            raise NotAccepted(
                "There is an instructor already, so this page makes no other. Sign in, and let an "
                "instructor add you."
            )
        connection.execute(insert(instructor), row)


def add(store: Store, name: str, passphrase: str, *, at: datetime | None = None) -> None:
    """Make another instructor; who may do that is decided by the caller.

    Raises `NotAccepted` for a name that is taken, or a name or passphrase that cannot be used.
    """
    row = _row(name, passphrase, at)
    with store.writing() as connection:
        taken = connection.scalars(select(instructor.c.name)).all()
        if any(other.casefold() == row["name"].casefold() for other in taken):
            raise NotAccepted(f'There is an instructor "{row["name"]}" already; use another name.')
        connection.execute(insert(instructor), row)


def change_passphrase(
    store: Store, name: str, passphrase: str, *, at: datetime | None = None
) -> None:
    """Give an instructor another passphrase and end all their sessions.

    Whoever may do that sits at the computer with the database. Raises `NotAccepted` for a name
    nobody has, or a passphrase that cannot be used.
    """
    row = _row(name, passphrase, at)
    with store.writing() as connection:
        changed = connection.execute(
            update(instructor)
            .where(instructor.c.name == row["name"])
            .values(passphrase=row["passphrase"])
        )
        if changed.rowcount == 0:
            known = connection.scalars(select(instructor.c.name).order_by(instructor.c.since)).all()
            there = f"There are: {', '.join(known)}." if known else "There is none yet."
            raise NotAccepted(f'There is no instructor "{row["name"]}". {there}')
        connection.execute(
            update(desk_session)
            .where(desk_session.c.instructor == row["name"], desk_session.c.ended.is_(None))
            .values(ended=to_text(at or now()))
        )


def names(store: Store) -> tuple[str, ...]:
    """Every instructor, in the order of being made."""
    with store.reading() as connection:
        return tuple(
            connection.scalars(select(instructor.c.name).order_by(instructor.c.since)).all()
        )


def sign_in(store: Store, name: str, passphrase: str, *, at: datetime | None = None) -> str | None:
    """A new session's id, or None if name and passphrase do not belong together.

    The id is new at every sign-in. Raises `TooBusy`.
    """
    with store.reading() as connection:
        kept = connection.scalar(
            select(instructor.c.passphrase).where(instructor.c.name == _tidy(name))
        )
    if not _fits(kept or _NOBODY, passphrase) or kept is None:
        return None
    session = secrets.token_urlsafe(32)
    row = {"id": _digest(session), "instructor": _tidy(name), "began": to_text(at or now())}
    with store.writing() as connection:
        connection.execute(insert(desk_session), row)
    return session


def signed_in(store: Store, session: str, *, at: datetime | None = None) -> str | None:
    """The instructor whose session this is; None once it is over."""
    with store.reading() as connection:
        found = connection.execute(
            select(desk_session).where(desk_session.c.id == _digest(session))
        ).one_or_none()
    if found is None or found.ended is not None:
        return None
    began = from_text(found.began)
    return str(found.instructor) if began <= (at or now()) < began + KEPT else None


def sign_out(store: Store, session: str, *, at: datetime | None = None) -> None:
    """End one session."""
    _end(store, desk_session.c.id == _digest(session), at)


def sign_out_everywhere(store: Store, name: str, *, at: datetime | None = None) -> None:
    """End every session of an instructor, on every machine."""
    _end(store, desk_session.c.instructor == name, at)


def secret(store: Store, name: str) -> str:
    """A random secret of this database, made when first asked for: 256 bits as text."""
    wanted = select(desk_secret.c.value).where(desk_secret.c.name == name)
    with store.reading() as connection:
        known = connection.scalar(wanted)
    if known is not None:
        return str(known)
    with store.writing() as connection:
        known = connection.scalar(wanted)
        if known is None:
            known = secrets.token_urlsafe(32)
            connection.execute(insert(desk_secret), {"name": name, "value": known})
    return str(known)


def _end(store: Store, which: ColumnElement[bool], at: datetime | None) -> None:
    with store.writing() as connection:
        connection.execute(
            update(desk_session)
            .where(which, desk_session.c.ended.is_(None))
            .values(ended=to_text(at or now()))
        )


def _count(connection: Connection) -> int:
    return connection.scalar(select(func.count()).select_from(instructor)) or 0


def _row(name: str, passphrase: str, at: datetime | None) -> dict[str, str]:
    name = _tidy(name)
    if not 1 <= len(name) <= LONGEST_NAME or not name.isprintable():
        raise NotAccepted(f"Enter a name of 1 to {LONGEST_NAME} letters, like Instructor A.")
    if len(passphrase) < SHORTEST:
        raise NotAccepted(
            f"The passphrase has {len(passphrase)} letters. Enter at least {SHORTEST}: four or "
            "five words that do not belong together are easy to keep in mind."
        )
    if len(passphrase) > LONGEST:
        raise NotAccepted(f"The passphrase is too long. At most {LONGEST} letters are accepted.")
    with _slot():
        hashed = _hasher.hash(passphrase)
    return {"name": name, "passphrase": hashed, "since": to_text(at or now())}


def _fits(kept: str, passphrase: str) -> bool:
    with _slot():
        try:
            return _hasher.verify(kept, passphrase[: LONGEST + 1])
        except (VerificationError, InvalidHashError):
            return False


class _slot:
    """One of the few places for hashing; refuses at once when all are taken."""

    def __enter__(self) -> None:
        if not _slots.acquire(blocking=False):
            raise TooBusy

    def __exit__(self, *_: object) -> None:
        _slots.release()


def _tidy(name: str) -> str:
    return " ".join(name.split())


def _digest(session: str) -> str:
    return hashlib.sha256(session.encode("utf-8", "surrogatepass")).hexdigest()
