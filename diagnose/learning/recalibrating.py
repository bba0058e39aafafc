"""Recalibration: the written words count as so many cases, and confirmed cases are added to them.

For a row of the table, with n cases of the cause in which the look was taken::

    P(answer | cause) = (m * written P(answer | cause) + cases with that answer) / (m + n)

the mean of a Dirichlet prior of weight m after n observations, which with an even written row is
Laplace's rule of succession (Laplace, Théorie analytique des probabilités, 1812; from memory).
m = 20 is a house rule, measured on made-up domains: where the words are off by half a nat or more
the log loss of cases held out was never worse with learning than without, from the first cases on.
Words that happen to be true to a fifth of a nat lose up to 0.03 nats by it. It is to be measured
again once there are a few hundred confirmed cases.

How common the causes of a stage are is counted the same way, apart for low and for high kitchens;
there the words count as 40 cases, as they are shared out over a dozen causes, not two or three
answers (house rule, measured with the above).
A case of unknown elevation counts in the pool of all only, and a situation of unknown elevation
is judged by the pool. Where the book has rows about elevation, the written share in a band is
that of the words with those rows, and the rows speak as written: so height is counted once.

Only rows that an author wrote are moved. A strength where none is written is for a person to
write; ``mining`` offers it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final

from diagnose.knowledge.book import Dough, EvidenceRow
from diagnose.reasoning.likelihood import Table, Taught, TaughtRows, asked_parts, retaught, tables
from diagnose.reasoning.posterior import in_play, log_priors, softmax
from diagnose.reasoning.words import FACTOR, PRIOR, SAYS_NOTHING, SOMETHING_ELSE

from .cases import HIGH, HIGH_FROM_M, LOW, POOL, ConfirmedCase, band_of
from .counting import Counts, Tally, counted, elevation_look, take_one

HEIGHT_OF: Final = {LOW: HIGH_FROM_M / 2, HIGH: HIGH_FROM_M * 2}
"""A kitchen in each band, in metres, to ask the book's rows on elevation about."""
PSEUDO_CASES: Final = 20.0
"""How many confirmed cases the written words of a row count as (m above)."""
PSEUDO_CASES_COMMON: Final = 40.0
"""How many cases the words for how common the causes of a stage are count as, together."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One answer of one row: what was written, seen, and is used now."""

    answer: str
    written: str | None
    """The author's word, or None where the author left the answer out."""
    written_chance: float
    seen: int
    chance: float
    """P(answer | cause) as used now."""
    factor: float
    """Factor on the odds now, on the scale of the author's words."""
    word: str
    """The word nearest to that factor."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table with what confirmed cases made of it."""

    id: str
    look: str
    cause: str
    cases: int
    """Confirmed cases of the cause in which the look was taken."""
    cells: tuple[Cell, ...]

    def says(self, cell: Cell) -> str:
        """What happened to one word, to be shown beside it."""
        written = cell.written or SAYS_NOTHING
        many = "1 case" if self.cases == 1 else f"{self.cases} cases"
        return f"written: {written}; after {many}: {cell.word} (× {factor_says(cell.factor)})"


@dataclass(frozen=True, slots=True)
class Common:
    """How common one cause is at a stage, in one band: written, seen, used now."""

    stage: str
    band: str
    cause: str
    written: str
    written_share: float
    """Share among the causes of the stage that the words (and rows on elevation) give it."""
    seen: int
    of: int
    """Confirmed cases at the stage, in the band."""
    share: float
    """Share used now."""
    word: str
    """The word for how common that fits the share now."""


def factor_says(factor: float) -> str:
    """A factor as people write it.

    >>> factor_says(3.04), factor_says(1 / 3)
    ('3', '1/3')
    """
    if factor >= 1:
        return f"{factor:.2g}"
    return f"1/{1 / factor:.2g}"


def nearest_word(factor: float) -> str:
    """The word whose factor is nearest on the log scale; "says nothing" is a factor of 1.

    >>> nearest_word(2.6), nearest_word(1.1)
    ('moderate for', 'says nothing')
    """
    scale: dict[str, float] = {SAYS_NOTHING: 1.0, **dict(FACTOR.items())}
    return min(scale, key=lambda word: abs(math.log(factor) - math.log(scale[word])))


