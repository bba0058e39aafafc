"""Practising on a case whose cause is known: what is hidden, what a look costs, who was right.

Pure functions of situations and answers. A learner is given a case as the cook brought it: the
kitchen, what went in, the step, what had been tried. Whatever was seen stays hidden until the
learner asks for it, and every look costs the minutes that the book says such a look takes. Nobody
invents an answer: what the cook of that case did not look at cannot be had.

How hard a case is follows from how well its cause can be told apart from the others once
everything is told; what was missed comes back after 2, 4, 8, 16 and 32 other cases.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from .knowledge.book import Dough, Reading, Sign
from .knowledge.diagnosis import Diagnosis
from .knowledge.situation import Situation
from .knowledge.teaching import Difficulty
from .reasoning.words import EFFORT_MINUTES

EASY_FROM, MIDDLING_FROM = 0.5, 0.15
"""Margins from which a case is easy, and middling; house rule, the same as for teaching cases."""

BOXES = 5
"""A case that was missed goes through so many boxes before it is let go; house rule."""


# --- the case as the cook brought it, and what is looked at ---


def opening(whole: Situation) -> Situation:
    """A situation without anything that was seen or measured: what a learner is given."""
    return looked_at(whole, ())


def looked_at(whole: Situation, looks: Collection[str]) -> Situation:
    """A situation in which of all that was seen and measured only these looks are known."""
    return whole.model_copy(
        update={
            "signs": {name: said for name, said in whole.signs.items() if name in looks},
            "readings": {name: n for name, n in whole.readings.items() if name in looks},
            "not_looked": frozenset(),
        }
    )


def can_be_asked(dough: Dough, whole: Situation) -> tuple[Sign | Reading, ...]:
    """What a cook can look at in this step, in the book's order, but what the form has told.

    Also what the cook of this case did not look at: which looks were taken is hidden too.
    """
    told = {*whole.signs, *whole.readings}
    return tuple(
        part
        for part in _parts(dough)
        if whole.stage in part.stages and (part.given_by is None or part.id in told)
    )


def known_looks(whole: Situation, asked: Sequence[str]) -> tuple[str, ...]:
    """Those of the looks asked for that this case can answer, each once, in the order asked."""
    return tuple(
        dict.fromkeys(name for name in asked if name in whole.signs or name in whole.readings)
    )


def minutes_spent(dough: Dough, whole: Situation, asked: Sequence[str]) -> float:
    """The minutes that the looks took: those the case can answer, by the effort in the book.

    A glance takes 0.2, a measurement 1.5 minutes (`EFFORT_MINUTES`, a house rule). What nobody
    looked at costs nothing, for nothing was done.
    """
    efforts = {part.id: part.effort for part in _parts(dough)}
    looks = known_looks(whole, asked)
    return sum(EFFORT_MINUTES[efforts[name]] for name in looks if name in efforts)


def _parts(dough: Dough) -> tuple[Sign | Reading, ...]:
    return (*dough.signs, *dough.readings)


# --- how hard it is ---


def margin(chances: Mapping[str, float], true: Collection[str]) -> float:
    """How far the true causes stand out, from -1 to 1, by the chances with all looks told.

    The chances of the true causes together, less that of the likeliest other one. 1: certain;
    0: something else is as likely; below 0: something else is likelier.

    >>> margin({"undercooked-paste": 0.7, "flour-over": 0.2, "lumps": 0.1}, {"undercooked-paste"})
    0.5
    """
    right = sum(chance for name, chance in chances.items() if name in true)
    wrong = max((chance for name, chance in chances.items() if name not in true), default=0.0)
    return round(right - wrong, 9)


def difficulty(margin: float) -> Difficulty:
    """How hard a case of this margin is: the further its cause stands out, the easier.

    >>> difficulty(0.8), difficulty(0.3), difficulty(-0.2)
    ('easy', 'middling', 'hard')
    """
    if margin >= EASY_FROM:
        return "easy"
    return "middling" if margin >= MIDDLING_FROM else "hard"


def difficulty_of(told: Diagnosis, true: Collection[str]) -> Difficulty:
    """How hard a case is, from what the book says once everything in it is told."""
    return difficulty(margin({cause.id: cause.chance for cause in told.causes}, true))


# --- who was right ---


@dataclass(frozen=True, slots=True)
class Verdict:
    """An answer held against what was true. ``remedy``: the cause may be right without it."""

    cause: bool
    remedy: bool

    @property
    def right(self) -> bool:
        """Both right: only then is a case not missed."""
        return self.cause and self.remedy


def verdict(
    cause: str, remedy: str, causes: Collection[str], first: str | None, told: Diagnosis
) -> Verdict:
    """Judge an answer: one of the true causes, and what ought to come first.

    Right as a first remedy is the one named with the true cause; if none was named there
    (``first`` is None), the one the book puts first once everything is told.
    """
    wanted = first if first is not None else first_of(told)
    return Verdict(cause in causes, remedy == wanted)


def first_of(told: Diagnosis) -> str | None:
    """What a diagnosis puts first."""
    return told.plan[0].remedy if told.plan else None


# --- what comes back ---


@dataclass(frozen=True, slots=True)
class Missed:
    """A case that was missed: its box, 1 to 5, and after how many cases in all it comes back."""

    name: str
    box: int
    due: int


@dataclass(frozen=True, slots=True)
class Progress:
    """What one learner has practised; kept by the learner alone.

    ``done`` and ``right`` count cases answered; ``last`` is the one answered last.
    """

    done: int = 0
    right: int = 0
    last: str = ""
    missed: tuple[Missed, ...] = ()

    def due(self) -> str | None:
        """The missed case to come back now: the longest overdue, but not the last one again."""
        ready = [one for one in self.missed if one.due <= self.done and one.name != self.last]
        return min(ready, key=lambda one: (one.due, one.name)).name if ready else None

    def answered(self, name: str, right: bool) -> Progress:
        """What it is after an answer. The same case again at once is a reload: nothing changes.

        A miss puts a case into box 1. A right answer puts a missed one into the next box, and out
        of the last. From box n it comes back after 2 to the n other cases: 2, 4, 8, 16, 32.
        """
        if name == self.last:
            return self
        done = self.done + 1
        before = next((one.box for one in self.missed if one.name == name), 0)
        box = 1 if not right else before + 1 if before else 0
        missed = tuple(one for one in self.missed if one.name != name)
        if 0 < box <= BOXES:
            missed = (*missed, Missed(name, box, done + 2**box))
        return replace(self, done=done, right=self.right + right, last=name, missed=missed)
