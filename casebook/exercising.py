"""Cases to practise on: teaching cases and confirmed ones, each by a name that does not tell."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, select

from diagnose.knowledge.case import Case

from .cases import marks_at
from .connecting import Store
from .preparing import case_from
from .problems import UnknownCase
from .shipping import exercise_name
from .tables import case_fact, kept_case

__all__ = ["Exercise", "Truth", "exercise", "exercise_names", "truth"]

MOST_OFFERED = 500
"""Confirmed cases that are offered: the newest."""


@dataclass(frozen=True, slots=True)
class Truth:
    """What a case turned out to be, and who says so."""

    causes: tuple[str, ...]
    """Empty if nobody has said."""
    first_remedy: str | None = None
    by: str = ""
    """The name an instructor gave; empty for a teaching case."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """A case with a known cause, under the name it has while the cause is hidden."""

    name: str
    case: Case
    truth: Truth


def exercise_names(store: Store, dough: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The names of the exercises there are: of teaching cases, and of the newest confirmed."""
    here = kept_case.c.dough == dough
    shipped = (
        select(case_fact.c.name)
        .join(kept_case, kept_case.c.number == case_fact.c.case_number)
        .where(case_fact.c.kind == "exercise", here)
        .order_by(case_fact.c.name)
    )
    confirmed = (
        select(kept_case.c.id)
        .where(kept_case.c.standing == "confirmed", kept_case.c.entered_by != "shipped", here)
        .order_by(kept_case.c.kept.desc(), kept_case.c.id.desc())
        .limit(MOST_OFFERED)
    )
    with store.reading() as connection:
        return tuple(connection.scalars(shipped)), tuple(connection.scalars(confirmed))


def exercise(store: Store, name: str) -> Exercise:
    """The exercise of that name. Raises `UnknownCase` for none, or none with a known cause."""
    named = select(case_fact.c.case_number).where(
        case_fact.c.kind == "exercise", case_fact.c.name == name, case_fact.c.value == ""
    )
    with store.reading() as connection:
        number = connection.scalar(named)
        if number is None:
            # A teaching case goes by its other name alone, or its own would tell.
            number = connection.scalar(
                select(kept_case.c.number).where(
                    kept_case.c.id == name, kept_case.c.entered_by != "shipped"
                )
            )
        if number is None:
            raise UnknownCase
        row = connection.execute(select(kept_case).where(kept_case.c.number == number)).one()
        found = _truth(connection, row.number, row.standing)
    if not found.causes:
        raise UnknownCase
    return Exercise(name, case_from(row), found)


def truth(store: Store, id: str) -> Truth:
    """What a case turned out to be: by its last mark, or as a teaching case tells it.

    Raises `UnknownCase` if there is no such case; of one that nobody has confirmed nothing is
    known.
    """
    with store.reading() as connection:
        row = connection.execute(
            select(kept_case.c.number, kept_case.c.standing).where(kept_case.c.id == id)
        ).one_or_none()
        if row is None:
            raise UnknownCase
        return _truth(connection, row.number, row.standing)


def named(id: str, entered_by: str) -> str:
    """The name under which a case is practised."""
    return exercise_name(id) if entered_by == "shipped" else id


def _truth(connection: Connection, number: int, standing: str) -> Truth:
    if standing == "confirmed":
        last = marks_at(connection, number)[-1]
        return Truth(last.causes, last.first_remedy, last.by)
    if not _facts(connection, number, "exercise"):
        return Truth(())
    first = _facts(connection, number, "first-remedy")
    return Truth(_facts(connection, number, "cause"), first[0] if first else None)


def _facts(connection: Connection, number: int, kind: str) -> tuple[str, ...]:
    wanted = select(case_fact.c.name).where(
        case_fact.c.case_number == number, case_fact.c.kind == kind
    )
    return tuple(connection.scalars(wanted.order_by(case_fact.c.name)))
