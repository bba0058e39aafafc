"""Four invented students whose slabs smeared although they were chilled two hours."""

from __future__ import annotations

from datetime import UTC, datetime

from casebook.cases import keep_case, mark
from casebook.consultations import append_all, open_consultation
from casebook.store import Store
from diagnose.knowledge.case import Case

MONDAY = datetime(2026, 11, 23, 9, tzinfo=UTC)
SEEN = {
    "knife-cut": "smears",
    "knife-state": "cold-dry",
    "since-pressed": "cold-over-2-hours",
    "chilled-on": "wood-or-box",
    "covered-how": "touching",
}
KITCHENS = (("Harbour", 6.0), ("Orchard", 640.0), ("Summit", 2310.0), ("Harbour", 6.0))


def monday_cases(store: Store) -> list[str]:
    """Keep and confirm the four; their ids."""
    ids = []
    for number, (kitchen, metres) in enumerate(KITCHENS):
        case = Case(
            "milk-panade-slab",
            f"Smears though chilled two hours, {kitchen} {number + 1}",
            "cut",
            MONDAY,
            MONDAY,
            entered_by="instructor",
            elevation_m=metres,
            situation={"stage": "cut", "kitchen": {"elevation_m": metres}, "signs": SEEN},
        )
        name = keep_case(store, case, f"monday-{number}")
        mark(store, name, f"monday-{number}", by="Instructor A", verdict="confirmed",
             causes=("chilled-too-short",))  # fmt: skip
        ids.append(name)
    return ids


SIGNS = {
    "knife-cut": "smears",
    "since-pressed": "cold-over-2-hours",
    "chilled-on": "shelf",
    "slab-after-chill": "soft-warm",
}
NEXT_COOK = {
    "dough": "milk-panade-slab",
    "stage": "cut",
    "kitchen": {"elevation_m": 2310},
    "signs": SIGNS,
}
"""What the next cook tells: chilled on a shelf, which none of the four did."""


def next_cook(store: Store) -> str:
    """A consultation in which the next cook has told all that; its token."""
    token = open_consultation(store, "milk-panade-slab", "next-cook")
    signs = [("sign", name, value) for name, value in SIGNS.items()]
    append_all(store, token, "next-cook-told", [("stage", "stage", "cut"), *signs])
    return token
