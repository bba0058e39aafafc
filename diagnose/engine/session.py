"""One run of the rules over what is known: one session per request, thrown away afterwards."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from diagnose.knowledge.book import Rule
from diagnose.knowledge.phrases import PRESENT, Value

from . import repair  # noqa: F401  (experta can only be imported after the repair)
from .compiling import CompiledRules
from .matcher import CountingMatcher
from .strategy import BookOrder

from experta import KnowledgeEngine  # isort: skip
from experta.fact import InitialFact  # isort: skip


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a run concluded. Both are in the book's order, whatever order rules fired in."""

    spoke: tuple[Rule, ...]
    findings: frozenset[str]


class _Run(KnowledgeEngine):  # type: ignore[misc]  # experta carries no types
    """An experta engine over rules compiled elsewhere.

    The rules stand in a list and not on the class: as class attributes experta would bind them to
    the last engine made, and keep that engine alive.
    """

    __strategy__ = BookOrder
    __matcher__ = CountingMatcher

    def __init__(self, compiled: CompiledRules) -> None:
        self.compiled = compiled
        self.spoke: dict[str, Rule] = {}
        super().__init__()

    def get_rules(self) -> list[Any]:
        return list(self.compiled.engine_rules)

    def get_deffacts(self) -> list[Any]:
        return [_initial_fact]

    def speak(self, rule: Rule) -> None:
        """Called by a rule that fires: remember it, and declare what it concludes."""
        self.spoke[rule.id] = rule
        if rule.concludes is not None:
            self.declare(self.compiled.fact_class[rule.concludes](value=PRESENT))


def _initial_fact() -> Iterator[Any]:
    yield InitialFact()


def run(
    compiled: CompiledRules, facts: Mapping[str, Value], engine_class: type[_Run] = _Run
) -> Outcome:
    """Fire the rules on these facts until nothing more follows.

    ``facts`` maps a sign to its answer, a reading or computed reading to a number in its own unit,
    and ``stage`` to the stage; what was not looked at is simply not in it.
    """
    engine = engine_class(compiled)
    engine.reset()
    told = [
        compiled.fact_class[name](value=value)
        for name, value in sorted(facts.items())
        if name in compiled.fact_class
    ]
    if told:
        engine.declare(*told)
    engine.run()
    spoke = tuple(rule for rule in compiled.rules if rule.id in engine.spoke)
    concluded = {rule.concludes for rule in spoke if rule.concludes is not None}
    told_findings = {name for name, value in facts.items() if value == PRESENT}
    return Outcome(spoke, frozenset(concluded | told_findings))
