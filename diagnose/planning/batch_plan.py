"""A whole batch planned: formula, targets, slab, loads, the day backwards, what does not fit."""

from __future__ import annotations

from dataclasses import dataclass, replace

from diagnose.kitchen.browning import Loads, core_after_browning_c, loads_in_one_hold
from diagnose.kitchen.chilling import Cooling, cooling_verdict
from diagnose.kitchen.estimates import Estimate

from .asking import FLOURS, MILKS, Wanted, chill_of
from .cups import FlourByCup, flour_by_cup
from .cutting import CutPlan, cut_plan
from .day import Day, day
from .elevation import FlourAtHeight
from .formula import PORTIONS, Formula, Line
from .keeping import DEFER, KEEPING, Keeping
from .relieving import Conflict, conflicts
from .scheduling import MOST_STEPS
from .sizing import loads_of, sized
from .spare import batches_on_hand
from .targets import Targets, targets
from .tasks import Standing, chill_range, load_min

FRYING_BUTTER_G = 10
"""Butter for one load (house figure)."""
ONE_POT_MILK_G = 1500
"""Three house batches: beyond, a usual pan drives off much less for each gram (derived)."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to buy, for all batches on hand, and what it is for."""

    of: str
    say: str
    why: str
    about: str = ""
    """The same in cups, spoons or ounces, "about"; empty where there is none."""


@dataclass(frozen=True, slots=True)
class BatchPlan:
    """Everything a cook takes to the stove. ``Estimate`` ranges are shown as ranges."""

    wanted: Wanted
    formula: Formula
    lines: tuple[Line, ...]
    height: FlourAtHeight | None
    """None where no elevation was told."""
    cups: tuple[FlourByCup, ...]
    batches: int
    buy: tuple[Item, ...]
    targets: Targets
    cut: CutPlan
    loads: Loads
    chill: Estimate
    cooling: Cooling
    core: Estimate | None
    """The middle after browning, 3 min a side; None for a size nothing was worked out for."""
    keeping: tuple[Keeping, ...]
    keeping_defer: str
    day: Day
    conflicts: tuple[Conflict, ...]
    mise: tuple[str, ...]
    notes: tuple[str, ...]
    assumed: tuple[str, ...]
    """What was not told, and what stands in its place."""


def plan(
    wanted: Wanted, standing: Standing | None = None, most_steps: int = MOST_STEPS
) -> BatchPlan:
    """The plan of this batch, from where it stands; ``ValueError`` with a sentence.

    A plan that cannot work is a plan too: ``conflicts`` names every reason, and what would help.

    >>> found = plan(Wanted(12, "small-plate", serve_at=19 * 60 + 30))
    >>> found.day.steps[0].clock, found.loads.loads, found.conflicts
    ('15:00', 3, ())
    """
    formula, height = sized(wanted)
    found_loads = loads_of(wanted, formula, standing.pieces if standing else None)
    cooling = cooling_verdict(chill_of(wanted))
    when = day(wanted, formula.amounts, found_loads.sizes, standing, most_steps)
    on_hand = batches_on_hand(wanted.chance_lost)
    try:
        core = core_after_browning_c(wanted.thickness_mm, 3.0)
    except ValueError:
        core = None
    return BatchPlan(
        wanted=wanted,
        formula=formula,
        lines=formula.weighed(wanted.yolk_g),
        height=height,
        cups=flour_by_cup(formula.amounts),
        batches=on_hand,
        buy=_buy(wanted, formula, height, found_loads, on_hand),
        targets=targets(formula.amounts, wanted.elevation_m),
        cut=cut_plan(formula.slab),
        loads=found_loads,
        chill=chill_range(wanted),
        cooling=cooling,
        core=core,
        keeping=KEEPING,
        keeping_defer=DEFER,
        day=when,
        conflicts=conflicts(wanted, when, cooling, standing),
        mise=_mise(wanted, formula, found_loads),
        notes=_notes(wanted, formula, found_loads),
        assumed=_assumed(wanted),
    )


def _buy(
    wanted: Wanted, formula: Formula, height: FlourAtHeight | None, browned: Loads, batches: int
) -> tuple[Item, ...]:
    whole = replace(formula, amounts=formula.amounts.scaled(batches))
    again = "for one batch" if batches == 1 else f"for {batches} batches: one may be lost"
    found = [
        Item(line.of, line.say, again, "" if line.of == "yolks" else line.about)
        for line in whole.weighed(wanted.yolk_g)
    ]
    extra = 0.0 if height is None else height.on_hand_g * batches
    if extra:
        found.append(Item("flour", f"{extra:.0f} g more", "to go in by the spoon, if it is soft"))
    butter = FRYING_BUTTER_G * browned.loads
    found.append(Item("butter", f"{butter} g more", "to brown in (house figure)"))
    found.append(Item("mace", "a little", "for the milk"))
    return tuple(found)


def _mise(wanted: Wanted, formula: Formula, browned: Loads) -> tuple[str, ...]:
    cut = cut_plan(formula.slab)
    names = ", ".join(garnish.name for garnish in wanted.garnishes)
    pans = "1 pan" if wanted.pans_at_once == 1 else f"{wanted.pans_at_once} pans"
    return (
        "Scale, thermometer, timer, wooden spoon, whisk, sieve",
        f"Pan for {formula.amounts.milk_g / 1000:.1f} l of milk; weigh it empty and write it down",
        f"Tray for a slab of {cut.wide_mm / 10:.0f} cm by {cut.deep_mm / 10:.0f} cm, oiled paper",
        "A free shelf in the refrigerator, air all round",
        "Long knife, cloth, ruler, tray to dry the faces",
        f"{pans}, turner, rack, oven tray",
        f"{wanted.guests} plates to warm",
        *([f"Ready to go: {names}"] if names else []),
    )


def _notes(wanted: Wanted, formula: Formula, browned: Loads) -> tuple[str, ...]:
    found = [MILKS[wanted.milk], FLOURS[wanted.flour]]
    if formula.amounts.milk_g > ONE_POT_MILK_G:
        found.append(
            "More than three house batches in one pan lose less water for each gram and end "
            "softer. Use a wider pan, or two."
        )
    if wanted.portion == "plate":
        found.append(f"A plate of 12 to 16 pieces is a {PORTIONS['plate'].label}.")
    in_hold = loads_in_one_hold(load_min(max(browned.sizes)))
    if browned.rounds > in_hold:
        found.append(
            f"Only {in_hold} loads keep warm in one hold. Rest all on a rack, then finish them "
            "together."
        )
    return tuple(note for note in found if note)


def _assumed(wanted: Wanted) -> tuple[str, ...]:
    found = []
    if wanted.elevation_m is None:
        found.append("no elevation: chilling is reckoned as by the sea, higher is slower")
    if wanted.base_mm is None:
        found.append("a 10 in skillet, 20 cm across its flat floor")
    if wanted.serve_at is None:
        found.append("no hour of serving: minutes before the plate stand in place of the clock")
    return tuple(found)
