"""A plan as its page prints it: the sentences between the numbers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from diagnose.kitchen.atmosphere import boil_in_words
from diagnose.kitchen.chilling import support_called
from diagnose.kitchen.slab import MOULDS, THICKEST_MM, THINNEST_MM, in_mould_mm
from diagnose.planning.batch_plan import BatchPlan
from diagnose.planning.cups import way_alone_moves_g
from diagnose.planning.day import Day, Step, clock
from diagnose.planning.formula import PORTIONS
from diagnose.planning.relieving import hours
from diagnose.planning.spare import FAILS_UNCOUNTED
from diagnose.planning.tasks import WAITS

from .timeline import chart
from .wording import number

NAMES = {
    "milk": "Whole milk", "flour": "Flour", "salt": "Fine salt", "yolks": "Egg yolks",
    "cheese": "Hard cheese", "butter": "Butter", "mace": "Mace",
}  # fmt: skip


WAYS = {"sifted-first": "Sifted in", "spooned": "Spooned in", "dipped": "Dipped"}


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the day's table."""

    step: Step
    waits: bool
    """Whether it is only the waiting of the garnish above it, told there on paper."""
    then: int
    """Minutes that the garnish waits afterwards; 0 for none."""
    not_before: str


def rows_of(day: Day) -> list[Row]:
    """The day's table. Only what may begin earlier, though not at any time, says from when."""
    waits = {step.id.removesuffix(WAITS): step.minutes for step in day.steps
             if step.id.endswith(WAITS)}  # fmt: skip
    found = []
    for step in day.steps:
        early = "" if step.earliest is None else step.not_before or f"-{step.earliest}"
        if step.id == "plate" or step.earliest == step.begins or early == step.clock:
            early = ""
        found.append(Row(step, step.id.endswith(WAITS), waits.get(step.id, 0), early))
    return found


def as_page(
    plan: BatchPlan, serving: datetime | None = None, counted: tuple[int, int] | None = None
) -> dict[str, Any]:
    """What the templates of a plan print.

    ``serving`` is when it is served, where that is known; ``counted`` are batches lost and counted
    in kitchens like this one.
    """
    wanted, slab = plan.wanted, plan.formula.slab
    trimmed = plan.cut.trimmings_g >= 1
    epoch = None if serving is None else round(serving.timestamp())
    return {
        "plan": plan,
        "NAMES": NAMES,
        "ways": WAYS,
        "lines": lines(plan),
        "rows": rows_of(plan.day),
        "title": title_of(plan),
        "begin": begin(plan),
        "chart": chart(plan.day, wanted.serve_at, epoch),
        "served": clock(wanted.serve_at, 0) or "0",
        "moved": way_alone_moves_g(plan.formula.amounts.flour_g).rounded(1).say(),
        "looks": looks(plan),
        "slab": (
            f"Press it {number(slab.thickness_mm)} mm thick, {plan.cut.wide_mm / 10:.0f} cm by "
            f"{plan.cut.deep_mm / 10:.0f} cm. Cut {plan.cut.columns} by {plan.cut.rows}: about "
            f"{slab.pieces} pieces of {slab.piece_g:.1f} g"
            + (f"; {plan.cut.trimmings_g:.0f} g of trimmings." if trimmed else ".")
        ),
        "cooling": f"Cold enough to cut {plan.chill.say()} after pressing, at 10 °C (50 °F) in the "
        f"middle. {plan.cooling.say}",
        "browning": browning(plan),
        "moulds": moulds(plan),
        "buy": buy(plan),
        "spare": spare(plan, counted),
        "short_spoons": short_spoons,
        "reckoned": reckoned(plan),
    }


def lines(plan: BatchPlan) -> list[tuple[str, str]]:
    """What goes in; flour in the cups this cook fills, where it is measured so."""
    yours = next((c.fill for c in plan.cups if c.way == plan.wanted.flour_measured), None)
    found = []
    for line in plan.lines:
        words = f"{line.say} ({line.about})"
        if line.of == "flour" and yours is not None:
            words = f"{line.say} ({yours}), {WAYS[plan.wanted.flour_measured].lower()}"
        found.append((NAMES[line.of], words))
    return found


def title_of(plan: BatchPlan) -> str:
    """What a plan is called."""
    wanted = plan.wanted
    guests = "1 guest" if wanted.guests == 1 else f"{wanted.guests} guests"
    at = f", on the table at {clock(wanted.serve_at, 0)}" if wanted.serve_at is not None else ""
    return f"{guests}, {PORTIONS[wanted.portion].say}{at}"


