"""Which remedy first, and whether to rescue or to start over.

A plan is an order of remedies with a point at which to give up and start over. Its loss is the
minutes it can be expected to cost: the remedies until one helps, what a wrong remedy spoils, and
starting over if none helps. "Start over" is always in the race: it is the empty plan.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from diagnose.knowledge.book import Cause, Dough, Remedy
from diagnose.knowledge.situation import Tried

from .posterior import FLOOR, helps
from .words import HARM_MINUTES

BETWEEN_REMEDIES = 3.0
"""Minutes to read, fetch, act and look again, whatever the remedy takes by itself; house rule."""
START_OVER_EXTRA = 10.0
"""Minutes that a fresh batch costs beyond its stove time: scales, washing up, ingredients."""
TOO_LATE_TO_NOTICE = 15.0
"""Minutes lost, beyond starting over, when a batch that is not right is carried on."""
MOST_OPTIONS = 8
LONGEST_QUICK = 4
LEAST_HELP = 0.05
"""A remedy with less chance of helping is not worth a cook's attention; house rule."""
HARM_HELD_BACK = 0.25
NEVER_PLANNED = frozenset({"restart", "discard", "none"})


@dataclass(frozen=True, slots=True)
class Option:
    """A remedy that can be done at this stage; chances of help are in the belief's order."""

    remedy: Remedy
    minutes: float
    helps: tuple[float, ...]
    harm: tuple[tuple[int, float], ...]
    """(place in the belief, minutes spoilt) for the causes under which it does harm."""
    cures: tuple[tuple[str, float], ...]
    """The causes it is listed for, and how often it helps against each."""
    cured: tuple[tuple[int, float], ...]
    """The same, by place in the belief instead of by name."""


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
    ``may_follow``). ``minutes`` are those worked out for this batch, by remedy id, where they
    differ from the book's. The last entry of each option's tuples is for "something else".
    """
    made = []
    for remedy in dough.remedies:
        if remedy.kind in NEVER_PLANNED or stage not in remedy.stages or exhausted(remedy, tried):
            continue
        cures = tuple(
            0.0 if cause.id == dough.carry_on else helps(remedy.id, cause) for cause in causes
        )
        if max(cures, default=0.0) <= FLOOR:
            continue
        works = (
            *(1.0 if c.id == dough.carry_on else h for c, h in zip(causes, cures, strict=True)),
            helps(remedy.id, None),
        )
        harm_of = {name: HARM_MINUTES[harm] for name, harm in remedy.harm_under}
        harm = tuple((p, harm_of[c.id]) for p, c in enumerate(causes) if c.id in harm_of)
        took = minutes.get(remedy.id, remedy.minutes) + BETWEEN_REMEDIES
        listed = [(place, h) for place, h in enumerate(cures) if h > FLOOR]
        made.append(
            Option(
                remedy=remedy,
                minutes=took,
                helps=works,
                harm=harm,
                cures=tuple((causes[place].id, h) for place, h in listed),
                cured=tuple(listed),
            )
        )
    return tuple(made)


def sort_out(
    options: Sequence[Option], chances: Mapping[str, float], findings: Collection[str]
) -> list[Held]:
    """The remedies that would help but may not be advised now, each with the reason."""
    held = []
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
    return held


def exhausted(remedy: Remedy, tried: Sequence[Tried]) -> bool:
    """Tried as often as it makes sense, found impossible, or followed by a turn for the worse."""
    outcomes = [t.result for t in tried if t.remedy == remedy.id]
    return len(outcomes) >= remedy.may_repeat or "cannot" in outcomes or "worse" in outcomes


Opened = Mapping[str, frozenset[str]]
"""Findings that hold once a remedy has been done, by its id; only for remedies that open some."""


def may_follow(
    option: Option, left: Sequence[float], bad: float, findings: Collection[str]
) -> bool:
    """Whether a remedy may be done with this much of each cause left and these findings.

    It must have a fair chance, its gates must stand open, and it must not be likely to harm. A
    remedy that comes first may open the gate of the next, or make the danger small.
    """
    for name in option.remedy.only_after:
        if name not in findings:
            return False
    for place, _ in option.harm:
        if left[place] >= HARM_HELD_BACK * bad:
            return False
    fair = LEAST_HELP * bad
    for place, helped in option.cured:
        fair -= left[place] * helped
        if fair <= 0:
            return True
    return False


def quick_course(
    options: Sequence[Option],
    weights: Sequence[float],
    start_over: float,
    findings: frozenset[str] = frozenset(),
    opened: Opened = MappingProxyType({}),
) -> Course:
    """A good order at once: help per minute, ranked anew after each step, cut where it pays.

    Used for the many hypothetical answers; ``best_course`` is exact. ``weights`` are the chances
    of the causes, in the order of the options' tuples.
    """
    left = list(weights)
    open_ = list(options)
    chosen: list[Remedy] = []
    spent = 0.0
    best_minutes, best_length = start_over * math.fsum(left), 0
    while len(chosen) < LONGEST_QUICK:
        bad = math.fsum(left)
        pick: tuple[float, Option] | None = None
        for option in open_:
            if not may_follow(option, left, bad, findings):
                continue
            gain = sum(w * h for w, h in zip(left, option.helps, strict=True))
            rate = gain / _cost(option, left, bad)
            if pick is None or rate > pick[0]:
                pick = rate, option
        if pick is None:
            break
        option = pick[1]
        open_.remove(option)
        spent += _cost(option, left, bad)
        left = [w * (1 - h) for w, h in zip(left, option.helps, strict=True)]
        findings = findings | opened.get(option.remedy.id, frozenset())
        chosen.append(option.remedy)
        total = spent + start_over * math.fsum(left)
        if total < best_minutes - 1e-12:
            best_minutes, best_length = total, len(chosen)
    return Course(tuple(chosen[:best_length]), best_minutes)


def _cost(option: Option, left: Sequence[float], bad: float) -> float:
    return bad * option.minutes + sum(left[place] * spoilt for place, spoilt in option.harm)


def best_course(
    options: Sequence[Option],
    weights: Sequence[float],
    start_over: float,
    findings: frozenset[str] = frozenset(),
    opened: Opened = MappingProxyType({}),
) -> Course:
    """The exact best order and cut, by dynamic programming over the set tried in vain.

    Takes the options that help most per minute, at most eight, those that open others first.
    Agrees with trying every order (see the tests).
    """
    ranked = sorted(
        options,
        key=lambda o: (
            o.remedy.id not in opened,
            -sum(w * h for w, h in zip(weights, o.helps, strict=True)) / o.minutes,
            o.remedy.id,
        ),
    )[:MOST_OPTIONS]
    count = len(ranked)
    left: list[list[float]] = [list(weights)] * (1 << count)
    known: list[frozenset[str]] = [findings] * (1 << count)
    for tried in range(1, 1 << count):
        low = (tried & -tried).bit_length() - 1
        before = tried & (tried - 1)
        left[tried] = [w * (1 - h) for w, h in zip(left[before], ranked[low].helps, strict=True)]
        known[tried] = known[before] | opened.get(ranked[low].remedy.id, frozenset())
    value = [0.0] * (1 << count)
    choice: list[int | None] = [None] * (1 << count)
    for tried in range((1 << count) - 1, -1, -1):
        bad = math.fsum(left[tried])
        value[tried] = start_over * bad
        for index, option in enumerate(ranked):
            if tried >> index & 1 or not may_follow(option, left[tried], bad, known[tried]):
                continue
            cost = _cost(option, left[tried], bad) + value[tried | 1 << index]
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
