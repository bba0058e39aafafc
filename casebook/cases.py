"""Cases: kept once, never changed; what instructors say of them is appended as marks.

The standing of a case is the verdict of its last mark, or "new". A form's key makes keeping and
marking happen once, as with consultations.
"""

import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    and_,
    delete,
    func,
    insert,
    select,
    text,
    tuple_,
    update,
)

from diagnose.knowledge.case import Case, Mark, Photo, Thought, Told, Verdict, check_mark
from diagnose.knowledge.casefile import MOST_MARKS

from .connecting import Store
from .moments import from_text, now
from .preparing import (
    Prepared,
    case_from,
    facts_of_causes,
    mark_from,
    mark_row,
    prepare,
    thought_from,
)
from .problems import KeyReused, NotStorable, UnknownCase
from .storing import alone, check_words
from .tables import case_fact, case_mark, case_photo, case_words, kept_case

__all__ = [
    "Case",
    "Head",
    "Mark",
    "Photo",
    "Thought",
    "Told",
    "UnknownCase",
    "case",
    "cases_of",
    "confirmed",
    "doubles",
    "keep_case",
    "mark",
    "marks",
    "photo",
    "photos",
    "queue",
    "standing",
]

Standing = Literal["new", "confirmed", "doubtful", "same-as"]

SHIPPED, BEHIND = "shipped ", "shipped!"
"""What the key of a teaching case that came with the program begins with, as no form's key does
(it has no space); and the next text after all that begin so."""

ID_LENGTH = 10
_FIRST = "abcdefghjkmnpqrstuvwxyz"
_LETTERS = _FIRST + "23456789"
"""Without i, l, o, 0 and 1, which are mistaken for each other when read aloud or copied."""


@dataclass(frozen=True, slots=True)
class Head:
    """A case in a list."""

    id: str
    title: str
    dough: str
    stage: str
    outcome: str | None
    standing: Standing
    class_code: str | None
    entered_by: str
    kept: datetime


def is_shipped() -> ColumnElement[bool]:
    """Whether a row of `kept_case` came with the program: such are never exported."""
    key = kept_case.c.idempotency_key
    return and_(key >= SHIPPED, key < BEHIND)


def keep_case(
    store: Store, case: Case, key: str, *, token: str | None = None, photos: Sequence[Photo] = ()
) -> str:
    """Keep a case and return its id; the same key gives the same id again.

    A case without an id gets one of 10 characters, random but public: nothing is protected by
    it. ``token`` is the consultation it came from, if it came from one here. Raises `NotStorable`
    with every reason for a case that cannot be kept or whose id is taken, and `KeyReused` if the
    key kept another case: one of another consultation, or with another title, outcome, note or
    class. What the program thought and the minutes left until serving may differ between two
    sendings of one form.
    """
    check_words(key=key)
    named = case if case.id else replace(case, id=_new_id())
    ready = prepare(named, key, token=token, photos=photos)
    with store.writing() as connection:
        alone(store, connection)
        known = connection.execute(
            select(kept_case).where(kept_case.c.idempotency_key == key)
        ).one_or_none()
        if known is not None:
            sent = ("token", "title", "outcome", "note", "class_code", "entered_by", "dough")
            if any(getattr(known, name) != ready.case[name] for name in sent):
                raise KeyReused(
                    "This form already kept a case with other words; load the page again."
                )
            return str(known.id)
        taken = connection.scalar(select(kept_case.c.id).where(kept_case.c.id == named.id))
        if taken is not None:
            raise NotStorable(f"There is already a case {named.id}; give this one another name.")
        insert_prepared(store, connection, [ready])
    return named.id


def insert_prepared(
    store: Store, connection: Connection, ready: Sequence[Prepared], *, first: int | None = None
) -> None:
    """Insert prepared cases with all that belongs to them; `alone` must have been called.

    ``first`` is the number of the first; without it they follow the newest. Shipped cases alone
    have numbers below nought.
    """
    if not ready:
        return
    if first is None:
        first = max(0, connection.scalar(select(func.max(kept_case.c.number))) or 0) + 1
    numbered = list(enumerate(ready, first))
    connection.execute(insert(kept_case), [{**one.case, "number": n} for n, one in numbered])
    words = [{**one.words, "case_number": n} for n, one in numbered]
    connection.execute(insert(case_words), words)
    if store.is_sqlite:
        connection.execute(
            text(
                "INSERT INTO case_search (rowid, title, body) VALUES (:case_number, :title, :body)"
            ),
            words,
        )
    for table, part in ((case_fact, "facts"), (case_mark, "marks"), (case_photo, "photos")):
        rows = [{**row, "case_number": n} for n, one in numbered for row in getattr(one, part)]
        if rows:
            connection.execute(insert(table), rows)