def looks(plan: BatchPlan) -> list[tuple[str, str]]:
    """What right looks like in this kitchen, stage by stage."""
    found = plan.targets
    rows = []
    if found.boil_c is not None:
        boil = boil_in_words(found.boil_c)
        rows.append(("Water boils", f"{boil}: check the thermometer in it, within 1 °C (2 °F)"))
    return [
        *rows,
        ("Simmer", f"{found.simmer.say()}, bubbles at the rim, no rolling boil"),
        ("Paste", f"85 °C (185 °F) or hotter for {number(found.for_min)} min, lazy bubbles; it "
                  f"leaves the pan after {found.beat.say()}: {found.paste}"),
        ("Pan holds", f"{found.pan_holds_g.rounded(5).say()} of paste, without the pan, if the "
                      "flour was weighed"),
        ("Yolks", "go in at 72 to 75 °C (162 to 167 °F)"),
        ("Dough", f"about {found.salt_percent:.1f} % salt in all, with the cheese"),
        ("Cut", "10 °C (50 °F) in the middle; a dent springs back"),
    ]  # fmt: skip


def browning(plan: BatchPlan) -> list[str]:
    """How it goes through the pans, in sentences."""
    sizes = plan.loads.sizes
    low, high = min(sizes), max(sizes)
    each = str(high) if low == high else f"{low} to {high}"
    pans = plan.loads.pans
    many = "1 load" if len(sizes) == 1 else f"{len(sizes)} loads"
    found = [
        f"{many} of {each} pieces in {pans} pan{'' if pans == 1 else 's'}: "
        f"{plan.loads.minutes.say()} in all, 2 to 3 min a side. Lay them in from the hottest spot "
        "round the clock and turn them in that order (common practice, no source).",
    ]
    if plan.core is not None:
        found.append(f"That leaves the middle at {plan.core.say()} only.")
    found.append(
        "Finish all together in a 175 °C (350 °F) oven, 5 to 10 min, to 74 °C (165 °F) in the "
        "middle. Then hold at 57 °C (135 °F) or hotter, 20 min at most. A hot plate buys about "
        "3 min. The local code decides."
    )
    return found


def begin(plan: BatchPlan) -> str:
    """When to begin; empty where that hour is told to be past."""
    if any(conflict.id == "late" for conflict in plan.conflicts):
        return ""
    first = plan.day.steps[0].clock
    by = f"Begin by {first}. It" if first else "It"
    return f"{by} takes {hours(plan.day.start)} with every step at its slow end."


def moulds(plan: BatchPlan) -> str:
    """How thick this dough stands in usual tins, where that can be chilled and browned."""
    grams = plan.formula.amounts.pressed_g
    found = []
    for mould in MOULDS.values():
        thick = in_mould_mm(grams, mould.name)
        if THINNEST_MM <= thick <= THICKEST_MM:
            found.append(f"{thick:.0f} mm in a {mould.say}")
    if not found:
        return ""
    return f"In a tin that it fills: {', '.join(found)}. Plan with that thickness if you use one."


def buy(plan: BatchPlan) -> list[str]:
    """The shopping list, in grams and in what a cook without a scale takes."""
    found = []
    for place, item in enumerate(plan.buy):
        words = f"{NAMES.get(item.of, item.of)}: {item.say}"
        if item.about:
            words += f" ({item.about})"
        found.append(words if place < len(plan.lines) else f"{words}, {item.why}")
    return found


def short_spoons(words: str) -> str:
    """Spoons as they fit a narrow column.

    >>> short_spoons("¼ cup and 3 tablespoons")
    '¼ cup and 3 Tbsp'
    """
    for long, short in (("tablespoon", "Tbsp"), ("teaspoon", "tsp")):
        words = words.replace(f"{long}s", short).replace(long, short)
    return words


def spare(plan: BatchPlan, counted: tuple[int, int] | None = None) -> str:
    """How many batches to buy for, and why."""
    one_in = f"one in {1 / FAILS_UNCOUNTED:.0f}"
    chance = plan.wanted.chance_lost
    if counted is not None and counted[1]:
        lost, of = counted
        batches = "1 batch" if of == 1 else f"{of} batches"
        why = (
            f"Of {batches} kept here from kitchens about as high, {lost} could not be served. "
            f"Mostly batches with trouble are kept, so that may be too many. With a first guess "
            f"of {one_in} (house rule) about {100 * (chance or 0):.0f} in 100 are taken"
        )
    elif chance is None:
        why = f"Nobody has counted here: {one_in} is taken (house rule)"
    else:
        why = f"About {100 * chance:.0f} in 100 are lost here"
    if plan.batches == 1:
        return f"For one batch. {why}."
    return f"For {plan.batches} batches, since one may be lost. {why}."


def reckoned(plan: BatchPlan) -> str:
    """What the plan stands on, told or taken."""
    w = plan.wanted
    cooks, pans, burners = (
        f"{n} {word}{'' if n == 1 else 's'}"
        for n, word in ((w.cooks, "cook"), (w.pans, "pan"), (w.burners, "burner"))
    )
    parts = [
        f"{cooks}, {pans} of {w.base / 10:.0f} cm flat floor, {burners}",
        f"a slab of {number(w.thickness_mm)} mm on {support_called(w.support).say}",
        f"a refrigerator at {number(w.fridge_c)} °C",
        *plan.assumed,
    ]
    return "; ".join(parts)
