"""Words that cooks write in notes and no sign covers: where the book may lack a look."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from diagnose.knowledge.book import Dough

from .cases import ConfirmedCase

LEAST_NOTES: Final = 3
"""Fewer notes than this are chance; house rule."""
MOST_WORDS: Final = 30
SHORTEST: Final = 4

COMMON_WORDS: Final = frozenset(
    """
    able about after again almost along already also although always another anything around
    away back because been before began begin being below best better between both bring came
    cannot come could date days didn does doing done down during each either else even ever every
    everything fine first five from gave gets give goes going good gone have having here hers high
    hour hours into just keep kept knew know last late later least left less like little long look
    looked looking looks made make many maybe mine minute minutes more most much must near need
    never next none nothing once only onto other others over perhaps please poor quite rather
    really right said same seem seemed seems seen several should side since some something soon
    still such sure take taken than that their them then there these they thing things think this
    those though thought three through time today together told took tried turned twice under until
    upon used using very want wanted week well went were what when where which while will with
    without would year your
    """.split()  # noqa: SIM905 (a list of quoted words is harder to read)
)
"""Words that say nothing about a dough."""

_WORD: Final = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?")


@dataclass(frozen=True, slots=True)
class Noticed:
    """A word of several notes, with the cases whose notes have it."""

    word: str
    cases: tuple[str, ...]


def noticed(dough: Dough, cases: Iterable[ConfirmedCase]) -> tuple[Noticed, ...]:
    """The words most often written that the book has nowhere, most notes first.

    A word counts once a note. Endings are cut so that "cracks" and "cracked" are one; the form
    shown is the one written most often.
    """
    covered = {stem(word) for word in words(_vocabulary(dough))}
    forms: dict[str, dict[str, set[str]]] = {}
    for case in cases:
        for word in set(words(case.note)):
            root = stem(word)
            if len(word) >= SHORTEST and word not in COMMON_WORDS and root not in covered:
                forms.setdefault(root, {}).setdefault(word, set()).add(case.id)
    found = []
    for spelled in forms.values():
        ids = set().union(*spelled.values())
        if len(ids) >= LEAST_NOTES:
            shown = min(spelled, key=lambda word: (-len(spelled[word]), word))
            found.append(Noticed(shown, tuple(sorted(ids))))
    found.sort(key=lambda n: (-len(n.cases), n.word))
    return tuple(found[:MOST_WORDS])


def words(text: str) -> list[str]:
    """The words of a text, small, in one spelling of their accents.

    >>> words("It CRACKED – the crème didn't")
    ['it', 'cracked', 'the', 'crème', "didn't"]
    """
    return [
        w.replace("’", "'") for w in _WORD.findall(unicodedata.normalize("NFC", text).casefold())
    ]


def stem(word: str) -> str:
    """A word without its commonest English endings; crude, and only for telling words apart.

    >>> [stem(w) for w in ("cracks", "cracked", "cracking", "crack")]
    ['crack', 'crack', 'crack', 'crack']
    """
    for ending in ("ings", "ing", "ies", "ied", "edly", "ed", "es", "ly", "s", "y", "e"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            root = word[: -len(ending)]
            # "dripping" and "drip" are one word
            return root[:-1] if len(root) > 3 and root[-1] == root[-2] != "s" else root
    return word


def _vocabulary(dough: Dough) -> str:
    """Everything the book says about looks, causes and remedies."""
    said: list[str | None] = []
    for sign in dough.signs:
        said += [sign.ask, sign.how, sign.id, *(answer.say for answer in sign.answers)]
    for reading in dough.readings:
        said += [reading.ask, reading.how, reading.id, *(band.say for band in reading.bands)]
    for cause in dough.causes:
        said += [cause.say, cause.id]
    for remedy in dough.remedies:
        said += [remedy.first, remedy.id, *remedy.do]
    for stage in dough.stages:
        said += [stage.title, *(complaint.say for complaint in stage.complaints)]
    return " ".join(text.replace("-", " ") for text in said if text)
