"""The work of a batch as tasks for the scheduler: who and what each needs, how long at the most.

A slab ready early can wait; one ready late cannot, so every step takes the high end of its range.
Step lengths are calibrated (house figures) unless a source stands beside them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from diagnose.kitchen.browning import FINISH_MIN, HOLD_MOST_MIN, USUAL_SIDE_MIN, minutes_a_load
from diagnose.kitchen.chilling import USUAL_COUNTER_MIN, minutes_to_c
from diagnose.kitchen.estimates import Estimate
from diagnose.kitchen.evaporation import batch_size
from diagnose.kitchen.freezer import freezer_shortcut

from .asking import Wanted, chill_of
from .formula import Amounts
from .scheduling import Segment, Task
from .targets import targets

WAITS = ", waits"
"""How the waiting of a garnish is named, after the garnish."""
HANDS, BURNER, OVEN, PAN = "hands", "burner", "oven", "pan"
RESOURCES = {HANDS: "a pair of hands", BURNER: "a burner", OVEN: "the oven", PAN: "a pan"}

STAGES = (
    "weigh", "simmer", "add-flour", "cook-paste", "temper", "enrich", "shape", "chill", "cut",
    "brown", "serve",
)  # fmt: skip
"""The order of the work; a batch in hand stands at one of them."""

REST_MOST_MIN = 60
"""Browned pieces rest on a rack no longer than this before the plate (house rule); the code's
limit before a reheat for holding is 2 hours (FDA Food Code 3-403.11)."""
PLATE_S = 10
"""Seconds of one pair of hands for one plate (house figure)."""
LEAST_PLATING_MIN = 2
WARM_PLATES_MIN = 10
PREHEAT_MIN = 15
"""An oven to 175 °C (350 °F) (common practice, no source)."""
WEIGH_MIN, FLOUR_MIN, COOL_MIN, YOLKS_MIN, ENRICH_MIN, PRESS_MIN = 10, 3, 8, 6, 5, 5
HEAT_MIN = 6
"""500 g of milk at 500 W net (derived: 177 kJ)."""
PAN_HOT_MIN = 4
CUT_MIN, CUT_PIECES, CUT_MORE = 12, 160, 20
"""Up to 160 pieces in 12 min, a minute more for each 20 beyond."""


@dataclass(frozen=True, slots=True)
class Act:
    """One step as a cook reads it; several acts that follow at once make one task."""

    id: str
    task: str
    stage: str
    say: str
    minutes: int
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Work:
    """All that is to be done, and what there is to do it with."""

    acts: tuple[Act, ...]
    tasks: tuple[Task, ...]
    capacity: dict[str, int]


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a batch in hand stands. ``stage`` is the step about to be done or being done."""

    stage: str = "weigh"
    chill_left: int | None = None
    """Minutes the chill still takes, where the cook or a thermometer says so."""
    pieces: int | None = None
    """Pieces that the slab in hand gives, where it is made already."""
    loads_left: int | None = None
    """Loads still to brown; all of them where nothing is told."""
    done: frozenset[str] = frozenset()
    """Garnishes that are ready."""


def plating_min(wanted: Wanted) -> int:
    """Minutes to plate for all guests, at least 2; a cook does six plates a minute (house figure).

    >>> plating_min(Wanted(12, "small-plate")), plating_min(Wanted(30, "small-plate", cooks=2))
    (2, 3)
    """
    return max(LEAST_PLATING_MIN, ceil(wanted.guests * PLATE_S / 60 / wanted.cooks))


def chill_range(wanted: Wanted) -> Estimate:
    """Minutes from pressing until it can be cut, to the nearest 10; plan with the high end.

    >>> chill_range(Wanted(12, "small-plate")).say()
    '80 to 160 min'
    """
    if wanted.freezer:
        return freezer_shortcut(wanted.thickness_mm).in_all.rounded(10)
    found = minutes_to_c(chill_of(wanted))
    assert found is not None  # every accepted refrigerator is colder than 10 °C
    return found.rounded(10)


def load_min(pieces: int) -> int:
    """Minutes of one load at the slow end, 3 min a side."""
    return ceil(round(minutes_a_load(pieces, USUAL_SIDE_MIN[1]), 9))


