"""From a plan to a batch in hand: what the consultation knows so that nothing is asked again."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from casebook.consultations import JSON
from diagnose.kitchen.measuring import FLOUR_CUP_G
from diagnose.knowledge.book import Dough
from diagnose.planning.asking import Wanted
from diagnose.planning.batch_plan import BatchPlan

from .kitchens import KITCHENS
from .plan_request import request_of
from .told import Telling
from .wording import height, minutes, thousands

SIGNS = {"milk": "milk-kind", "flour": "flour-kind"}
"""Boxes of the planner that answer a question of the book."""


def told_by(plan: BatchPlan, said: Mapping[str, str], dough: Dough, now: datetime) -> list[Telling]:
    """Kitchen, batch, serving time, the plan itself, and the recipe at its first stage.

    What the cook left empty is told only where the plan fixes it: amounts, but not the milk's kind.
    """
    told = [*_kitchen(plan, said), *batch_told(plan)]
    answers = {sign.id: {a.id for a in sign.answers} for sign in dough.signs}
    for box, sign in SIGNS.items():
        if said.get(box) and said[box] in answers.get(sign, ()):
            told.append(("sign", sign, said[box]))
    left = plan.wanted.to_serving_min
    serving = None
    if left is not None:
        serving = now.replace(second=0, microsecond=0) + timedelta(minutes=left)
    told.append(plan_told(plan.wanted, serving, sized=True))
    told.append(("follows", "recipe", dough.stages[0].id))
    return told


def plan_told(wanted: Wanted, serving: datetime | None, *, sized: bool) -> Telling:
    """The plan as it is kept; ``sized`` when the batch is weighed for it."""
    value: dict[str, JSON] = {"request": request_of(wanted), "sized": sized}
    if serving is not None:
        value["serving"] = serving.isoformat()
    return ("plan", "plan", value)


def batch_told(plan: BatchPlan) -> list[Telling]:
    """What goes in, and how long there is, as the kitchen and batch form would tell it."""
    told = _flour(plan)
    grams = {line.of: line for line in plan.lines}
    for of in ("milk", "salt", "cheese", "butter"):
        line = grams[of]
        told.append(("batch", f"{of}_g", line.grams))
        echo = f"{line.say} ({line.about})"
        told.append(("batch-said", f"{of}_g", {"text": _typed(line.say), "echo": echo}))
    count = grams["yolks"].say.split()[0]
    told.append(("batch", "yolks", float(count)))
    told.append(("batch-said", "yolks", {"text": count, "echo": count}))
    left = plan.wanted.to_serving_min
    if left is not None:
        told.append(("batch", "serve_in_min", left))
        text: JSON = {"text": f"{left} min", "echo": minutes(left)}
        told.append(("batch-said", "serve_in_min", text))
    return told


def _typed(words: str) -> str:
    """An amount as it may stand in a box: thousands are not set apart, a comma could be a point."""
    return words.replace(",", "")


def _flour(plan: BatchPlan) -> list[Telling]:
    """Flour as the kitchen reckons it: cups at the label's 125 g, and how they were filled."""
    way = plan.wanted.flour_measured
    line = next(line for line in plan.lines if line.of == "flour")
    by_cup = next((one for one in plan.cups if one.way == way), None)
    if by_cup is None:
        grams, text, echo = line.grams, _typed(line.say), f"{line.say} ({line.about})"
    else:
        grams, text = round(by_cup.cups * FLOUR_CUP_G, 1), by_cup.fill
        echo = f"{by_cup.fill}, filled your way: {line.say}"
    return [
        ("batch", "flour_g", grams),
        ("batch-said", "flour_g", {"text": text, "echo": echo}),
        ("batch", "flour_measured", way),
    ]


def _kitchen(plan: BatchPlan, said: Mapping[str, str]) -> list[Telling]:
    metres = plan.wanted.elevation_m
    where = next((k for k in KITCHENS if k.id == said.get("kitchen")), None)
    if where is not None:
        place = f"{where.name}, {thousands(where.elevation_m)} m"
    else:
        place = "not known" if metres is None else height(metres)
    return [
        ("kitchen", "place", place),
        ("kitchen", "elevation_m", metres),
        ("kitchen", "boil_c", None),
        ("kitchen", "rough", "unknown" if metres is None else None),
    ]