def nearest_commonness(weight: float) -> str:
    """The word for how common whose weight is nearest on the log scale.

    >>> nearest_commonness(5.0)
    'common'
    """
    return min(PRIOR, key=lambda word: abs(math.log(weight) - math.log(PRIOR[word])))


def factors(
    row: EvidenceRow, written: Mapping[str, float], now: Mapping[str, float]
) -> dict[str, float]:
    """Factors on the odds that chances amount to, on the scale on which the row was written.

    Chances fix factors only up to a common multiple. It is chosen so that the answers the author
    left out, taken together, stand at 1 as they were written; a row that names every answer keeps
    its written level. Unmoved chances give the words back.
    """
    free = [answer for answer in written if answer not in row.answers] or list(written)
    level = math.fsum(now[a] for a in free) / math.fsum(written[a] for a in free)
    word = {a: FACTOR[row.answers[a]] if a in row.answers else 1.0 for a in written}
    return {a: word[a] * now[a] / written[a] / level for a in written}


@dataclass(frozen=True, eq=False)
class Words:
    """What the author wrote about one dough, made into numbers once."""

    dough: Dough
    tables: Mapping[str, Table]
    elevation: str | None
    """The look that tells the elevation; its rows are never moved."""
    tally: Tally


@dataclass(frozen=True)
class Learned:
    """What the confirmed cases of one dough taught: immutable, and equal for the same cases.

    Made by ``learn``.
    """

    counts: Counts
    pseudo_cases: float
    pseudo_cases_common: float
    words: Words = field(compare=False, repr=False)

    @property
    def dough(self) -> Dough:
        """The dough whose words were moved."""
        return self.words.dough

    @property
    def cases(self) -> int:
        """How many confirmed cases it rests on."""
        return len(self.counts.ids)

    @cached_property
    def rows(self) -> Mapping[str, Row]:
        """Every written row that is counted, by its id, in the book's order of looks."""
        return {
            row.id: self.row(look, cause)
            for look, table in self.words.tables.items()
            if look != self.words.elevation
            for cause, row in table.rows.items()
        }

    @cached_property
    def taught(self) -> TaughtRows:
        """The rows that cases bear on, as the reasoning takes them; others stand as written."""
        return {name: _taught(row) for name, row in self.rows.items() if row.cases}

    def row(self, look: str, cause: str) -> Row:
        """One written row: written, seen, used now.

        Raises:
            KeyError: there is no such row, or it is about the elevation.
        """
        if look == self.words.elevation:
            raise KeyError(look)
        table = self.words.tables[look]
        author = table.rows[cause]
        seen = self.counts.answered.get((look, cause), {})
        m, n = self.pseudo_cases, sum(seen.values())
        was = {answer: math.exp(log) for answer, log in table.log_chance[cause].items()}
        now = {a: (m * chance + seen.get(a, 0)) / (m + n) for a, chance in was.items()}
        worth = factors(author, was, now)
        cells = tuple(
            Cell(
                answer=a,
                written=author.answers.get(a),
                written_chance=was[a],
                seen=seen.get(a, 0),
                chance=now[a],
                factor=worth[a],
                word=nearest_word(worth[a]),
            )
            for a in was
        )
        return Row(author.id, look, cause, n, cells)

    def common(self, stage: str, band: str = POOL) -> tuple[Common, ...]:
        """How common the causes of a stage are in a band, in the book's order."""
        words = {cause.id: cause.how_common for cause in in_play(self.dough, stage)}
        words[SOMETHING_ELSE] = "occasional"
        priors = log_priors(in_play(self.dough, stage))
        shares = softmax({name: log + self._height(name, band) for name, log in priors.items()})
        seen = self.counts.met.get((stage, band), {})
        m, of = self.pseudo_cases_common, sum(seen.values())
        whole = math.fsum(math.exp(log) for log in priors.values())
        found = []
        for name, share in shares.items():
            # with nothing counted, the very number that is written
            now = (m * share + seen.get(name, 0)) / (m + of) if of else share
            word = nearest_commonness(now * whole) if of else words[name]
            found.append(
                Common(stage, band, name, words[name], share, seen.get(name, 0), of, now, word)
            )
        return tuple(found)

    def log_weights(self, stage: str, elevation_m: float | None) -> Mapping[str, float]:
        """Log weights of the causes of a stage before any look, for ``belief.prior``.

        With nothing counted they are those of the words. The rows on elevation are left out:
        they are added where the looks are.
        """
        place = stage, band_of(elevation_m)
        if place not in self._weights:
            # worked out once; two threads at the same time find the same
            priors = log_priors(in_play(self.dough, stage))
            self._weights[place] = {
                c.cause: priors[c.cause] + math.log(c.share / c.written_share)
                for c in self.common(*place)
            }
        return self._weights[place]

    @cached_property
    def _weights(self) -> dict[tuple[str, str], Mapping[str, float]]:
        return {}

    def without(self, case: ConfirmedCase) -> Learned:
        """What the other cases teach, so that no case scores itself.

        A case that was counted must be given unchanged; any other changes nothing.
        """
        if case.id not in self.counts.ids:
            return self
        answered, met = dict(self.counts.answered), dict(self.counts.met)
        for row, answer in self.words.tally.rows_of(case):
            take_one(answered, row, answer)
        for place, cause in self.words.tally.places_of(case):
            take_one(met, place, cause)
        ids = self.counts.ids - {case.id}
        counts = replace(self.counts, ids=ids, answered=answered, met=met)
        return replace(self, counts=counts)

    def tables_for(self, case: ConfirmedCase, made: Mapping[str, Table]) -> Mapping[str, Table]:
        """Tables made of all cases, with the rows that one case bears on made anew from these.

        With ``without`` this leaves a case out at the price of its own rows only.
        """
        anew: dict[str, Table] = {}
        for (look, cause), _ in self.words.tally.rows_of(case):
            if cause in made[look].rows:
                row = self.row(look, cause)
                anew[look] = retaught(made[look], {row.id: _taught(row)})
        return {**made, **anew}

    def _height(self, cause: str, band: str) -> float:
        """What the rows on elevation say of a cause in a band, in nats."""
        if self.words.elevation is None or band == POOL:
            return 0.0
        table = self.words.tables[self.words.elevation]
        # one kitchen stands for all of its band
        answer = table.asked.answer_for(HEIGHT_OF[band])
        return 0.0 if answer is None else table.shift(cause, answer)


