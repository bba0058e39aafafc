"""Small rule books made up for the tests: no kitchen sense, only shape."""

from __future__ import annotations

import random
from types import SimpleNamespace
from typing import Any, cast

from diagnose.knowledge.book import Answer, Condition, Dough, Finding, Reading, Rule, Sign, Source
from diagnose.knowledge.phrases import Interval, OneOf, Phrase, Presence, Value

SOURCE = Source(see="common-practice")
ANSWERS = ("a", "b", "c")


def sign(name: str) -> Sign:
    return Sign(
        id=name,
        ask=f"{name}?",
        answers=tuple(Answer(id=a, say=a) for a in ANSWERS),
        stages=("now",),
        effort="glance",
    )


def reading(name: str) -> Reading:
    return Reading(
        id=name,
        ask=f"{name}?",
        unit="degC",
        likely=(0, 100),
        possible=(0, 100),
        good_to=1,
        stages=("now",),
        effort="measure",
    )


def when(subject: str, phrase: Phrase) -> Condition:
    kind = {OneOf: "sign", Interval: "reading", Presence: "finding"}[type(phrase)]
    return Condition(subject=subject, kind=cast(Any, kind), phrase=phrase)


def rule(
    name: str,
    *conditions: Condition,
    unless: tuple[Condition, ...] = (),
    concludes: str | None = None,
    points_to: str | None = None,
) -> Rule:
    return Rule(
        id=name,
        says=name,
        when=conditions,
        unless=unless,
        concludes=concludes,
        points_to=points_to,
        strength=None if concludes else "strong",
        why="made up",
        source=SOURCE,
        standing="tried",
        cases=(),
    )


def rulebook(*rules: Rule, signs: int = 8, readings: int = 4, findings: int = 60) -> Dough:
    """The parts of a dough that the engine reads."""
    return cast(
        Dough,
        SimpleNamespace(
            rules=rules,
            signs=tuple(sign(f"sign-{n}") for n in range(signs)),
            readings=tuple(reading(f"reading-{n}") for n in range(readings)),
            computed=(),
            findings=tuple(Finding(id=f"finding-{n}", means="made up") for n in range(findings)),
        ),
    )


def random_rulebook(seed: int, size: int = 40) -> Dough:
    """Rules of every form: answers, lists, negation, intervals, chains, absence, exceptions."""
    dice = random.Random(seed)
    rules = []
    for number in range(size):
        conditions, highest = [], -1
        for _ in range(dice.randint(1, 3)):
            kind = dice.random()
            if kind < 0.45:
                chosen = tuple(dice.sample(ANSWERS, dice.randint(1, 2)))
                subject = f"sign-{dice.randrange(8)}"
                conditions.append(when(subject, OneOf(chosen, negated=dice.random() < 0.25)))
            elif kind < 0.65:
                low, high = sorted(dice.sample(range(0, 100, 10), 2))
                phrase = Interval(low, high, dice.random() < 0.5, dice.random() < 0.5, "between")
                conditions.append(when(f"reading-{dice.randrange(4)}", phrase))
            else:
                place = dice.randrange(12)
                highest = max(highest, place)
                conditions.append(when(f"finding-{place}", Presence(dice.random() < 0.6)))
        unless: tuple[Condition, ...] = ()
        if dice.random() < 0.3:
            unless = (when(f"sign-{dice.randrange(8)}", OneOf(("a",))),)
        concludes = None
        if dice.random() < 0.5 and highest < 12:
            concludes = f"finding-{dice.randrange(highest + 1, 13)}"
        rules.append(rule(f"rule-{number}", *conditions, unless=unless, concludes=concludes))
    return rulebook(*rules)


def random_facts(dice: random.Random) -> dict[str, Value]:
    facts: dict[str, Value] = {
        f"sign-{n}": dice.choice(ANSWERS) for n in range(8) if dice.random() < 0.6
    }
    facts |= {f"reading-{n}": float(dice.randrange(101)) for n in range(4) if dice.random() < 0.5}
    return facts
