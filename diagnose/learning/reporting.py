"""How well the house did, from confirmed cases: pure counts of plain records.

What is judged is either what was thought at the time (``as_thought``) or what the house would say
now with the case itself left out of the learning (``diagnose.rejudging``), so that no case scores
itself. A share over no cases at all is None, never nought.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from diagnose.knowledge.book import Dough
from diagnose.reasoning.posterior import about, helps

from .cases import ConfirmedCase, right_remedies

BINS: Final = 10
FEW_CASES: Final = 5
"""Below so many confirmed cases the library is thin for a cause; house rule."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One case with what the house says of it."""

    case: ConfirmedCase
    chances: Mapping[str, float]
    """cause -> chance, the causes not named sharing what is missing from one."""
    first: str | None
    """The remedy that comes first, or None if that was not worked out."""
    rests_on: tuple[str, ...] | None = None
    """The questions asked without whose answer another remedy would come first, or None if that
    was not worked out."""
    spoke: frozenset[str] | None = None
    """The rules that spoke, or None if that was not worked out."""

    @property
    def top(self) -> str | None:
        """The likeliest cause; of equals the first by id; None if nothing was thought."""
        return min(self.chances, key=lambda name: (-self.chances[name], name), default=None)


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many."""

    right: int
    of: int

    @property
    def share(self) -> float | None:
        """Between 0 and 1; None of none."""
        return self.right / self.of if self.of else None

    def between(self) -> tuple[float, float] | None:
        """Where the true share may lie: Wilson's interval, 95 %; None of none.

        Source: E. B. Wilson, Journal of the American Statistical Association 22 (1927) 209-212;
        formula from memory.

        >>> tuple(round(end, 3) for end in Share(8, 10).between())
        (0.49, 0.943)
        """
        if not self.of:
            return None
        z2 = 1.959964**2
        middle = (self.right + z2 / 2) / (self.of + z2)
        spread = self.right * (self.of - self.right) / self.of + z2 / 4
        half = math.sqrt(z2 * spread) / (self.of + z2)
        return max(middle - half, 0.0), min(middle + half, 1.0)


@dataclass(frozen=True, slots=True)
class Bin:
    """One tenth of the scale of chances: how often first causes with such a chance were right."""

    low: float
    high: float
    said: float | None
    """Mean chance of the first causes in it; None if there are none."""
    right: Share


@dataclass(frozen=True, slots=True)
class Confused:
    """How often one true cause had another, or itself, put first."""

    true: str
    first: str
    cases: int


@dataclass(frozen=True, slots=True)
class Asked:
    """A question, how often it was put, and what came of it."""

    look: str
    asked: int
    answered: int
    decided: int
    """Times that the first remedy would have been another without its answer."""


@dataclass(frozen=True, slots=True)
class Worked:
    """A remedy, how often it was tried, and how it went."""

    remedy: str
    tried: int
    """Times tried; "cannot" is not among them."""
    worked: int
    worse: int
    cannot: int
    expected: float | None
    """Share that the book's words promise for the confirmed causes; None if never tried."""

    @property
    def disappoints(self) -> bool:
        """Whether even the upper end of what the true share may be lies below the promise."""
        ends = Share(self.worked, self.tried).between()
        return ends is not None and self.expected is not None and ends[1] < self.expected


@dataclass(frozen=True, slots=True)
class Spoken:
    """A rule about a cause: in how many confirmed cases it spoke, and in how many rightly."""

    rule: str
    cause: str
    rightly: Share


def as_thought(cases: Iterable[ConfirmedCase]) -> list[Judged]:
    """What was thought and advised at the time, of the cases that tell."""
    return [Judged(c, c.thought, c.advised) for c in cases if c.thought or c.advised]


def first_cause_right(judged: Iterable[Judged]) -> Share:
    """How often the likeliest cause was a true one."""
    hits = [j.top in j.case.causes for j in judged if j.chances]
    return Share(sum(hits), len(hits))


def first_remedy_right(dough: Dough, judged: Iterable[Judged]) -> Share:
    """How often the first remedy was a right one; cases that name none are left out."""
    hits = []
    for j in judged:
        right = right_remedies(dough, j.case)
        if right and j.first is not None:
            hits.append(j.first in right)
    return Share(sum(hits), len(hits))


def calibration(judged: Iterable[Judged]) -> tuple[Bin, ...]:
    """Ten bins of the chance of the first cause; a chance of 1 lies in the last."""
    said: list[list[float]] = [[] for _ in range(BINS)]
    right = [0] * BINS
    for j in judged:
        if j.top is None:
            continue
        chance = j.chances[j.top]
        # a chance of 0.3 is a little less than 3 tenths in binary, and belongs above
        place = min(int(round(chance * BINS, 9)), BINS - 1)
        said[place].append(chance)
        right[place] += j.top in j.case.causes
    return tuple(
        Bin(
            n / BINS,
            (n + 1) / BINS,
            math.fsum(said[n]) / len(said[n]) if said[n] else None,
            Share(right[n], len(said[n])),
        )
        for n in range(BINS)
    )