def _taught(row: Row) -> dict[str, Taught]:
    return {cell.answer: Taught(cell.chance, cell.word, row.says(cell)) for cell in row.cells}


def learn(
    dough: Dough,
    cases: Iterable[ConfirmedCase],
    *,
    pseudo_cases: float = PSEUDO_CASES,
    pseudo_cases_common: float = PSEUDO_CASES_COMMON,
) -> Learned:
    """What confirmed cases teach about one dough; the order of the cases makes no difference.

    Cases that cannot be counted are listed with the reason in ``counts.set_aside``.

    Raises:
        ValueError: two cases have one id, or a number of pseudo-cases is not above 0.
    """
    for name, many in (
        ("pseudo_cases", pseudo_cases),
        ("pseudo_cases_common", pseudo_cases_common),
    ):
        if not many > 0:
            raise ValueError(f"{name} is {many}; it must be above 0, or the words are lost")
    words = Words(dough, tables(dough), elevation_look(dough), Tally(dough))
    return Learned(counted(dough, cases), pseudo_cases, pseudo_cases_common, words)


def refuse_other_words(learned: Learned, dough: Dough) -> None:
    """Make sure that what was learned belongs to the words it will be used with.

    Raises:
        ValueError: the evidence, how common the causes are, or the name of the dough differ.
    """
    about = learned.dough
    if about is dough:
        return
    same = (
        about.id == dough.id
        and about.evidence == dough.evidence
        and about.causes == dough.causes
        and asked_parts(about) == asked_parts(dough)
    )
    if not same:
        raise ValueError(
            f"What was learned about {about.id} belongs to other words than those of {dough.id}"
            " in this book; learn from the cases again with this book"
        )