def case(store: Store, id: str) -> Case:
    """The case with this id, as it was kept. Raises `UnknownCase`."""
    with store.reading() as connection:
        return case_from(_row(connection, id))


def cases_of(store: Store, token: str) -> tuple[str, ...]:
    """The ids of the cases kept from this consultation, oldest first."""
    wanted = select(kept_case.c.id).where(kept_case.c.token == token).order_by(kept_case.c.number)
    with store.reading() as connection:
        return tuple(connection.scalars(wanted))


def photos(store: Store, id: str) -> tuple[str, ...]:
    """The sentence for each picture of a case, in order. Raises `UnknownCase`."""
    with store.reading() as connection:
        number = _row(connection, id).number
        wanted = select(case_photo.c.alt).where(case_photo.c.case_number == number)
        return tuple(connection.scalars(wanted.order_by(case_photo.c.number)))


def photo(store: Store, id: str, number: int) -> Photo:
    """One picture of a case, counted from 1. Raises `UnknownCase` if there is none."""
    wanted = (
        select(case_photo.c.jpeg, case_photo.c.alt)
        .join(kept_case, kept_case.c.number == case_photo.c.case_number)
        .where(kept_case.c.id == id, case_photo.c.number == number)
    )
    with store.reading() as connection:
        found = connection.execute(wanted).one_or_none()
    if found is None:
        raise UnknownCase
    return Photo(bytes(found.jpeg), found.alt)


def mark(
    store: Store,
    id: str,
    key: str,
    *,
    by: str,
    verdict: Verdict,
    causes: Sequence[str] = (),
    first_remedy: str | None = None,
    other: str | None = None,
    at: datetime | None = None,
) -> Mark:
    """Append what an instructor says of a case; the same key gives the same mark again.

    ``confirmed`` needs the true causes; ``same-as`` needs the other case, which stays and must
    not itself be marked the same as this one, also not by way of others. Raises `UnknownCase`,
    `NotStorable` with every reason, and `KeyReused` if the key marked another case or with other
    words.
    """
    check_words(key=key)
    with store.writing() as connection:
        alone(store, connection)
        row = _row(connection, id)
        if row.entered_by == "shipped":
            raise NotStorable(f"{id} is a teaching case; what it was is given, and not marked.")
        number = row.number
        known = connection.execute(
            select(case_mark).where(case_mark.c.idempotency_key == key)
        ).one_or_none()
        last = connection.scalar(
            select(func.max(case_mark.c.number)).where(case_mark.c.case_number == number)
        )
        made = Mark((last or 0) + 1, at or now(), by, verdict, tuple(causes), first_remedy, other)
        if known is not None:
            earlier = mark_from(known)
            if known.case_number != number or earlier != replace(
                made, number=earlier.number, at=earlier.at
            ):
                raise KeyReused("This form already marked a case otherwise; load the page again.")
            return earlier
        problems = check_mark(made)
        if problems:
            raise NotStorable("\n".join(str(problem) for problem in problems))
        if made.number > MOST_MARKS:
            raise NotStorable(f"A case takes at most {MOST_MARKS} marks, and {id} has as many.")
        if other is not None:
            _check_other(connection, id, other)
        connection.execute(insert(case_mark), {**mark_row(made, key), "case_number": number})
        set_standing(connection, number, made)
    return made


def set_standing(connection: Connection, number: int, last: Mark) -> None:
    """Let the last mark of a case show in its standing and in what a search by cause finds."""
    here = kept_case.c.number == number
    connection.execute(update(kept_case).where(here).values(standing=last.verdict))
    thought = connection.execute(select(kept_case.c.thought).where(here)).scalar_one()
    connection.execute(
        delete(case_fact).where(case_fact.c.case_number == number, case_fact.c.kind == "cause")
    )
    rows = facts_of_causes(thought_from(thought), last)
    if rows:
        connection.execute(insert(case_fact), [{**row, "case_number": number} for row in rows])


def _check_other(connection: Connection, id: str, other: str) -> None:
    """Refuse a chain of doubles that comes back to where it began."""
    seen, passed = other, set[str]()
    while seen not in passed:
        passed.add(seen)
        if seen == id:
            raise NotStorable(
                f"{other} is itself marked the same as {id}, or is {id}; name another case, "
                "or mark that one first."
            )
        row = connection.execute(select(kept_case).where(kept_case.c.id == seen)).one_or_none()
        if row is None:
            raise NotStorable(f"There is no case {seen} to be the same as; check its name.")
        if row.entered_by == "shipped":
            raise NotStorable(f"{seen} is a teaching case, and nobody's batch; name a kept one.")
        if row.standing != "same-as":
            return
        seen = _last_mark(connection, row.number).other or ""


