"""What a case is: a consultation or report that is kept, and what people later say of it.

Plain values, checked by one function wherever they come from: a form, a file, an archive. What the
ids in a case mean is decided by the book it was kept under; here they only have to be names.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal, TypeAlias

from .fields import NAME
from .problems import Problem, listed, quoted

JSON: TypeAlias = "Mapping[str, JSON] | Sequence[JSON] | str | int | float | bool | None"
"""What RFC 8259 can write, so no NaN and no infinity."""

EnteredBy = Literal["cook", "instructor", "shipped", "imported"]
Verdict = Literal["confirmed", "doubtful", "same-as"]

ENTERED_BY: tuple[EnteredBy, ...] = ("cook", "instructor", "shipped", "imported")
VERDICTS: tuple[Verdict, ...] = ("confirmed", "doubtful", "same-as")
OUTCOMES = ("as-it-should", "not-quite", "not-served", "thrown-away")
"""How a batch can end."""

LONGEST_TITLE = 120
LONGEST_NOTE = 2_000
LONGEST_SENTENCE = 300
LONGEST_WORD = 200
LONGEST_KEY = 100
MOST_TOLD = 1_000
MOST_SAID = 100
MOST_CAUSES = 20
MOST_PHOTOS = 6
DEEPEST = 12
"""Levels of nesting in a situation or a told value; the reader of files allows 20 in all."""
ELEVATIONS = (-430.0, 9_000.0)
"""Metres: the shore of the Dead Sea, and a little above the highest mountain; from memory."""

# What YAML 1.2 calls printable, without the characters that older readers take for line ends.
NOT_TEXT = re.compile(
    "[^\t\n\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)


@dataclass(frozen=True, slots=True)
class Told:
    """One thing told or done, in the order told; as an entry of a consultation. ``at`` is aware."""

    at: datetime
    kind: str
    name: str
    value: JSON


@dataclass(frozen=True, slots=True)
class Thought:
    """What the program thought: causes with chances (0 to 1), likeliest first.

    Of a case kept here, before the first remedy was tried, as its situation."""

    causes: tuple[tuple[str, float], ...] = ()
    situation: str = ""
    """The situation word of the machine face, such as ``needs-a-remedy``."""
    first_remedy: str | None = None


@dataclass(frozen=True)
class Case:
    """One kept case. ``id`` is public and empty until the casebook has given one."""

    dough: str
    title: str
    """One line in the cook's words, such as "Soupy after ten minutes"."""
    stage: str
    opened: datetime
    kept: datetime
    book: str = ""
    """The version of the book it was answered with; empty if by none."""
    entered_by: EnteredBy = "cook"
    id: str = ""
    class_code: str | None = None
    elevation_m: float | None = None
    situation: Mapping[str, JSON] = field(default_factory=dict)
    """As the machine face takes it. Of a case kept here, as it stood before the first remedy of
    this failure was tried: that is what is learned from."""
    told: tuple[Told, ...] = ()
    bands: Mapping[str, str] = field(default_factory=dict)
    """Reading id to the id of the band it fell in."""
    thought: Thought | None = None
    said: tuple[str, ...] = ()
    """What was told, in sentences of the day: still readable when the book has changed."""
    outcome: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """What an instructor says of a case. ``number`` counts from 1; the last one counts."""

    number: int
    at: datetime
    by: str
    """A display name, as the author chose it."""
    verdict: Verdict
    causes: tuple[str, ...] = ()
    """The true causes; at least one if confirmed."""
    first_remedy: str | None = None
    other: str | None = None
    """For ``same-as``: the case that stays."""


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture: JPEG bytes without metadata, and a sentence for whoever cannot see it."""

    jpeg: bytes
    alt: str


def check_case(case: Case) -> list[Problem]:
    """Everything about a case that cannot be kept, field by field; empty if it can.

    >>> from datetime import UTC
    >>> noon = datetime(2024, 2, 29, 12, tzinfo=UTC)
    >>> case = Case("milk-panade-slab", "Soupy", "cook-paste", noon, noon, outcome="eaten")
    >>> print(check_case(case)[0])  # doctest: +ELLIPSIS
    outcome: there is no outcome "eaten"; known are as-it-should, not-quite, ...
    """
    return list(_problems(case))


def check_mark(mark: Mark) -> list[Problem]:
    """Everything about a mark that cannot be kept; empty if it can."""
    return list(_mark_problems(mark))


def check_text(text: str, longest: int) -> bool:
    """Whether text may have several lines, can be shown, and is neither empty nor too long."""
    return 0 < len(text) <= longest and not NOT_TEXT.search(text) and bool(text.strip())


def check_line(text: str, longest: int) -> bool:
    """Whether text is one line that can be shown, neither empty nor too long."""
    return check_text(text, longest) and "\n" not in text and "\t" not in text


def _wrong(where: str, what: str, advice: str) -> Problem:
    return Problem("", 0, where, what, advice)


def _line_problem(where: str, text: str, longest: int) -> Iterator[Problem]:
    if not check_line(text, longest):
        yield _wrong(
            where, f"{quoted(text)} cannot be kept", f"give one line of 1 to {longest} characters."
        )


def _name_problem(where: str, name: str) -> Iterator[Problem]:
    if not NAME.fullmatch(name):
        yield _wrong(
            where,
            f"{quoted(name)} cannot be a name",
            "names are 2 to 41 small letters, digits and hyphens, beginning with a letter.",
        )


def _word_problem(where: str, word: str, known: Sequence[str]) -> Iterator[Problem]:
    if word not in known:
        yield _wrong(where, f"there is no {where} {quoted(word)}", f"known are {listed(known)}.")


def _many(where: str, count: int, most: int) -> Iterator[Problem]:
    if count > most:
        yield _wrong(where, f"{count:,} are too many", f"at most {most:,} are kept.")


def _problems(case: Case) -> Iterator[Problem]:
    if case.id:
        yield from _name_problem("case", case.id)
    yield from _name_problem("dough", case.dough)
    yield from _name_problem("stage", case.stage)
    yield from _line_problem("title", case.title, LONGEST_TITLE)
    if case.book:
        yield from _line_problem("book", case.book, LONGEST_WORD)
    yield from _word_problem("entered by", case.entered_by, ENTERED_BY)
    if case.class_code is not None:
        yield from _line_problem("class", case.class_code, 40)
    if case.outcome is not None:
        yield from _word_problem("outcome", case.outcome, OUTCOMES)
    if case.note is not None and not check_text(case.note, LONGEST_NOTE):
        yield _wrong(
            "note",
            f"{quoted(case.note)} cannot be kept",
            f"give 1 to {LONGEST_NOTE:,} characters of text, or no note.",
        )
    low, high = ELEVATIONS
    if case.elevation_m is not None and not low <= case.elevation_m <= high:
        yield _wrong(
            "elevation", f"{case.elevation_m:g} m is not possible", f"give {low:g} to {high:g} m."
        )
    for where, moment in (("opened", case.opened), ("kept", case.kept)):
        yield from _moment_problem(where, moment)
    yield from _many("said", len(case.said), MOST_SAID)
    for sentence in case.said:
        yield from _line_problem("said", sentence, LONGEST_SENTENCE)
    for reading, band in case.bands.items():
        yield from _name_problem("bands", reading)
        yield from _name_problem("bands", band)
    yield from _json_problem("situation", case.situation, DEEPEST)
    yield from _many("told", len(case.told), MOST_TOLD)
    for one in case.told:
        yield from _moment_problem("told", one.at)
        yield from _line_problem("told", one.kind, LONGEST_WORD)
        yield from _line_problem("told", one.name, LONGEST_WORD)
        yield from _json_problem(f"told {quoted(one.name)}", one.value, DEEPEST)
    if case.thought is not None:
        yield from _thought_problems(case.thought)


def _thought_problems(thought: Thought) -> Iterator[Problem]:
    yield from _many("thought", len(thought.causes), MOST_CAUSES)
    for cause, chance in thought.causes:
        yield from _name_problem("thought", cause)
        if not 0 <= chance <= 1:
            yield _wrong("thought", f"{chance:g} is not a chance", "give 0 to 1.")
    if thought.situation:
        yield from _name_problem("thought", thought.situation)
    if thought.first_remedy is not None:
        yield from _name_problem("thought", thought.first_remedy)


def _mark_problems(mark: Mark) -> Iterator[Problem]:
    yield from _moment_problem("marked", mark.at)
    yield from _line_problem("by", mark.by, LONGEST_WORD)
    yield from _word_problem("verdict", mark.verdict, VERDICTS)
    yield from _many("causes", len(mark.causes), MOST_CAUSES)
    if len(set(mark.causes)) < len(mark.causes):
        yield _wrong("causes", "a cause is named twice", "name each once.")
    for cause in mark.causes:
        yield from _name_problem("causes", cause)
    if mark.first_remedy is not None:
        yield from _name_problem("first remedy", mark.first_remedy)
    if mark.other is not None:
        yield from _name_problem("other", mark.other)
    if mark.verdict == "confirmed" and not mark.causes:
        yield _wrong(
            "causes",
            "a confirmed case needs its true cause",
            "name one or more; that nothing was wrong is one of them.",
        )
    if (mark.verdict == "same-as") != (mark.other is not None):
        yield _wrong(
            "other",
            "only a case marked same-as names another, and it must",
            "name the case that stays.",
        )


def _moment_problem(where: str, moment: datetime) -> Iterator[Problem]:
    if moment.utcoffset() is None:
        yield _wrong(where, f"{moment.isoformat()} has no time zone", "give one, such as UTC.")


def _json_problem(where: str, value: JSON, deepest: int) -> Iterator[Problem]:
    """The first thing in a value that JSON cannot write or a file could not bring back."""
    what = _unfit(value, deepest)
    if what:
        yield _wrong(
            where,
            what,
            "give only lists, text, numbers, true, false, null, and objects whose keys are text.",
        )


def _unfit(value: JSON, deepest: int) -> str:
    if value is None or isinstance(value, bool | str):
        return ""
    if isinstance(value, int):
        return "" if abs(value) < 2**63 else "a whole number is too large"
    if isinstance(value, float):
        return "" if math.isfinite(value) else f"{value} is not a number"
    if deepest == 0:
        return f"values are nested more than {DEEPEST} deep"
    if isinstance(value, dict):
        for key, inner in value.items():
            if not isinstance(key, str) or len(key) > LONGEST_KEY:
                return f"{quoted(key)} cannot be a key"
            found = _unfit(inner, deepest - 1)
            if found:
                return found
        return ""
    if isinstance(value, list):
        return next(filter(None, (_unfit(inner, deepest - 1) for inner in value)), "")
    return f"a {type(value).__name__} is not JSON"
