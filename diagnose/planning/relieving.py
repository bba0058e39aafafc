"""What does not fit in a plan, in plain words, with the cheapest reliefs that really help."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil

from diagnose.kitchen.browning import HOLD_MOST_MIN
from diagnose.kitchen.chilling import Cooling, Support, cooling_verdict

from .asking import MOST_BURNERS, MOST_COOKS, Wanted, chill_of
from .day import Day, Late, clock, day
from .sizing import loads_of, sized
from .tasks import PLATE_S, REST_MOST_MIN, STAGES, Standing, plating_min

MOST_RELIEFS = 3
QUICK_STEPS = 150
"""Steps of the search for each relief that is tried."""
THINNER_MM = (12.0, 10.0)
LATEST_MIN = 7 * 24 * 60 - 5
LONGER_HOLDS_MIN = (5, 10, 20, 30, 60, 120)


@dataclass(frozen=True, slots=True)
class Conflict:
    """One thing that does not fit: "late", "cooling", "plating", "loads" or "garnish: <name>"."""

    id: str
    say: str
    reliefs: tuple[str, ...]
    """Each was tried: it makes this fit and breaks nothing else. Cheapest first."""


def broken(wanted: Wanted, when: Day) -> tuple[str, ...]:
    """The ids of everything in this day that does not fit, in the order in which it is said."""
    found = []
    if wanted.to_serving_min is not None and when.start > wanted.to_serving_min:
        found.append("late")
    if _chills(when) and cooling_verdict(chill_of(wanted)).word == "misses":
        found.append("cooling")
    if plating_min(wanted) > HOLD_MOST_MIN:
        found.append("plating")
    return (*found, *dict.fromkeys(_name(late) for late in when.late))


def _name(late: Late) -> str:
    return "loads" if late.task.startswith("load-") else late.task


def conflicts(
    wanted: Wanted, when: Day, cooling: Cooling, standing: Standing | None = None
) -> tuple[Conflict, ...]:
    """Everything in this plan that does not fit; empty for one that works."""
    names = broken(wanted, when)
    if not names:
        return ()
    helps: dict[str, dict[str, str]] = {name: {} for name in names}
    for kind, say, left in _tried(wanted, when, standing):
        for name in names:
            # Of one kind the first that helps is the cheapest.
            if name not in left and left <= set(names) and len(helps[name]) < MOST_RELIEFS:
                helps[name].setdefault(kind, say)
        if all(len(found) == MOST_RELIEFS for found in helps.values()):
            break
    return tuple(
        Conflict(name, _words(name, wanted, when, cooling), tuple(helps[name].values()))
        for name in names
    )


def _words(name: str, wanted: Wanted, when: Day, cooling: Cooling) -> str:
    if name == "late":
        assert wanted.to_serving_min is not None
        what = "The chill does not fit" if _chills(when) else "The work does not fit"
        by = clock(wanted.serve_at, when.start)
        begin = f": it would have to start by {by}" if by else ""
        return (
            f"{what}{begin}. It takes {hours(when.start)} with every step at its slow end, and "
            f"{hours(wanted.to_serving_min)} are left."
        )
    if name == "cooling":
        return cooling.say
    if name == "plating":
        return (
            f"Plating for {wanted.guests} takes about {plating_min(wanted)} min with so few hands, "
            f"and the pieces hold {HOLD_MOST_MIN} min at most."
        )
    all_late = [late for late in when.late if _name(late) == name]
    worst = max(all_late, key=lambda late: late.minutes)
    if name == "loads":
        loads = len([step for step in when.steps if step.id.startswith("load-")])
        return (
            f"Browning does not fit: {len(all_late)} of {loads} loads would rest longer than "
            f"{REST_MOST_MIN} min, the first by {worst.minutes} min{_why(worst)}."
        )
    return f'"{worst.say}" would be ready {worst.minutes} min too early to keep{_why(worst)}.'


def _why(late: Late) -> str:
    if not late.waits_for:
        return ""
    verb = "is" if len(late.waits_for) == 1 else "are"
    return f"; nearer to the plate {' and '.join(late.waits_for)} {verb} taken"


def hours(minutes: int) -> str:
    """A stretch of time.

    >>> hours(268), hours(45), hours(120)
    ('4 h 28 min', '45 min', '2 h')
    """
    whole, rest = divmod(minutes, 60)
    return (
        " ".join(
            part for part in (f"{whole} h" if whole else "", f"{rest} min" if rest else "") if part
        )
        or "0 min"
    )


def _chills(when: Day) -> bool:
    return any(step.stage == "chill" for step in when.steps)


Trial = tuple[str, str, Wanted]
"""What kind of relief, in words, and the batch with it."""


def _tried(
    wanted: Wanted, when: Day, standing: Standing | None
) -> Iterator[tuple[str, str, frozenset[str]]]:
    """Each relief: its kind, in words, and what still does not fit with it."""
    for kind, say, other in _candidates(wanted, when, standing or Standing()):
        try:
            formula, _ = sized(other)
            sizes = loads_of(other, formula, standing.pieces if standing else None).sizes
        except ValueError:
            continue  # outside what can be planned at all
        after = day(other, formula.amounts, sizes, standing, QUICK_STEPS, why=False)
        yield kind, say, frozenset(broken(other, after))


def _candidates(wanted: Wanted, when: Day, at: Standing) -> Iterator[Trial]:
    """Changes to try, the cheapest first (house order)."""
    place = STAGES.index(at.stage)
    if place <= STAGES.index("chill") and at.chill_left is None:
        yield from _colder(wanted, place)
    if wanted.burners < MOST_BURNERS and when.late:
        yield (
            "burner",
            "a second burner" if wanted.burners == 1 else "one more burner",
            wanted.but(burners=wanted.burners + 1),
        )
    if wanted.cooks < MOST_COOKS:
        yield (
            "cook",
            "a second cook" if wanted.cooks == 1 else "one more cook",
            wanted.but(cooks=wanted.cooks + 1),
        )
    for cooks in range(wanted.cooks + 1, MOST_COOKS + 1):
        yield (
            "cooks",
            _many(cooks),
            wanted.but(
                cooks=cooks, pans=max(wanted.pans, cooks), burners=max(wanted.burners, cooks)
            ),
        )
    need = ceil(wanted.guests * PLATE_S / 60 / HOLD_MOST_MIN)
    if wanted.cooks + 1 < need <= MOST_COOKS:
        yield "cook", f"{need} people to plate", wanted.but(cooks=need)
    yield from _sturdier(wanted, when)
    if wanted.portion == "plate":
        yield "fewer", "small plates in place of plates", wanted.but(portion="small-plate")
    if wanted.portion != "starter":
        yield "fewer", "two pieces each, as a starter", wanted.but(portion="starter")
    yield from _later(wanted, when)


def _many(cooks: int) -> str:
    return f"{cooks} cooks, each with a pan and a burner"


def _colder(wanted: Wanted, place: int) -> Iterator[Trial]:
    racked = Support.RACKED_METAL_TRAY
    rack = wanted.but(support=racked)
    if wanted.support != racked:
        yield "rack", "chill it on a metal tray on a rack, air all round", rack
    if wanted.fridge_c > 4:
        yield "fridge", "set the refrigerator to 4 °C (40 °F)", wanted.but(fridge_c=4.0)
        yield (
            "fridge",
            "set the refrigerator to 4 °C (40 °F), the slab on a rack",
            rack.but(fridge_c=4.0),
        )
    thinner = [mm for mm in THINNER_MM if mm < wanted.thickness_mm]
    if place <= STAGES.index("shape"):
        for mm in thinner:
            yield "thinner", f"press it {mm:g} mm", wanted.but(thickness_mm=mm)
    if not wanted.freezer and 12 <= wanted.thickness_mm <= 20:
        yield (
            "freezer",
            "a short time in the freezer, then the refrigerator",
            rack.but(freezer=True),
        )
    if place <= STAGES.index("shape"):
        for mm in thinner:
            yield "thinner", f"press it {mm:g} mm and chill it on a rack", rack.but(thickness_mm=mm)
        if wanted.thickness_mm > 12:
            both = rack.but(thickness_mm=12.0, freezer=True)
            yield "freezer", "press it 12 mm, and a short time in the freezer", both


def _sturdier(wanted: Wanted, when: Day) -> Iterator[Trial]:
    late = {one.task for one in when.late}
    for place, garnish in enumerate(wanted.garnishes):
        if f"garnish: {garnish.name}" not in late:
            continue
        for more in LONGER_HOLDS_MIN:
            sturdy = replace(garnish, holds_min=garnish.holds_min + more)
            all_ = (*wanted.garnishes[:place], sturdy, *wanted.garnishes[place + 1 :])
            yield (
                garnish.name,
                f'a garnish that keeps {sturdy.holds_min} min in place of "{garnish.name}"',
                wanted.but(garnishes=all_),
            )


def _later(wanted: Wanted, when: Day) -> Iterator[Trial]:
    if wanted.to_serving_min is None or when.start <= wanted.to_serving_min:
        return
    more = when.start - wanted.to_serving_min
    if when.start >= LATEST_MIN:
        return
    if wanted.serve_at is None:
        yield "later", f"serve {hours(more)} later", wanted.but(to_serving_min=when.start)
        return
    more += -(wanted.serve_at + more) % 5
    at = clock((wanted.serve_at + more) % (24 * 60), 0)
    if wanted.serve_at + more >= 24 * 60:
        at += " the next day"
    yield (
        "later",
        f"serve at {at}",
        wanted.but(
            to_serving_min=wanted.to_serving_min + more,
            serve_at=(wanted.serve_at + more) % (24 * 60),
        ),
    )
