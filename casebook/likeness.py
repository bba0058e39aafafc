"""Cases like one: those that share with it what was wrong, what was seen, and the step."""

from __future__ import annotations

from typing import Any, NamedTuple

from sqlalchemy import case as when
from sqlalchemy import func, select

from .cases import Head, head_from
from .connecting import Store
from .problems import UnknownCase
from .tables import case_fact, kept_case

__all__ = ["MOST_ALIKE", "Alike", "alike"]

MOST_ALIKE = 5

WORTH = {"cause": 3, "sign": 2, "reading-band": 2}
"""What a shared fact of a kind counts; house rule, tried by nobody but us."""
SAME_STAGE = 1
"""What the same step counts beside them."""
WEIGHED = 60
"""Of those that share most facts so many are looked at for their step."""


class Alike(NamedTuple):
    """A case that is like another, and how many of that one's causes and answers it shares."""

    head: Head
    causes: int
    looks: int


def alike(store: Store, id: str, most: int = MOST_ALIKE) -> tuple[Alike, ...]:
    """The cases most like one, the likest first, of equals the newest; itself left out.

    A shared cause counts 3, a shared answer 2, the same step 1; a case must share a cause or an
    answer. Doubles of others are left out. At most 60 are given. Raises `UnknownCase`.
    """
    mine, other = case_fact.alias("mine"), case_fact.alias("other")
    score = func.sum(when(WORTH, value=mine.c.kind, else_=0)).label("score")
    causes = func.sum(when((mine.c.kind == "cause", 1), else_=0)).label("causes")
    shared = func.count().label("shared")
    with store.reading() as connection:
        this = connection.execute(
            select(kept_case.c.number, kept_case.c.stage).where(kept_case.c.id == id)
        ).one_or_none()
        if this is None:
            raise UnknownCase
        likest = (
            select(other.c.case_number, score, causes, shared)
            .select_from(mine)
            .join(
                other,
                (other.c.kind == mine.c.kind)
                & (other.c.name == mine.c.name)
                & (other.c.value == mine.c.value),
            )
            .where(
                mine.c.case_number == this.number,
                mine.c.kind.in_(tuple(WORTH)),
                other.c.case_number != this.number,
            )
            .group_by(other.c.case_number)
            .order_by(score.desc(), other.c.case_number.desc())
            .limit(WEIGHED)
        )
        found = {row.case_number: row for row in connection.execute(likest)}
        rows = connection.execute(
            select(kept_case).where(
                kept_case.c.number.in_(list(found)), kept_case.c.standing != "same-as"
            )
        ).all()

    def likeness(row: Any) -> tuple[int, int]:
        return found[row.number].score + SAME_STAGE * (row.stage == this.stage), row.number

    best = sorted(rows, key=likeness, reverse=True)[:most]
    return tuple(
        Alike(
            head_from(row),
            found[row.number].causes,
            found[row.number].shared - found[row.number].causes,
        )
        for row in best
    )