def _dough(wanted: Wanted, amounts: Amounts) -> list[Act]:
    found = targets(amounts, wanted.elevation_m)
    heat = max(HEAT_MIN // 2, ceil(HEAT_MIN * batch_size(amounts.milk_g)))
    stove, chill = (HANDS, BURNER), chill_range(wanted)
    acts = [
        ("heat", "simmer", "Heat the milk", heat, stove),
        ("simmer", "simmer", "Simmer the milk", ceil(found.simmer.high), stove),
        ("add-flour", "add-flour", "Beat in the flour", FLOUR_MIN, stove),
        ("cook-paste", "cook-paste", "Cook the paste", ceil(found.beat.high), stove),
        ("cool", "temper", "Cool to 72 to 75 °C (162 to 167 °F)", COOL_MIN, (HANDS,)),
        ("temper", "temper", "Beat in the yolks", YOLKS_MIN, stove),
        ("enrich", "enrich", "Cheese and butter, off the heat", ENRICH_MIN, (HANDS,)),
        ("shape", "shape", "Press the slab", PRESS_MIN, (HANDS,)),
    ]  # fmt: skip
    made = [Act(name, "dough", *rest) for name, *rest in acts]  # type: ignore[arg-type]
    return [*made, *_cooling(wanted, ceil(chill.high))]


def _cooling(wanted: Wanted, minutes: int) -> list[Act]:
    counter = int(USUAL_COUNTER_MIN)
    found = [Act("counter", "dough", "chill", "Slab cools on the counter", counter)]
    left = minutes - counter
    if wanted.freezer:
        most = min(left, freezer_shortcut(wanted.thickness_mm).most_min)
        found.append(Act("freezer", "dough", "chill", "Slab in the freezer, no longer", most))
        left -= most
    if left > 0:
        found.append(Act("chill", "dough", "chill", "Slab chills in the refrigerator", left))
    return found


def work(
    wanted: Wanted,
    amounts: Amounts,
    loads: Sequence[int],
    standing: Standing | None = None,
) -> Work:
    """The tasks of this batch from where it stands; ``loads`` are the pieces of each load.

    Each pan's loads follow one another; the browned pieces rest on a rack, are finished together
    in the oven (FDA Food Code 3-403.11: 74 °C before a hold) and hold 20 minutes at most.
    """
    at = standing or Standing()
    place = STAGES.index(at.stage)
    plating = plating_min(wanted)
    acts: list[Act] = []
    after: dict[str, tuple[str, ...]] = {}
    keeps: dict[str, int] = {}

    def add(act: Act, *before: str, keep: int | None = None) -> None:
        acts.append(act)
        after[act.task] = before
        if keep is not None:
            keeps[act.task] = keep

    if place == 0:
        add(Act("weigh", "weigh", "weigh", "Weigh everything", WEIGH_MIN, (HANDS,)), "dough")
    if place <= STAGES.index("chill"):
        dough = [a for a in _dough(wanted, amounts) if STAGES.index(a.stage) >= place]
        if at.stage == "chill" and at.chill_left is not None:
            left = max(0, at.chill_left)
            dough = [Act("chill", "dough", "chill", "Slab chills on", left)] if left else []
        for act in dough:
            add(act, "cut")
    if place <= STAGES.index("cut"):
        pieces = sum(loads)
        cut = CUT_MIN + ceil(max(0, pieces - CUT_PIECES) / CUT_MORE)
        pans = [f"pan-{n + 1}" for n in range(min(wanted.pans_at_once, len(loads)))]
        add(Act("cut", "cut", "cut", "Cut, and dry the faces", cut, (HANDS,)), *pans)
    if place <= STAGES.index("brown"):
        _add_browning(wanted, loads, at, add)
        add(Act("oven", "oven", "brown", "Oven on, 175 °C (350 °F)", PREHEAT_MIN, (OVEN,)),
            "finish")  # fmt: skip
        add(Act("finish", "finish", "brown", "All pieces into the oven, to 74 °C (165 °F)",
                ceil(FINISH_MIN.high), (OVEN,)), "plate", keep=HOLD_MOST_MIN)  # fmt: skip
    add(Act("plates", "plates", "serve", "Warm the plates", WARM_PLATES_MIN), "plate",
        keep=HOLD_MOST_MIN)  # fmt: skip
    for garnish in wanted.garnishes:
        if garnish.name in at.done:
            continue
        name = f"garnish: {garnish.name}"
        needs = () if garnish.needs == "nothing" else (garnish.needs,)
        keep = garnish.holds_min + plating
        add(Act(name, name, "garnish", garnish.name, garnish.active_min, (HANDS, *needs)), "plate",
            keep=keep)  # fmt: skip
        if garnish.waiting_min:
            add(Act(f"{name}{WAITS}", name, "garnish", f"{garnish.name}: wait",
                    garnish.waiting_min, needs), "plate", keep=keep)  # fmt: skip
    add(Act("plate", "plate", "serve", "Plate and walk", plating, (HANDS,)), keep=plating)
    return Work(tuple(acts), _tasks(acts, after, keeps, plating), {
        HANDS: wanted.cooks, BURNER: wanted.burners, PAN: wanted.pans, OVEN: 1,
    })  # fmt: skip


def _add_browning(wanted: Wanted, loads: Sequence[int], at: Standing, add: object) -> None:
    assert callable(add)
    first = 0 if at.loads_left is None else max(0, len(loads) - at.loads_left)
    left = list(enumerate(loads, 1))[first:]
    pans = min(wanted.pans_at_once, len(left))
    for pan in range(pans):
        mine = left[pan::pans]
        hot = f"pan-{pan + 1}"
        which = "" if pans == 1 else f" {pan + 1}"
        add(Act(hot, hot, "brown", f"Pan{which} on", PAN_HOT_MIN, (BURNER, PAN)),
            f"load-{mine[0][0]}")  # fmt: skip
        for (number, pieces), then in zip(mine, [*mine[1:], None], strict=True):
            name = f"load-{number}"
            add(
                Act(name, name, "brown", f"Brown load {number}: {pieces} pieces",
                    load_min(pieces), (HANDS, BURNER, PAN)),
                "finish" if then is None else f"load-{then[0]}",
                keep=REST_MOST_MIN,
            )  # fmt: skip


def _tasks(
    acts: Sequence[Act], after: dict[str, tuple[str, ...]], keeps: dict[str, int], plating: int
) -> tuple[Task, ...]:
    found = []
    for name in dict.fromkeys(act.task for act in acts):
        segments = tuple(Segment(a.minutes, a.needs) for a in acts if a.task == name)
        before = tuple(n for n in after[name] if n in after)
        by = 0 if name == "plate" else plating
        keep = max(keeps[name], by) if name in keeps and name != "plate" else keeps.get(name)
        found.append(Task(name, segments, before, by, keep))
    return tuple(found)
