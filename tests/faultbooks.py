"""Small books of causes and looks made up for the tests, and what their causes would show."""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Mapping
from types import SimpleNamespace
from typing import Any, cast

from diagnose.knowledge.book import (
    Answer,
    Cause,
    Commonness,
    Dough,
    EvidenceRow,
    Rule,
    Sign,
    Source,
    Strength,
    Try,
    Weight,
)
from diagnose.reasoning.likelihood import Table
from diagnose.reasoning.words import FACTOR, PRIOR

SOURCE = Source(see="common-practice")
NONE = "none"
"""The carry-on cause of these books."""


def cause(name: str, common: Commonness = "occasional", remedy: str | None = None) -> Cause:
    return Cause(
        id=name,
        say=name,
        how_common=common,
        shows_at=("now",),
        tries=(Try(remedy=remedy or f"fix-{name}", works="usually"),),
        next_time="",
    )


def sign(name: str, answers: Iterable[str], common: dict[str, Commonness] | None = None) -> Sign:
    return Sign(
        id=name,
        ask=f"{name}?",
        answers=tuple(Answer(id=a, say=a) for a in answers),
        stages=("now",),
        effort="glance",
        how_common=common or {},
    )


def row(of: str, about: str, group: str | None = None, **words: Weight) -> EvidenceRow:
    return EvidenceRow(of=of, about=about, answers=words, why="", source=SOURCE, group=group)


def points(to: str, strength: Strength, group: str | None = None, name: str = "") -> Rule:
    return Rule(
        id=name or f"{strength}-{to}",
        says="made up",
        when=(),
        points_to=to,
        strength=strength,
        group=group,
        why="made up",
        source=SOURCE,
        standing="tried",
        cases=(),
    )


def faultbook(
    causes: Iterable[Cause], signs: Iterable[Sign], evidence: Iterable[EvidenceRow]
) -> Dough:
    """The parts of a dough that the chances read."""
    return cast(
        Dough,
        SimpleNamespace(
            causes=(cause(NONE, "common"), *causes),
            signs=tuple(signs),
            readings=(),
            computed=(),
            remedies=(),
            evidence=tuple(evidence),
            carry_on=NONE,
        ),
    )


def random_faultbook(
    dice: random.Random, causes: int = 6, looks: int = 8, density: float = 0.6
) -> Dough:
    """Looks of two to five answers, words of every kind, gaps in the table."""
    names = [NONE, *(f"c{n}" for n in range(causes))]
    commons = list(PRIOR)
    made, rows = [], []
    for n in range(looks):
        answers = "abcde"[: dice.randint(2, 5)]
        common = {a: dice.choice(commons) for a in answers if dice.random() < 0.5}
        made.append(sign(f"s{n}", answers, common))
        for name in names:
            if dice.random() < density:
                chosen = dice.sample(answers, dice.randint(1, len(answers)))
                words: dict[str, Any] = {a: dice.choice(list(FACTOR)) for a in chosen}
                rows.append(row(f"s{n}", name, **words))
    return faultbook([cause(n, dice.choice(commons)) for n in names[1:]], made, rows)


def some_looks(dice: random.Random, dough: Dough, share: float = 0.7) -> dict[str, Any]:
    """Answers given at random."""
    return {s.id: dice.choice(s.answers).id for s in dough.signs if dice.random() < share}


def alone(table: Table, name: str, none: str = NONE) -> dict[str, float]:
    """P(answer) under one cause; one without a row leaves the look as with nothing wrong."""
    speaks = name if name in table.rows else none
    return {a: math.exp(table.log_for(speaks, a)) for a in table.asked.answers}


def under_two(table: Table, one: str, other: str, none: str = NONE) -> dict[str, float]:
    """P(answer) under two causes, by telling the story of the look outcome by outcome."""
    base = alone(table, none, none)
    own = []
    for name in (one, other):
        shown = alone(table, name, none)
        hidden = min(shown[a] / base[a] for a in base)
        own.append((hidden, {a: shown[a] - hidden * base[a] for a in base}))
    chances = dict.fromkeys(base, 0.0)
    for first in (False, True):
        for second in (False, True):
            for answer in base:
                if first and second:
                    # each answer shown is met by the cook half the time
                    weight = own[0][1][answer] * (1 - own[1][0]) / 2
                    weight += own[1][1][answer] * (1 - own[0][0]) / 2
                elif first:
                    weight = own[0][1][answer] * own[1][0]
                elif second:
                    weight = own[1][1][answer] * own[0][0]
                else:
                    weight = own[0][0] * own[1][0] * base[answer]
                chances[answer] += weight
    return chances


def drawn(dice: random.Random, chances: Mapping[str, float]) -> str:
    """One answer, as often as its chance says."""
    return dice.choices(list(chances), list(chances.values()))[0]