def brier(judged: Iterable[Judged]) -> float | None:
    """Mean squared distance of all chances from what was true, 0 best, 2 worst; None of none.

    Cases with one true cause only. Source: G. W. Brier, Monthly Weather Review 78 (1950) 1-3.
    """
    scores = []
    for j in _single(judged):
        (true,) = j.case.causes
        missed = math.fsum(c * c for name, c in j.chances.items() if name != true)
        scores.append(missed + (1 - j.chances.get(true, 0.0)) ** 2)
    return math.fsum(scores) / len(scores) if scores else None


def log_loss(judged: Iterable[Judged]) -> float | None:
    """Mean of minus the logarithm of the chance given to the true cause, in nats; None of none.

    Cases with one true cause only. A true cause given no chance at all makes it infinite. Source:
    I. J. Good, Journal of the Royal Statistical Society B 14 (1952) 107-114; from memory.
    """
    losses = []
    for j in _single(judged):
        chance = j.chances.get(j.case.causes[0], 0.0)
        losses.append(-math.log(chance) if chance > 0 else math.inf)
    return math.fsum(losses) / len(losses) if losses else None


def confusion(judged: Iterable[Judged]) -> tuple[Confused, ...]:
    """True cause against first cause, the most frequent first.

    A case with several true causes counts under each; where one of them was put first, that is
    right for all of them.
    """
    tally: Counter[tuple[str, str]] = Counter()
    for j in judged:
        if j.top is not None:
            hit = j.top in j.case.causes
            tally.update((true, true if hit else j.top) for true in j.case.causes)
    ranked = sorted(tally.items(), key=lambda item: (-item[1], item[0]))
    return tuple(Confused(true, first, count) for (true, first), count in ranked)


def questions(judged: Iterable[Judged]) -> tuple[Asked, ...]:
    """Every question that was asked, those that never decided anything first, most asked first.

    A question decided if without its answer another remedy would have come first. Cases for which
    that was not worked out are left out.
    """
    asked: Counter[str] = Counter()
    answered: Counter[str] = Counter()
    decided: Counter[str] = Counter()
    for j in judged:
        if j.rests_on is None:
            continue
        for look in dict.fromkeys(j.case.asked):
            asked[look] += 1
            answered[look] += look in j.case.answers
            decided[look] += look in j.rests_on
    found = [Asked(look, asked[look], answered[look], decided[look]) for look in asked]
    return tuple(sorted(found, key=lambda q: (q.decided > 0, -q.asked, q.look)))


def never_helped(judged: Iterable[Judged]) -> tuple[Asked, ...]:
    """The questions whose answer never decided the first remedy."""
    return tuple(question for question in questions(judged) if not question.decided)


def rules(dough: Dough, judged: Iterable[Judged]) -> tuple[Spoken, ...]:
    """How every rule about a cause spoke, in the book's order; rules keep the written strength.

    A rule that points away from a cause, or rules it out, spoke rightly if the cause was not there.
    """
    spoke: Counter[str] = Counter()
    right: Counter[str] = Counter()
    about_a_cause = [(rule, cause) for rule in dough.rules if (cause := about(rule)) is not None]
    for j in judged:
        for rule, cause in about_a_cause:
            if j.spoke is not None and rule.id in j.spoke:
                spoke[rule.id] += 1
                right[rule.id] += (cause in j.case.causes) is (rule.points_to is not None)
    return tuple(Spoken(r.id, c, Share(right[r.id], spoke[r.id])) for r, c in about_a_cause)


def remedies(dough: Dough, cases: Iterable[ConfirmedCase]) -> tuple[Worked, ...]:
    """Every remedy that was tried, the furthest below its promise first."""
    by_id = {cause.id: cause for cause in dough.causes}
    results: dict[str, Counter[str]] = {}
    promised: dict[str, list[float]] = {}
    for case in cases:
        for tried in case.tried:
            results.setdefault(tried.remedy, Counter())[tried.result] += 1
            if tried.result != "cannot":
                best = max(helps(tried.remedy, by_id.get(name)) for name in case.causes)
                promised.setdefault(tried.remedy, []).append(best)
    found = []
    for remedy, tally in results.items():
        words = promised.get(remedy, [])
        expected = math.fsum(words) / len(words) if words else None
        found.append(
            Worked(remedy, len(words), tally["worked"], tally["worse"], tally["cannot"], expected)
        )
    return tuple(sorted(found, key=lambda w: (-_shortfall(w), w.remedy)))


def thin(dough: Dough, cases: Sequence[ConfirmedCase]) -> tuple[tuple[str, int], ...]:
    """The causes with fewer than five confirmed cases, with how many, in the book's order."""
    met = Counter(name for case in cases for name in case.causes)
    return tuple((c.id, met[c.id]) for c in dough.causes if met[c.id] < FEW_CASES)


def _single(judged: Iterable[Judged]) -> list[Judged]:
    return [j for j in judged if j.chances and len(j.case.causes) == 1]


def _shortfall(worked: Worked) -> float:
    if worked.expected is None:
        return -1.0
    return worked.expected - worked.worked / worked.tried
