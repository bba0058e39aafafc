"""Made-up confirmed cases for the tests: drawn from a stated truth, with fixed seeds."""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast

from diagnose.knowledge.book import Dough
from diagnose.learning.cases import ConfirmedCase
from diagnose.reasoning.likelihood import tables
from diagnose.reasoning.words import PRIOR, PRIOR_SOMETHING_ELSE, SOMETHING_ELSE

Truth = Mapping[str, Mapping[str, Mapping[str, float]]]
"""look -> cause -> answer -> P(answer | cause), as the kitchens really are."""


@dataclass(frozen=True)
class World:
    """A made-up truth beside a book that is wrong about it."""

    dough: Dough
    stage: str
    truth: Truth
    common: Mapping[str, float]

    def cases(
        self, dice: random.Random, count: int, answered: float = 0.7, start: int = 0
    ) -> list[ConfirmedCase]:
        """A cause by how common it is, then each look, taken with chance ``answered``."""
        causes, weights = list(self.common), list(self.common.values())
        return [
            self._case(dice, start + n, dice.choices(causes, weights)[0], answered)
            for n in range(count)
        ]

    def _case(self, dice: random.Random, number: int, cause: str, answered: float) -> ConfirmedCase:
        answers = {}
        for look, rows in self.truth.items():
            if dice.random() < answered:
                row = rows[cause]
                answers[look] = dice.choices(list(row), list(row.values()))[0]
        return ConfirmedCase(
            id=f"case-{number}",
            dough=self.dough.id,
            stage=self.stage,
            answers=answers,
            causes=(cause,),
            elevation_m=dice.choice((None, 6.0, 640.0, 2310.0)),
        )


def world(dice: random.Random, dough: Dough, stage: str, error: float) -> World:
    """A truth that differs from the book: each cell of a written row by a normal error, in nats.

    How common the causes are differs by an error of the same size. Looks without a row are as
    usual, as the book says.
    """
    shows = [c for c in dough.causes if stage in c.shows_at]
    words = {c.id: PRIOR[c.how_common] for c in shows} | {SOMETHING_ELSE: PRIOR_SOMETHING_ELSE}
    truth = {}
    for look, table in tables(dough).items():
        rows = {}
        for cause in words:
            moved = {
                a: math.exp(
                    table.log_for(cause, a) + (dice.gauss(0, error) if cause in table.rows else 0)
                )
                for a in table.asked.answers
            }
            rows[cause] = over(moved)
        truth[look] = rows
    return World(
        dough, stage, truth, over({c: w * math.exp(dice.gauss(0, error)) for c, w in words.items()})
    )


def over(weights: Mapping[str, float]) -> dict[str, float]:
    """The same in proportion, adding up to one."""
    whole = math.fsum(weights.values())
    return {name: weight / whole for name, weight in weights.items()}


def shuffled(dice: random.Random, cases: Iterable[ConfirmedCase]) -> list[ConfirmedCase]:
    """The same cases in another order, each told in another order."""
    mixed = list(cases)
    dice.shuffle(mixed)
    return [retold(dice, case) for case in mixed]


def retold(dice: random.Random, case: ConfirmedCase) -> ConfirmedCase:
    """The same case, its answers in another order."""
    answers = list(case.answers.items())
    dice.shuffle(answers)
    return replace(case, answers=dict(answers))


def named(dough: object, name: str = "made-up") -> Dough:
    """A made-up dough with an id."""
    vars(dough)["id"] = name
    return cast(Dough, dough)


def log_loss(chances: Sequence[float]) -> float:
    """Mean of -ln(chance given to what was true)."""
    return -math.fsum(math.log(chance) for chance in chances) / len(chances)


@dataclass(frozen=True)
class Planted:
    """Cases in which some answers were made to go with some causes, and which those are."""

    cases: list[ConfirmedCase]
    singles: frozenset[tuple[str, str, str]]
    """(look, answer, cause)"""
    pairs: frozenset[tuple[tuple[str, str], tuple[str, str], str]]


def planted(
    dice: random.Random,
    count: int,
    looks: int = 120,
    causes: int = 25,
    rules: int = 40,
    pairs: int = 0,
    answered: float = 0.6,
    even: bool = False,
) -> Planted:
    """Causes from common to rare (unless ``even``), looks of two to four answers.

    A planted rule makes one answer of one look three or eight times as likely under one cause (in
    proportion to the other answers). A planted pair comes together in half of the cases of its
    cause in which both looks are taken, and in the other half neither comes. All else is chance.
    """
    names = [f"cause-{n:02}" for n in range(causes)]
    common = [1.0 if even else 1 / (n + 1) ** 0.5 for n in range(causes)]
    base = {
        f"look-{n:03}": over({a: dice.uniform(0.5, 2) for a in "abcd"[: dice.randint(2, 4)]})
        for n in range(looks)
    }
    cells = dice.sample([(look, c) for look in base for c in names], rules)
    singles = {(look, dice.choice(list(base[look])), c) for look, c in cells}
    rows = {}
    for look, answer, cause in sorted(singles):
        factor = dice.choice((3.0, 8.0))
        rows[look, cause] = over(
            {a: p * (factor if a == answer else 1) for a, p in base[look].items()}
        )
    wide = [look for look in base if len(base[look]) > 2]
    together = {}
    for n in range(pairs):
        one, other = sorted(dice.sample(wide, 2))
        together[names[n % causes]] = ((one, "a"), (other, "a"))
    cases = []
    for n in range(count):
        cause = dice.choices(names, common)[0]
        answers = {}
        for look, usual in base.items():
            if dice.random() < answered:
                row = rows.get((look, cause), usual)
                answers[look] = dice.choices(list(row), list(row.values()))[0]
        pair = together.get(cause, ())
        if pair and all(look in answers for look, _ in pair):
            meet = dice.random() < 0.5
            for look, answer in pair:
                others = [a for a in base[look] if a != answer]
                answers[look] = answer if meet else dice.choice(others)
        cases.append(ConfirmedCase(f"case-{n:06}", "made-up", "now", answers, (cause,)))
    return Planted(
        cases,
        frozenset(singles),
        frozenset((one, other, c) for c, (one, other) in together.items()),
    )
