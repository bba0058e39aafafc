"""Turn the rules of a dough into real experta rules, once per book.

Each sign, reading, computed reading and finding becomes a fact class of its own with one field,
``value``, so that no test ever meets another sign's answer; each distinct test becomes one
predicate object, which experta's network shares. The compiled rules are immutable and may serve
any number of sessions in any number of threads.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from diagnose.knowledge.book import Dough, Rule
from diagnose.knowledge.phrases import Phrase, Presence, Truth, Value
from diagnose.knowledge.strata import levels

from . import repair  # noqa: F401  (experta can only be imported after the repair)
from .net import Net, build

from experta import NOT, Fact, P  # isort: skip
from experta import Rule as EngineRule  # isort: skip


@dataclass(frozen=True)
class CompiledRules:
    """The rules of one dough, ready for any number of sessions."""

    rules: tuple[Rule, ...]
    """In firing order: by level, then as the book has them."""
    level: Mapping[str, int]
    fact_class: Mapping[str, type]
    engine_rules: tuple[Any, ...] = field(repr=False)
    net: Net = field(repr=False)


def salience_of(level: int) -> int:
    """Lower levels fire first: a finding is settled before anything asks for its absence."""
    return 1000 - 10 * level


def compile_rules(dough: Dough) -> CompiledRules:
    """Compile every rule of the dough that is not retired.

    Raises:
        Circular: some rules wait for one another.
    """
    level = levels(dough.rules)
    rules = tuple(
        sorted((r for r in dough.rules if r.standing != "retired"), key=lambda r: level[r.id])
    )
    names = ["stage"]
    for part in (dough.signs, dough.readings, dough.computed, dough.findings):
        names.extend(entry.id for entry in part)
    fact_class = {
        name: type(f"Told_{name.replace('-', '_')}", (Fact,), {"subject": name}) for name in names
    }
    net = build(rules)
    tests = tuple(
        _pattern(fact_class[subject], phrase)
        for subject, phrase in zip(net.subjects, net.phrases, strict=True)
    )
    nots = {atom: NOT(tests[atom]) for one in net.literals for atom in one.forbids}
    engine_rules = tuple(
        _engine_rule(
            rule.id,
            place,
            salience_of(level[rule.id]),
            [tests[atom] for atom in net.literals[place].needs]
            + [nots[atom] for atom in net.literals[place].forbids],
        )
        for place, rule in enumerate(rules)
    )
    return CompiledRules(rules, level, fact_class, engine_rules, net)


def _engine_rule(name: str, place: int, salience: int, patterns: list[Any]) -> Any:
    def act(engine: Any) -> None:
        engine.speak(place)

    act.place = place  # type: ignore[attr-defined]  # read back by the strategy
    act.__name__ = name
    # experta asks every action for its signature; worked out anew it would be half of compiling
    act.__signature__ = _ACTION  # type: ignore[attr-defined]
    return EngineRule(*patterns, salience=salience)(act)


_ACTION = inspect.signature(lambda engine: None)


def _pattern(subject: type, phrase: Phrase) -> Any:
    return subject() if isinstance(phrase, Presence) else subject(value=P(_test(phrase)))


def _test(phrase: Phrase) -> Callable[[Value], bool]:
    return lambda value: phrase.judge(value) is Truth.YES
