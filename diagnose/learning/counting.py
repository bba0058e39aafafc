"""Tallies of confirmed cases: how often each answer was met under each cause, and each cause.

Counts are whole numbers, so neither the order of the cases nor adding and taking away again leaves
a trace. A case with two true causes is set aside here: nobody can say which of them an answer
came from. It still counts in the reports.

A look that nobody took is left out of its own tally only. That is fair as long as whether it was
taken hung on what else had been told, as it does when the house asks, and not on the answer itself.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from diagnose.knowledge.book import Dough, Reading, Sign
from diagnose.reasoning.likelihood import asked_parts
from diagnose.reasoning.posterior import in_play
from diagnose.reasoning.words import SOMETHING_ELSE

from .cases import POOL, ConfirmedCase

TWO_CAUSES: Final = "more than one true cause"
UNKNOWN_CAUSE: Final = "its cause is not in this book"
UNKNOWN_STAGE: Final = "its stage is not in this book"
OTHER_DOUGH: Final = "another dough"

Answered = Mapping[tuple[str, str], Mapping[str, int]]
"""(look, cause) -> answer -> how many cases."""
Met = Mapping[tuple[str, str], Mapping[str, int]]
"""(stage, elevation band) -> cause -> how many cases."""


@dataclass(frozen=True)
class Counts:
    """What was counted, and what was not and why (case id, reason), by id."""

    ids: frozenset[str]
    """The cases that were counted."""
    answered: Answered
    met: Met
    set_aside: tuple[tuple[str, str], ...] = ()


def elevation_look(dough: Dough) -> str | None:
    """The sign or reading that tells the elevation, or None.

    It has no counts of its own: how common a cause is by elevation says the same thing.
    """
    parts: tuple[Sign | Reading, ...] = (*dough.signs, *dough.readings)
    return next((part.id for part in parts if part.given_by == "elevation"), None)


def why_aside(dough: Dough, case: ConfirmedCase) -> str | None:
    """Why a case cannot be counted for this dough, or None if it can."""
    if case.dough != dough.id:
        return OTHER_DOUGH
    if len(case.causes) > 1:
        return TWO_CAUSES
    if case.causes[0] not in {SOMETHING_ELSE, *(cause.id for cause in dough.causes)}:
        return UNKNOWN_CAUSE
    if not in_play(dough, case.stage):
        return UNKNOWN_STAGE
    return None


class Tally:
    """Counts of one dough on the way: cases are put in one by one."""

    def __init__(self, dough: Dough) -> None:
        self._dough = dough
        skipped = elevation_look(dough)
        self._answers = {a.id: a.answers for a in asked_parts(dough) if a.id != skipped}
        self._stages: dict[str, frozenset[str]] = {}
        self._ids: set[str] = set()
        self._answered: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        self._met: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        self._aside: list[tuple[str, str]] = []

    def put(self, case: ConfirmedCase) -> None:
        """Count one case, or set it aside and keep the reason."""
        why = why_aside(self._dough, case)
        if why is not None:
            self._aside.append((case.id, why))
            return
        self._ids.add(case.id)
        for row, answer in self.rows_of(case):
            self._answered[row][answer] += 1
        for place, cause in self.places_of(case):
            self._met[place][cause] += 1

    def counts(self) -> Counts:
        """What was counted so far."""
        return Counts(
            frozenset(self._ids),
            {row: dict(tally) for row, tally in self._answered.items()},
            {place: dict(tally) for place, tally in self._met.items()},
            tuple(sorted(self._aside)),
        )

    def rows_of(self, case: ConfirmedCase) -> list[tuple[tuple[str, str], str]]:
        """((look, cause), answer) for every answer that the book knows."""
        cause = case.causes[0]
        return [
            ((look, cause), answer)
            for look, answer in case.answers.items()
            if answer in self._answers.get(look, ())
        ]

    def places_of(self, case: ConfirmedCase) -> list[tuple[tuple[str, str], str]]:
        """((stage, band), cause): the pool, and the band if the elevation is known.

        A cause that the book does not expect at this stage is not counted among those it does.
        """
        cause, stage = case.causes[0], case.stage
        if stage not in self._stages:
            names = (cause.id for cause in in_play(self._dough, stage))
            self._stages[stage] = frozenset((*names, SOMETHING_ELSE))
        if cause not in self._stages[stage]:
            return []
        return [((stage, band), cause) for band in dict.fromkeys((POOL, case.band))]


def counted(dough: Dough, cases: Iterable[ConfirmedCase]) -> Counts:
    """Every case of a list, each once; the order makes no difference.

    Raises:
        ValueError: two cases have one id.
    """
    tally = Tally(dough)
    seen: set[str] = set()
    for case in cases:
        if case.id in seen:
            raise ValueError(f"Case {case.id} is in the list twice; merge doubles before counting")
        seen.add(case.id)
        tally.put(case)
    return tally.counts()


Place = tuple[str, str]


def take_one(tallies: dict[Place, Mapping[str, int]], place: Place, name: str) -> None:
    """Take one count away again, in a copy; nothing is left of a tally that gets empty."""
    left = {**tallies[place], name: tallies[place][name] - 1}
    kept = {key: count for key, count in left.items() if count}
    if kept:
        tallies[place] = kept
    else:
        del tallies[place]
