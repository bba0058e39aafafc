"""Everything that confirmed cases suggest, as one list, each with a name that stays its own.

The name says what a suggestion is about and the digest what it says of it, so that one that was
dismissed can be told from one that has more cases behind it now.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from diagnose.knowledge.book import Dough
from diagnose.reasoning.likelihood import Table

from .cases import ConfirmedCase
from .mining import Pattern, bits_of, pairs, patterns, shortlist
from .noticing import Noticed, noticed
from .recalibrating import Learned, Row
from .suggesting import (
    Contradicted,
    Draft,
    Inseparable,
    contradicted_rules,
    drafts,
    inseparable,
    turned_rows,
)

Kind = Literal["pattern", "contradicted", "turned", "together", "word"]
About = Draft | Contradicted | Row | Inseparable | Noticed


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One thing that cases suggest. It changes nothing until a person makes it a revision."""

    id: str
    kind: Kind
    about: About
    digest: str
    """SHA-256 of the counts behind it."""


@dataclass(frozen=True, slots=True)
class Offers:
    """What some confirmed cases suggest."""

    cases: int
    judged: int
    """In how many of them it was worked out which rules spoke."""
    suggestions: tuple[Suggestion, ...]
    """Patterns, contradictions, turned words, causes that nothing parts, words; best first."""
    written: int
    """Patterns that the book has already, and so are left out."""

    def named(self, name: str) -> Suggestion | None:
        """The suggestion of this name."""
        return next((one for one in self.suggestions if one.id == name), None)


def offers(
    dough: Dough,
    tables: Mapping[str, Table],
    learned: Learned,
    cases: Sequence[ConfirmedCase],
    spoke: Mapping[str, Collection[str]],
) -> Offers:
    """What the confirmed cases of a dough suggest.

    ``spoke``: by case id, the rules that spoke in it, for the cases in which that was worked out.
    """
    bits = bits_of(cases)
    found = shortlist((*patterns(bits), *pairs(bits)), len(cases))
    made = drafts(dough, tables, found)
    new = [draft for draft in made if draft.written is None]
    suggestions = [
        *(_named("pattern", draft.id, draft, draft.pattern.whole) for draft in new),
        *(
            _named("contradicted", one.rule, one, one.table)
            for one in contradicted_rules(dough, cases, spoke)
        ),
        *(
            _named("turned", row.id.replace("/", "-"), row, (row.cases, row.cells))
            for row in turned_rows(learned)
        ),
        *(
            _named("together", "-".join((one.stage, *one.causes)), one, one)
            for one in inseparable(dough, tables, bits)
            if _met(one, bits.causes)
        ),
        *(_named("word", one.word, one, one.cases) for one in noticed(dough, cases)),
    ]
    return Offers(len(cases), len(spoke), tuple(suggestions), len(made) - len(new))


def _named(kind: Kind, name: str, about: About, counts: object) -> Suggestion:
    digest = hashlib.sha256(repr(counts).encode()).hexdigest()
    return Suggestion(f"{kind}-{name}", kind, about, digest)


def _met(one: Inseparable, causes: Mapping[str, int]) -> bool:
    """Whether both causes were ever confirmed: pairs that nobody met would bury the others."""
    return all(causes.get(name) for name in one.causes)


def by_luck(pattern: Pattern | Contradicted) -> str:
    """How often luck alone would give such a table, in words; before correcting for how many
    were looked at.

    >>> from diagnose.learning.exactly import TwoByTwo
    >>> by_luck(Contradicted("r", "c", TwoByTwo(1, 1, 1, 1), math.log(0.002)))
    'about once in 500 tries'
    """
    chance = math.exp(pattern.log_chance)
    if chance < 1e-6:
        return "less than once in a million tries"
    return f"about once in {1 / chance:,.0f} tries" if chance < 0.5 else "in most tries"


def set_aside(pattern: Pattern) -> str | None:
    """What explaining away did to a pattern, as a sentence; None if it did nothing."""
    left, whole = pattern.table, pattern.whole
    if left == whole:
        return None
    gone = whole.cases - left.cases
    return (
        f"A stronger cause accounts for this answer in part. Its {gone} cases were set aside; "
        f"among the other {left.cases} it still holds: {left.both} of {left.both + left.only_seen} "
        f"with this answer, {left.only_true} of {left.only_true + left.neither} without."
    )