def marks(store: Store, id: str) -> tuple[Mark, ...]:
    """Every mark of a case, oldest first. Raises `UnknownCase`."""
    with store.reading() as connection:
        return marks_at(connection, _row(connection, id).number)


def marks_at(connection: Connection, number: int) -> tuple[Mark, ...]:
    """Every mark of the case with this number."""
    wanted = select(case_mark).where(case_mark.c.case_number == number)
    return tuple(map(mark_from, connection.execute(wanted.order_by(case_mark.c.number))))


def standing(store: Store, id: str) -> Standing:
    """The verdict of the last mark, or "new". Raises `UnknownCase`."""
    with store.reading() as connection:
        found: Standing = _row(connection, id).standing
        return found


def doubles(store: Store, id: str) -> tuple[str, ...]:
    """The ids of the cases whose last mark says that they are the same as this one."""
    later = case_mark.alias()
    wanted = (
        select(kept_case.c.id)
        .join(case_mark, case_mark.c.case_number == kept_case.c.number)
        .where(
            case_mark.c.other == id,
            kept_case.c.standing == "same-as",
            ~select(later.c.number)
            .where(
                later.c.case_number == case_mark.c.case_number,
                later.c.number > case_mark.c.number,
            )
            .exists(),
        )
        .order_by(kept_case.c.number)
    )
    with store.reading() as connection:
        return tuple(connection.scalars(wanted))


def queue(
    store: Store, after: str | None = None, *, count: int = 20, class_code: str | None = None
) -> tuple[Head, ...]:
    """Cases that nobody has marked yet, oldest first; shipped ones need no confirming.

    ``after`` is the id of a case: only those behind it are given. Raises `UnknownCase` for one
    that is not there.
    """
    wanted = select(kept_case).where(
        kept_case.c.standing == "new", kept_case.c.entered_by != "shipped"
    )
    if class_code is not None:
        wanted = wanted.where(kept_case.c.class_code == class_code)
    with store.reading() as connection:
        if after is not None:
            behind = _row(connection, after)
            wanted = wanted.where(
                tuple_(kept_case.c.kept, kept_case.c.id) > tuple_(behind.kept, behind.id)
            )
        rows = connection.execute(wanted.order_by(kept_case.c.kept, kept_case.c.id).limit(count))
        return tuple(map(head_from, rows))


def confirmed(store: Store, dough: str | None = None) -> Iterator[tuple[Case, Mark]]:
    """Every case whose last mark confirms it, with that mark, in the order of their ids.

    These alone count for learning; shipped ones never do.
    """
    last = (
        select(case_mark.c.case_number, func.max(case_mark.c.number).label("number"))
        .group_by(case_mark.c.case_number)
        .subquery()
    )
    wanted = (
        select(kept_case.c.id, case_mark)
        .join(last, last.c.case_number == kept_case.c.number)
        .join(
            case_mark,
            (case_mark.c.case_number == last.c.case_number) & (case_mark.c.number == last.c.number),
        )
        .where(kept_case.c.standing == "confirmed", kept_case.c.entered_by != "shipped")
        .order_by(kept_case.c.id)
    )
    kept = (
        select(kept_case)
        .where(kept_case.c.standing == "confirmed", kept_case.c.entered_by != "shipped")
        .order_by(kept_case.c.id)
    )
    if dough is not None:
        wanted = wanted.where(kept_case.c.dough == dough)
        kept = kept.where(kept_case.c.dough == dough)
    with store.reading() as connection:
        said = {row.id: mark_from(row) for row in connection.execute(wanted)}
        rows = connection.execute(kept).all()
    for row in rows:
        if row.id in said:
            yield case_from(row), said[row.id]


def _row(connection: Connection, id: str) -> Row[Any]:
    found = connection.execute(select(kept_case).where(kept_case.c.id == id)).one_or_none()
    if found is None:
        raise UnknownCase
    return found


def _last_mark(connection: Connection, number: int) -> Mark:
    wanted = select(case_mark).where(case_mark.c.case_number == number)
    return mark_from(connection.execute(wanted.order_by(case_mark.c.number.desc()).limit(1)).one())


def head_from(row: Any) -> Head:
    """A row of `kept_case` for a list."""
    return Head(
        row.id,
        row.title,
        row.dough,
        row.stage,
        row.outcome,
        row.standing,
        row.class_code,
        row.entered_by,
        from_text(row.kept),
    )


def _new_id() -> str:
    rest = "".join(secrets.choice(_LETTERS) for _ in range(ID_LENGTH - 1))
    return secrets.choice(_FIRST) + rest
