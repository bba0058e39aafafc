"""Remedies that would help but may not be advised yet, and the question that would clear one."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

from diagnose.knowledge.book import Remedy

from .options import HARM_HELD_BACK, JUST, LEAST_HELP, Option, may_follow


@dataclass(frozen=True, slots=True)
class Held:
    """A remedy that would help, but not yet: what it waits for, or what it could harm."""

    remedy: Remedy
    waits_for: tuple[str, ...]
    could_harm: tuple[str, ...]

    @property
    def could_ruin(self) -> bool:
        """Whether it could harm past putting right."""
        return any(
            harm == "ruins it" for cause, harm in self.remedy.harm_under if cause in self.could_harm
        )


def sort_out(
    options: Sequence[Option], chances: Mapping[str, float], findings: Collection[str]
) -> list[Held]:
    """The remedies that would help but may not be advised now, each with the reason."""
    held = []
    for option in options:
        if sum(chances[cause] * helped for cause, helped in option.cures) < LEAST_HELP * JUST:
            continue
        remedy = option.remedy
        waits = tuple(name for name in remedy.only_after if name not in findings)
        risky = tuple(
            name
            for name, harm in remedy.harm_under
            if chances.get(name, 0.0) >= HARM_HELD_BACK * JUST
            and (harm == "ruins it" or not option.priced)
        )
        if waits or risky:
            held.append(Held(remedy, waits, risky))
    return held


def advisable(
    options: Sequence[Option], weights: Sequence[float], findings: Collection[str]
) -> frozenset[str]:
    """Ids of the remedies that may be done now, with these chances in the options' order."""
    bad = math.fsum(weights)
    return frozenset(o.remedy.id for o in options if may_follow(o, weights, bad, findings))


class Asked(Protocol):
    """A part of the book that can be asked."""

    @property
    def id(self) -> str: ...


class Asking(Protocol):
    """What is read here of a question's worth."""

    @property
    def part(self) -> Asked: ...

    @property
    def leads_to(self) -> tuple[tuple[str, str], ...]: ...


@dataclass(frozen=True, slots=True)
class Clearing:
    """A question that would clear a remedy that is held back, and the answers that would."""

    question: str
    answers: tuple[str, ...]
    first: bool
    """Whether these answers make it the first remedy; otherwise they only unlock it."""


def clearing_question(
    held: Held,
    worths: Sequence[Asking],
    unlocked: Mapping[tuple[str, str], Collection[str]] = MappingProxyType({}),
) -> Clearing | None:
    """The open question that would clear a remedy that is held back, or None.

    Of the questions with an answer that would put this remedy first, the one that stands first in
    ``worths`` (the best one, if they come as ``asking.Ahead`` ranks them). If there is none, the
    first question with an answer after which the remedy may be advised at all: ``unlocked`` tells,
    by (question, answer), what ``advisable`` says then.
    """
    name = held.remedy.id
    for worth in worths:
        answers = tuple(answer for answer, first in worth.leads_to if first == name)
        if answers:
            return Clearing(worth.part.id, answers, first=True)
    for worth in worths:
        part = worth.part.id
        answers = tuple(a for a, _ in worth.leads_to if name in unlocked.get((part, a), ()))
        if answers:
            return Clearing(part, answers, first=False)
    return None
