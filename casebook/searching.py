"""Finding cases: in the cook's words, and by what can be ticked. One function, two databases.

A cook's text is never query syntax: it is cut into words, and each is looked for as the beginning
of a word, in its stem or in another word for the same. Of cases that hold all the words the best
come first, and without words the newest. Cases that were found to be the same as another are left
out.
"""

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from sqlalchemy import (
    ColumnElement,
    FromClause,
    Integer,
    Select,
    and_,
    exists,
    func,
    literal_column,
    select,
    text,
)
from sqlalchemy.dialects import postgresql

from .cases import Head, head_from
from .connecting import Store
from .preparing import folded
from .problems import NotStorable
from .tables import case_fact, kept_case

__all__ = ["BANDS", "COUNTED", "PAGE", "Band", "Found", "Results", "search_cases"]

PAGE = 8
"""Cases on a page: with their sentences they fill it."""
COUNTED = 1_000
"""Beyond this many it only says that there are more; nobody turns fifty pages."""
MOST_WORDS = 12
LONGEST_WORD = 40

Band = Literal["low", "middle", "high"]
BANDS: tuple[Band, ...] = ("low", "middle", "high")


@dataclass(frozen=True, slots=True)
class Found:
    """A case that was found: its head, and a sentence of it that holds one of the words."""

    head: Head
    snippet: str

    @property
    def id(self) -> str:
        return self.head.id

    @property
    def title(self) -> str:
        return self.head.title


