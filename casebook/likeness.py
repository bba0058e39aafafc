"""Cases like one: those that share with it what was wrong, what was seen, and the step."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy import case as when
from sqlalchemy import func, select

from .cases import Head, head_from
from .connecting import Store
from .problems import UnknownCase
from .tables import case_fact, kept_case

__all__ = ["MOST_ALIKE", "Alike", "alike"]

MOST_ALIKE = 5

WORTH = {"cause": 3, "sign": 2, "reading-band": 2, "stage": 1}
"""What a shared fact of a kind counts; house rule, tried by nobody but us."""


class Alike(NamedTuple):
    """A case that is like another, and how many of that one's facts it shares, by kind."""

    head: Head
    causes: int
    looks: int


def alike(store: Store, id: str, most: int = MOST_ALIKE) -> tuple[Alike, ...]:
    """The cases most like one, the likest first, of equals the newest; itself left out.

    A shared cause counts 3, a shared answer 2, the same stage 1 (`WORTH`); a case must share a
    cause or an answer. Doubles of others are left out. Raises `UnknownCase`.
    """
    mine, other = case_fact.alias("mine"), case_fact.alias("other")
    shared = when(WORTH, value=mine.c.kind, else_=0)
    causes = func.sum(when((mine.c.kind == "cause", 1), else_=0))
    looks = func.sum(when((mine.c.kind.in_(("sign", "reading-band")), 1), else_=0))
    doubles = select(kept_case.c.number).where(kept_case.c.standing == "same-as")
    with store.reading() as connection:
        number = connection.scalar(select(kept_case.c.number).where(kept_case.c.id == id))
        if number is None:
            raise UnknownCase
        likest = (
            select(other.c.case_number, causes.label("causes"), looks.label("looks"))
            .select_from(mine)
            .join(
                other,
                (other.c.kind == mine.c.kind)
                & (other.c.name == mine.c.name)
                & (other.c.value == mine.c.value),
            )
            .where(
                mine.c.case_number == number,
                mine.c.kind.in_(tuple(WORTH)),
                other.c.case_number != number,
                other.c.case_number.not_in(doubles),
            )
            .group_by(other.c.case_number)
            .having(causes + looks > 0)
            .order_by(func.sum(shared).desc(), other.c.case_number.desc())
            .limit(most)
        )
        found = connection.execute(likest).all()
        numbers = [row.case_number for row in found]
        rows = connection.execute(select(kept_case).where(kept_case.c.number.in_(numbers)))
        heads = {row.number: head_from(row) for row in rows}
    return tuple(Alike(heads[row.case_number], row.causes, row.looks) for row in found)
