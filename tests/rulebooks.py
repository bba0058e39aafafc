"""Small rule books made up for the tests: no kitchen sense, only shape."""

from __future__ import annotations

import random
from collections.abc import Iterable
from types import SimpleNamespace
from typing import Any, cast

from diagnose.engine.compiling import CompiledRules
from diagnose.engine.plain import evaluate
from diagnose.engine.session import Session, _Run, run
from diagnose.knowledge.book import Answer, Condition, Dough, Finding, Reading, Rule, Sign, Source
from diagnose.knowledge.phrases import PRESENT, Interval, OneOf, Phrase, Presence, Value

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
        elif dice.random() < 0.2:
            place = dice.randrange(12)
            highest = max(highest, place)
            unless = (when(f"finding-{place}", Presence(dice.random() < 0.5)),)
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


Step = tuple[str, Value | None]
"""Something told (again), or with None taken back."""


def random_steps(dice: random.Random, count: int = 14) -> list[Step]:
    """Answers, changed answers and answers taken back, one at a time; now and then a finding."""
    told: set[str] = set()
    steps: list[Step] = []
    for _ in range(count):
        if told and dice.random() < 0.25:
            name = dice.choice(sorted(told))
            told.remove(name)
            steps.append((name, None))
            continue
        name, value = dice.choice(sorted(random_facts(dice).items()) or [("sign-0", "a")])
        if told and dice.random() < 0.35:
            name = dice.choice(sorted(told))
            if name.startswith("sign"):
                value = dice.choice(ANSWERS)
            elif name.startswith("reading"):
                value = float(dice.randrange(0, 101, 5))
        elif dice.random() < 0.08:
            name, value = f"finding-{dice.randrange(13)}", PRESENT
        if name.startswith("finding"):
            value = PRESENT
        told.add(name)
        steps.append((name, value))
    return steps


def disagreements(
    compiled: CompiledRules, steps: Iterable[Step], engine_class: type[_Run] = _Run
) -> list[str]:
    """Where a session told step by step differs from a fresh run or from the plain evaluator."""
    session = Session(compiled, engine_class)
    found = []
    for number, (name, value) in enumerate(steps):
        if value is None:
            session.unanswer(name)
        else:
            session.answer(name, value)
        outcome = session.settle()
        if outcome != run(compiled, session.told, engine_class):
            found.append(f"step {number}: not what a fresh run gives")
        if outcome != evaluate(compiled.rules, session.told):
            found.append(f"step {number}: not what the plain evaluator gives")
    return found


def generated_rulebook(size: int, seed: int = 1) -> Dough:
    """A large book for timings: 75 signs, 45 readings, chains of findings up to four deep.

    Tests of equality, lists, negation, intervals, presence and absence. With 15 answers about one
    rule in thirty speaks.
    """
    dice = random.Random(seed)
    per_level = max(4, size // 40)
    rules = []
    for number in range(size):
        level = min(3, int(dice.random() * 5.5))
        concludes = level < 3 and dice.random() < 0.4
        conditions = [_generated_condition(dice) for _ in range(dice.choice((1, 1, 1, 2, 2)))]
        for _ in range(1 if level and dice.random() < 0.9 else 0):
            below = dice.randrange(level) * per_level + dice.randrange(per_level)
            conditions.append(when(f"finding-{below}", Presence(dice.random() < 0.3)))
        unless = (_generated_condition(dice),) if dice.random() < 0.2 else ()
        found = f"finding-{level * per_level + dice.randrange(per_level)}"
        rules.append(
            rule(
                f"rule-{number}",
                *conditions,
                unless=unless,
                concludes=found if concludes else None,
                points_to=None if concludes else f"cause-{dice.randrange(25)}",
            )
        )
    return rulebook(*rules, signs=75, readings=45, findings=3 * per_level)


def _generated_condition(dice: random.Random) -> Condition:
    if dice.random() < 75 / 120:
        kind = dice.random()
        negated = kind < 0.15
        count = 1 if negated or kind < 0.65 else 2
        phrase = OneOf(tuple(dice.sample(ANSWERS, count)), negated)
        return when(f"sign-{dice.randrange(75)}", phrase)
    low, high = sorted(dice.sample(range(0, 101, 10), 2))
    bottom, top = dice.choice(((low, high), (None, high), (low, None)))
    interval = Interval(bottom, top, dice.random() < 0.5, dice.random() < 0.5, "in a stretch")
    return when(f"reading-{dice.randrange(45)}", interval)


def generated_facts(dice: random.Random, count: int = 15) -> dict[str, Value]:
    """``count`` answers to the signs and readings of a generated book."""
    names = [f"sign-{n}" for n in range(75)] + [f"reading-{n}" for n in range(45)]
    return {
        name: dice.choice(ANSWERS) if name.startswith("sign") else float(dice.randrange(101))
        for name in dice.sample(names, count)
    }
