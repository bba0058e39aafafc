"""Which remedy first, and whether to rescue or to start over.

A plan is an order of remedies with a point at which to give up and start over. Its loss is the
minutes it can be expected to cost: the remedies until one helps, what a wrong remedy spoils, and
starting over if none helps. "Start over" is always in the race: it is the empty plan.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from diagnose.knowledge.book import Cause, Dough, Remedy
from diagnose.knowledge.situation import Tried

from .posterior import helps
from .words import HARM_MINUTES

BETWEEN_REMEDIES = 3.0
"""Minutes to read, fetch, act and look again, whatever the remedy takes by itself; house rule."""
START_OVER_EXTRA = 10.0
"""Minutes that a fresh batch costs beyond its stove time: scales, washing up, ingredients."""
TOO_LATE_TO_NOTICE = 15.0
"""Minutes lost, beyond starting over, when a batch that is not right is carried on."""
MOST_OPTIONS = 8
LEAST_HELP = 0.05
"""A remedy with less chance of helping is not worth a cook's attention; house rule."""
HARM_HELD_BACK = 0.25
NEVER_PLANNED = frozenset({"restart", "discard", "none"})


@dataclass(frozen=True, slots=True)
class Option:
    """A remedy that can be done now; help and harm are per cause, in the order of the belief."""

    remedy: Remedy
    minutes: float
    helps: tuple[float, ...]
    harm: tuple[float, ...]
    cures: tuple[tuple[str, float], ...] = ()
    """The causes it is listed for, and how often it helps against each."""


@dataclass(frozen=True, slots=True)
class Held:
    """A remedy that would help, but not yet: what it waits for, or what it could harm."""

    remedy: Remedy
    waits_for: tuple[str, ...]
    could_harm: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Course:
    """Remedies in order, up to where it is better to start over, and the minutes expected."""

    remedies: tuple[Remedy, ...]
    minutes: float


def candidates(
    dough: Dough,
    stage: str,
    causes: Sequence[Cause],
    tried: Sequence[Tried],
    minutes: Mapping[str, float],
) -> tuple[Option, ...]:
    """Every remedy that can still be done at this stage and helps against some cause in play.

    Made once per situation; whether each may be advised depends on what is believed (see
    ``sort_out``). ``minutes`` are those worked out for this batch, by remedy id, where they differ
    from the book's. The last entry of each option's tuples is for "something else".
    """
    made = []
    for remedy in dough.remedies:
        if remedy.kind in NEVER_PLANNED or stage not in remedy.stages or exhausted(remedy, tried):
            continue
        cures = tuple(
            0.0 if cause.id == dough.carry_on else helps(remedy.id, cause) for cause in causes
        )
        if max(cures, default=0.0) <= LEAST_HELP:
            continue
        works = (
            *(1.0 if c.id == dough.carry_on else h for c, h in zip(causes, cures, strict=True)),
            helps(remedy.id, None),
        )
        harm_of = {name: HARM_MINUTES[harm] for name, harm in remedy.harm_under}
        harm = (*(harm_of.get(cause.id, 0.0) for cause in causes), 0.0)
        took = minutes.get(remedy.id, remedy.minutes) + BETWEEN_REMEDIES
        cured = tuple((c.id, h) for c, h in zip(causes, cures, strict=True) if h > LEAST_HELP)
        made.append(Option(remedy, took, works, harm, cured))
    return tuple(made)


def sort_out(
    options: Sequence[Option], chances: Mapping[str, float], findings: Collection[str]
) -> tuple[list[Option], list[Held]]:
    """The remedies that may be advised now, and those held back with the reason."""
    free: list[Option] = []
    held: list[Held] = []
    for option in options:
        if sum(chances[cause] * helped for cause, helped in option.cures) < LEAST_HELP:
            continue
        remedy = option.remedy
        waits = tuple(name for name in remedy.only_after if name not in findings)
        risky = tuple(
            name for name, _ in remedy.harm_under if chances.get(name, 0.0) >= HARM_HELD_BACK
        )
        if waits or risky:
            held.append(Held(remedy, waits, risky))
        else:
            free.append(option)
    return free, held


def exhausted(remedy: Remedy, tried: Sequence[Tried]) -> bool:
    """Tried as often as it makes sense, found impossible, or followed by a turn for the worse."""
    outcomes = [t.result for t in tried if t.remedy == remedy.id]
    return len(outcomes) >= remedy.may_repeat or "cannot" in outcomes or "worse" in outcomes


def quick_course(free: Sequence[Option], weights: Sequence[float], start_over: float) -> Course:
    """A good order at once: help per minute, ranked anew after each step, cut where it pays.

    Used for the many hypothetical answers; ``best_course`` is exact. ``weights`` are the chances
    of the causes, in the order of the options' tuples.
    """
    left = list(weights)
    open_ = list(free)
    chosen: list[Remedy] = []
    spent = 0.0
    best_minutes, best_length = start_over * math.fsum(left), 0
    while open_ and len(chosen) < 4:
        bad = math.fsum(left)

        def rate(option: Option, bad: float = bad, left: list[float] = left) -> float:
            gain = sum(w * h for w, h in zip(left, option.helps, strict=True))
            cost = bad * option.minutes + sum(w * h for w, h in zip(left, option.harm, strict=True))
            return gain / cost

        pick = max(open_, key=rate)
        open_.remove(pick)
        spent += bad * pick.minutes + sum(w * h for w, h in zip(left, pick.harm, strict=True))
        left = [w * (1 - h) for w, h in zip(left, pick.helps, strict=True)]
        chosen.append(pick.remedy)
        total = spent + start_over * math.fsum(left)
        if total < best_minutes - 1e-12:
            best_minutes, best_length = total, len(chosen)
    return Course(tuple(chosen[:best_length]), best_minutes)


def best_course(free: Sequence[Option], weights: Sequence[float], start_over: float) -> Course:
    """The exact best order and cut, by dynamic programming over the set tried in vain.

    Takes the options that help most per minute, at most eight. Agrees with trying every order
    (see the tests).
    """
    ranked = sorted(
        free,
        key=lambda o: (
            -sum(w * h for w, h in zip(weights, o.helps, strict=True)) / o.minutes,
            o.remedy.id,
        ),
    )[:MOST_OPTIONS]
    count = len(ranked)
    left: list[list[float]] = [list(weights)] * (1 << count)
    for tried in range(1, 1 << count):
        low = (tried & -tried).bit_length() - 1
        before = left[tried & (tried - 1)]
        left[tried] = [w * (1 - h) for w, h in zip(before, ranked[low].helps, strict=True)]
    value = [0.0] * (1 << count)
    choice: list[int | None] = [None] * (1 << count)
    for tried in range((1 << count) - 1, -1, -1):
        bad = math.fsum(left[tried])
        value[tried] = start_over * bad
        for index, option in enumerate(ranked):
            if tried >> index & 1:
                continue
            harm = math.fsum(w * h for w, h in zip(left[tried], option.harm, strict=True))
            cost = bad * option.minutes + harm + value[tried | 1 << index]
            if cost < value[tried] - 1e-12:
                value[tried], choice[tried] = cost, index
    order: list[Remedy] = []
    tried = 0
    while (step := choice[tried]) is not None:
        order.append(ranked[step].remedy)
        tried |= 1 << step
    return Course(tuple(order), value[0])


def carry_on_loss(dough: Dough, chances: Mapping[str, float], start_over: float) -> float:
    """Minutes lost by carrying on, if something is wrong after all."""
    return (1 - chances.get(dough.carry_on, 0.0)) * (start_over + TOO_LATE_TO_NOTICE)
