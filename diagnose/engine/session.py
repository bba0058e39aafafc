"""The rules over what is known: one session per request, thrown away afterwards.

A session keeps what was told and what followed from it in step. experta itself never takes a
conclusion back; here every finding counts the rules that support it and goes when the last of
them falls silent, so that after a changed answer exactly that is left which a fresh run gives.
That is exact because the rules of a book never wait for one another in a circle.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
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


class DeadSession(RuntimeError):
    """An earlier error left this session half way; start a new one."""


class _Run(KnowledgeEngine):  # type: ignore[misc]  # experta carries no types
    """An experta engine over rules compiled elsewhere.

    The rules stand in a list and not on the class: as class attributes experta would bind them to
    the last engine made, and keep that engine alive.
    """

    __strategy__ = BookOrder
    __matcher__ = CountingMatcher

    def __init__(self, compiled: CompiledRules) -> None:
        self.compiled = compiled
        super().__init__()
        self.fired: dict[int, int] = {}
        """Place of a rule -> its firings that still stand."""
        self.support: dict[str, int] = {}
        """Finding -> how many rules that conclude it speak."""
        self.standing: dict[str, Any] = {}
        """Subject -> its one fact, told or concluded."""
        self.facts.declare(InitialFact())
        self._pass_on()

    def get_rules(self) -> list[Any]:
        return list(self.compiled.engine_rules)

    def get_deffacts(self) -> list[Any]:
        return []  # the initial fact stands from the start; an engine is never reset

    def replace(self, gone: Iterable[str], come: Mapping[str, Value]) -> None:
        """Take away the facts about some subjects, then declare others, and match once each."""
        taken = [self.standing.pop(subject) for subject in gone]
        for fact in taken:
            self.facts.retract(fact)
        if taken:
            self._pass_on()
        for subject, value in come.items():
            self._stand(subject, value)
        if come:
            self._pass_on()

    def speak(self, place: int) -> None:
        """Called by a rule that fires: remember it, and declare what it concludes."""
        firings = self.fired.get(place, 0)
        self.fired[place] = firings + 1
        finding = self.compiled.rules[place].concludes
        if finding is None or firings:
            return
        self.support[finding] = self.support.get(finding, 0) + 1
        if finding not in self.standing:
            self._stand(finding, PRESENT)

    def take_back(self, told: Mapping[str, Value]) -> None:
        """Withdraw what rests only on firings that no longer stand, and what rests on that."""
        while undone := self.strategy.undone:
            self.strategy.undone = []
            unfounded = []
            for activation in undone:
                finding = self._unspeak(activation.rule.place)
                if finding is not None and finding not in told:
                    unfounded.append(finding)
            self.replace(unfounded, {})

    def _unspeak(self, place: int) -> str | None:
        """Take one firing back; the finding that thereby loses its last support, if any."""
        self.fired[place] -= 1
        if self.fired[place]:
            return None
        del self.fired[place]
        finding = self.compiled.rules[place].concludes
        if finding is None:
            return None
        self.support[finding] -= 1
        if self.support[finding]:
            return None
        del self.support[finding]
        return finding

    def _stand(self, subject: str, value: Value) -> None:
        # Straight to the list of facts: "declare" would first look for patterns and nested keys
        # among the values, which facts about one subject never hold, and match after each fact.
        fact = self.compiled.fact_class[subject](value=value)
        self.standing[subject] = self.facts.declare(fact)

    def _pass_on(self) -> None:
        added, removed = self.get_activations()
        self.strategy.update_agenda(self.agenda, added, removed)


class Session:
    """What one cook has told, and what the rules make of it, kept in step.

    A sign has an answer, a reading or computed reading a number in its own unit, ``stage`` the
    stage, a finding that is told the value "present". What was not looked at is never told.

    Not for sharing between threads; the compiled rules are.

    Raises, from every method:
        DeadSession: an earlier call raised in the middle of its work.
    """

    def __init__(self, compiled: CompiledRules, engine_class: type[_Run] = _Run) -> None:
        self._compiled = compiled
        self._engine = engine_class(compiled)
        self._told: dict[str, Value] = {}
        self._declared: dict[str, Value] = {}
        self._touched: set[str] = set()
        self._dead = False

    @property
    def told(self) -> Mapping[str, Value]:
        """What has been told, by subject."""
        return dict(self._told)

    def answer(self, subject: str, value: Value) -> None:
        """Tell something, or tell it differently from before.

        Raises:
            ValueError: no sign, reading or finding of this book has that name, or the number is
                "not a number", which lies on neither side of any limit.
        """
        self._check_alive()
        if subject not in self._compiled.fact_class:
            raise ValueError(
                f'this book has nothing called "{subject}": name one of its signs, readings, '
                "computed readings or findings, or the stage"
            )
        if isinstance(value, float) and math.isnan(value):
            raise ValueError(f'"{subject}" was told "not a number": tell a number, or nothing')
        self._told[subject] = value
        self._touched.add(subject)

    def unanswer(self, subject: str) -> None:
        """Take back what was told.

        Raises:
            ValueError: nothing was told about the subject.
        """
        self._check_alive()
        if subject not in self._told:
            raise ValueError(f'nothing was told about "{subject}", so nothing can be taken back')
        del self._told[subject]
        self._touched.add(subject)

    def settle(self) -> Outcome:
        """Fire the rules until nothing more follows, and withdraw what no longer does."""
        self._check_alive()
        self._dead = True  # until the work is done: an error in the middle leaves it so
        engine = self._engine
        self._hand_over()
        engine.take_back(self._told)
        engine.run()
        while engine.strategy.undone:
            engine.take_back(self._told)
            engine.run()
        self._dead = False
        rules = self._compiled.rules
        told = [subject for subject, value in self._told.items() if value == PRESENT]
        return Outcome(
            spoke=tuple(rules[place] for place in sorted(engine.fired)),
            findings=frozenset((*engine.support, *told)),
        )

    def _hand_over(self) -> None:
        """Bring the engine's facts in line with what was told since the last settling."""
        declared, standing, support = self._declared, self._engine.standing, self._engine.support
        gone: list[str] = []
        come: dict[str, Value] = {}
        for subject in sorted(self._touched):  # in an order that does not depend on the telling
            before, now = declared.pop(subject, None), self._told.get(subject)
            if now is not None:
                declared[subject] = now
            if before == now:
                continue
            if before is not None and (now is not None or subject not in support):
                gone.append(subject)
            if now is not None and (before is not None or subject not in standing):
                come[subject] = now
        self._touched.clear()
        self._engine.replace(gone, come)

    def _check_alive(self) -> None:
        if self._dead:
            raise DeadSession(
                "An error stopped this session half way, so what it holds may be wrong. Start a "
                "new session and tell it the answers again."
            )


def run(
    compiled: CompiledRules, facts: Mapping[str, Value], engine_class: type[_Run] = _Run
) -> Outcome:
    """Fire the rules on these facts until nothing more follows.

    ``facts`` maps a sign to its answer, a reading or computed reading to a number in its own unit,
    and ``stage`` to the stage; what was not looked at is simply not in it. Facts about something
    the book does not know are left aside.
    """
    session = Session(compiled, engine_class)
    for subject, value in facts.items():
        if subject in compiled.fact_class:
            session.answer(subject, value)
    return session.settle()