@dataclass(frozen=True, slots=True)
class Results:
    """One page of what was found. ``total`` is exact up to 1,000; ``more``: there are others."""

    rows: tuple[Found, ...]
    total: int
    more: bool
    page: int
    loosely: bool = False
    """No case holds all the words; these hold some of them."""

    @property
    def pages(self) -> int:
        """How many pages can be turned."""
        return -(-self.total // PAGE)


# Each line: words a cook may use for one and the same thing. Looked for together.
_SAME: tuple[tuple[str, ...], ...] = (
    ("soupy", "runny", "watery", "slack", "wet", "pours", "loose", "thin"),
    ("stiff", "tight", "crumbly", "dry"),
    ("torn", "tear", "tears", "tore", "rips", "ripped"),
    ("altitude", "elevation", "mountain", "mountains"),
    ("crust", "skin", "colour", "color"),
    ("lump", "lumps", "lumpy", "clumps"),
    ("split", "greasy", "oily", "separated", "curdled"),
    ("strands", "scrambled", "egg"),
    ("sticks", "stuck", "sticky", "sticking"),
    ("paste", "panade", "roux"),
    ("burnt", "burned", "scorched"),
    ("cold", "chilled", "fridge", "refrigerator"),
    ("pan", "skillet"),
    ("cheese", "parmesan"),
)
SYNONYMS: Mapping[str, tuple[str, ...]] = {word: line for line in _SAME for word in line}
"""Our own list; common practice, no source."""

# So common that asking for them finds nothing in particular.
_SMALL = frozenset(
    """a an and are as at be but by for from had has have i in is it its me my of on or so that the
    then there they this to very was we were when with""".split()  # noqa: SIM905 (a list of quoted words is harder to read)
)


def words_of(asked: str) -> tuple[str, ...]:
    """The words of a cook's text that are looked for, each once, at most 12.

    >>> words_of('Torn crust" OR at (altitude*')
    ('torn', 'crust', 'altitude')
    """
    found = dict.fromkeys(word[:LONGEST_WORD] for word in folded(asked[:500]).split())
    telling = [word for word in found if word not in _SMALL] or list(found)
    return tuple(telling[:MOST_WORDS])


def search_cases(
    store: Store,
    words: str = "",
    *,
    dough: str | None = None,
    stage: str | None = None,
    sign: tuple[str, str] | None = None,
    cause: str | None = None,
    elevation_band: Band | None = None,
    remedy: str | None = None,
    outcome: str | None = None,
    confirmed_only: bool = False,
    class_code: str | None = None,
    page: int = 1,
) -> Results:
    """The cases that hold all the words and fit all the filters, a page at a time.

    ``sign`` is a sign and its answer; ``cause`` is the true one of a confirmed case, else the one
    thought likeliest; ``remedy`` is one that was tried. If no case holds all of several words,
    those that hold some are given, and it says so. Raises `NotStorable` for a page or band that
    cannot be.
    """
    last = COUNTED // PAGE
    if not 1 <= page <= last:
        raise NotStorable(f"There is no page {page}; pages 1 to {last} can be asked for.")
    if elevation_band is not None and elevation_band not in BANDS:
        raise NotStorable(f"There is no band {elevation_band!r}; known are {', '.join(BANDS)}.")
    # The rarer ones first: the first is walked through, the others are looked up case by case.
    facts = [
        (kind, *named)
        for kind, named in (
            ("sign", sign),
            ("cause", cause and (cause, "")),
            ("remedy", remedy and (remedy, "")),
            ("class", class_code and (class_code, "")),
            ("outcome", outcome and (outcome, "")),
            ("band", elevation_band and (elevation_band, "")),
            ("stage", stage and (stage, "")),
            ("dough", dough and (dough, "")),
        )
        if named
    ]
    asked = words_of(words)
    if words.strip() and not asked:
        return Results((), 0, False, page)
    found = _page(store, Asked(asked, facts, confirmed_only), page)
    if not found.total and len(asked) > 1:
        found = _page(store, Asked(asked, facts, confirmed_only, loosely=True), page)
    return found


@dataclass(frozen=True, slots=True)
class Asked:
    """What is looked for: words, facts as (kind, name, value), and whether only the confirmed."""

    words: Sequence[str] = ()
    facts: Sequence[tuple[str, str, str]] = ()
    confirmed_only: bool = False
    loosely: bool = False
    """Some of the words are enough."""


def _page(store: Store, asked: Asked, page: int) -> Results:
    wanted = query(store, asked)
    counted = select(func.count()).select_from(wanted.order_by(None).limit(COUNTED + 1).subquery())
    with store.reading() as connection:
        total = connection.scalar(counted) or 0
        # Numbers alone are sorted; only what is on the page is read whole.
        numbers = (
            list(connection.scalars(wanted.limit(PAGE).offset((page - 1) * PAGE))) if total else []
        )
        rows = connection.execute(select(kept_case).where(kept_case.c.number.in_(numbers)))
        found = {row.number: Found(head_from(row), snippet(row, asked.words)) for row in rows}
    return Results(
        tuple(found[number] for number in numbers),
        min(total, COUNTED),
        total > COUNTED,
        page,
        loosely=asked.loosely and bool(total),
    )


def query(store: Store, asked: Asked) -> Select[Any]:
    """The statement that finds the numbers of the cases, best or newest first."""
    facts = list(asked.facts)
    number: ColumnElement[int] = kept_case.c.number
    if asked.words:
        wanted, number, best = _words(store, asked)
    elif facts:
        first = case_fact.alias("first_fact")
        number = first.c.case_number
        wanted = select(number).where(_is(first, facts.pop(0)))
    else:
        wanted = select(number)
    for place, fact in enumerate(facts):
        other = case_fact.alias(f"fact_{place}")
        wanted = wanted.where(exists().where(other.c.case_number == number, _is(other, fact)))
    stands = select(kept_case.c.number)
    if asked.confirmed_only:
        wanted = wanted.where(number.in_(stands.where(kept_case.c.standing == "confirmed")))
    else:
        wanted = wanted.where(number.not_in(stands.where(kept_case.c.standing == "same-as")))
    return wanted.order_by(*([best] if asked.words else []), number.desc())


def _is(fact: FromClause, wanted: tuple[str, str, str]) -> ColumnElement[bool]:
    kind, name, value = wanted
    return and_(fact.c.kind == kind, fact.c.name == name, fact.c.value == value)


def _words(
    store: Store, asked: Asked
) -> tuple[Select[Any], ColumnElement[int], ColumnElement[float]]:
    """The cases with the words, the column of their numbers, and what the best is least of."""
    number: ColumnElement[int]
    best: ColumnElement[float]
    if store.is_sqlite:
        terms = (" OR " if asked.loosely else " AND ").join(map(_fts_term, asked.words))
        number = literal_column("case_search.rowid", Integer)
        best = literal_column("bm25(case_search, 10.0, 1.0)")
        holds = text("case_search MATCH :terms").bindparams(terms=terms)
        return select(number).select_from(text("case_search")).where(holds), number, best
    terms = (" | " if asked.loosely else " & ").join(map(_ts_term, asked.words))
    asking = func.to_tsquery(literal_column("'casebook_words'::regconfig"), terms)
    number = literal_column("case_words.case_number", Integer)
    search: ColumnElement[Any] = literal_column("case_words.search", postgresql.TSVECTOR)
    wanted = select(number).select_from(text("case_words")).where(search.op("@@")(asking))
    return wanted, number, func.ts_rank(search, asking).desc()


def _fts_term(word: str) -> str:
    alike = SYNONYMS.get(word, (word,))
    return "(" + " OR ".join(f'"{one}"*' for one in alike) + ")"


def _ts_term(word: str) -> str:
    alike = SYNONYMS.get(word, (word,))
    return "(" + " | ".join(f"'{one}':*" for one in alike) + ")"


_ENDS = re.compile(r"(?:ing|ed|es|s|y|e)$")


def snippet(row: Any, asked: Sequence[str]) -> str:
    """The first sentence of a case that holds one of the words, else its first; may be empty.

    Whole and as written: whoever shows it need not trust it.
    """
    sentences: list[str] = [*json.loads(row.said), *(row.note or "").split("\n")]
    sentences = [sentence for sentence in sentences if sentence.strip()]
    stems = tuple({_ENDS.sub("", one) for word in asked for one in SYNONYMS.get(word, (word,))})
    for sentence in sentences if stems else ():
        if any(word.startswith(stems) for word in folded(sentence).split()):
            return sentence
    return sentences[0] if sentences else ""
