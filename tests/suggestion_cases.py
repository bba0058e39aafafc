"""Made-up confirmed cases kept in a store, in which some answers go with some causes."""

from __future__ import annotations

import random
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from casebook.cases import keep_case, mark
from casebook.store import Store
from diagnose.knowledge.book import Dough
from diagnose.knowledge.case import Case, Told

NOON = datetime(2024, 3, 4, 12, 0, tzinfo=UTC)
STAGE = "cook-paste"
CAUSES = ("milk-over", "flour-over", "undercooked-paste")
PLANTED = ("lumps", "soft", "milk-over")
"""An answer of the book that its table does not tie to this cause."""


def keep_confirmed(
    store: Store, number: int, signs: Mapping[str, str], cause: str, note: str | None = None
) -> str:
    """Keep one case and confirm its cause; its id."""
    at = NOON + timedelta(minutes=number)
    told = (
        Told(at, "stage", "stage", STAGE),
        *(Told(at, "sign", name, answer) for name, answer in signs.items()),
    )
    case = Case(
        dough="milk-panade-slab",
        title=f"Made-up case {number}",
        stage=STAGE,
        opened=at,
        kept=at,
        situation={"dough": "milk-panade-slab", "stage": STAGE, "signs": dict(signs)},
        told=told,
        note=note,
    )
    id = keep_case(store, case, f"case-{number}")
    mark(store, id, f"mark-{number}", by="Instructor A", verdict="confirmed", causes=(cause,))
    return id


def keep_planted(
    store: Store, dough: Dough, count: int = 240, notes: Mapping[int, str] | None = None
) -> None:
    """Cases of three causes; the planted answer comes mostly with its cause, all else by chance."""
    dice = random.Random(5)
    looks = [s for s in dough.signs if STAGE in s.stages and s.given_by is None][:8]
    look, answer, cause = PLANTED
    others = [a.id for s in dough.signs if s.id == look for a in s.answers if a.id != answer]
    for number in range(count):
        true = CAUSES[number % 3]
        signs = {
            sign.id: dice.choice(sign.answers).id
            for sign in looks
            if sign.id != look and dice.random() < 0.6
        }
        chance = 0.8 if true == cause else 0.1
        signs[look] = answer if dice.random() < chance else dice.choice(others)
        keep_confirmed(store, number, signs, true, (notes or {}).get(number))
