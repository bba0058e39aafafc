"""A kept case as it stood before the first remedy was tried: what its cause is to be judged by.

What was seen afterwards is the remedy's doing and no longer the failure's. Where the story tells
the order, it decides; where it does not, a look that a tried remedy changes is left out, for nobody
can say when it was taken. What was not looked at stays absent.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import takewhile
from typing import Any

from diagnose.knowledge.book import Dough
from diagnose.knowledge.case import Case, Told
from diagnose.knowledge.situation import Situation, Tried
from diagnose.knowledge.situations import RESULTS, read_situation

from .consultations import Consultation, Entry
from .situation import QUESTIONED, situation_of

UNREADABLE = "what it tells cannot be read with this book"
UNKNOWN_STAGE = "its stage is not in this book"


class NotReadable(ValueError):
    """A case that this book cannot make sense of; says why."""


@dataclass(frozen=True, slots=True)
class Before:
    """What was told before the first remedy, and what was tried from then on."""

    situation: Situation
    asked: tuple[str, ...]
    """Questions put, in order, answered or not."""
    tried: tuple[Tried, ...]


def before_first_remedy(case: Case, dough: Dough) -> Before:
    """A case as it stood before the first remedy.

    Words that this book no longer knows are left out. Raises `NotReadable` if that leaves nothing
    to go by.
    """
    if case.stage not in {stage.id for stage in dough.stages}:
        raise NotReadable(UNKNOWN_STAGE)
    early = tuple(takewhile(lambda one: one.kind != "tried", case.told))
    situation = None
    if any(one.kind == "stage" for one in early):
        entries = (Entry(n, t.kind, t.name, t.value, t.at) for n, t in enumerate(early, 1))
        found = Consultation(case.id, dough.id, case.opened, tuple(entries))
        situation = situation_of(found, dough, early[-1].at)
    if situation is None:
        situation = _as_kept(case, dough, early)
    tried = tuple(_tried(case, dough))
    situation = situation.model_copy(update={"tried": (), "settled": ()})
    return Before(situation, _asked(early), tried)


def _as_kept(case: Case, dough: Dough, early: tuple[Told, ...]) -> Situation:
    """The situation of a case whose story does not tell it, without what may have come later."""
    told = {one.name for one in early if one.kind in QUESTIONED}
    late = {one.name for one in case.told[len(early) :] if one.kind in QUESTIONED}
    changes = {remedy.id: set(remedy.changes) for remedy in dough.remedies}
    changed = {name for one in _tried(case, dough) for name in changes.get(one.remedy, ())}
    gone = (late | changed) - told
    data: dict[str, Any] = {"dough": dough.id, "stage": case.stage}
    for key in ("kitchen", "batch"):
        if isinstance(case.situation.get(key), Mapping):
            data[key] = case.situation[key]
    answers = {sign.id: {a.id for a in sign.answers} for sign in dough.signs}
    seen = {**_mapping(case, "signs"), **_answers(early, "sign")}
    data["signs"] = {
        name: answer
        for name, answer in seen.items()
        if name not in gone and isinstance(answer, str) and answer in answers.get(name, ())
    }
    measured = {reading.id for reading in dough.readings}
    taken = {**_mapping(case, "readings"), **_answers(early, "reading")}
    data["readings"] = {n: v for n, v in taken.items() if n in measured and n not in gone}
    situation, _ = read_situation(data, dough)
    if situation is None:
        raise NotReadable(UNREADABLE)
    return situation


def _mapping(case: Case, key: str) -> Mapping[str, Any]:
    value = case.situation.get(key)
    return value if isinstance(value, Mapping) else {}


def _answers(early: tuple[Told, ...], kind: str) -> dict[str, Any]:
    return {one.name: one.value for one in early if one.kind == kind}


def _asked(early: tuple[Told, ...]) -> tuple[str, ...]:
    """The questions put, without the signs that the complaint itself told."""
    complained = {
        name
        for one in early
        if one.kind == "complaint" and isinstance(one.value, Mapping)
        for name in _names(one.value.get("told"))
    }
    names = (one.name for one in early if one.kind in QUESTIONED)
    return tuple(name for name in dict.fromkeys(names) if name not in complained)


def _names(value: object) -> list[str]:
    return [name for name in value if isinstance(name, str)] if isinstance(value, list) else []


def _tried(case: Case, dough: Dough) -> Iterator[Tried]:
    """What was tried, in order: from the story, else from the situation as it was kept."""
    values = [one.value for one in case.told if one.kind == "tried"]
    if not values:
        for key in ("settled", "tried"):
            listed = case.situation.get(key)
            values += listed if isinstance(listed, list) else []
    known = {remedy.id for remedy in dough.remedies}
    for value in values:
        if isinstance(value, Mapping) and value.get("remedy") in known:
            result = value.get("result")
            if result in RESULTS:
                yield Tried(remedy=str(value["remedy"]), result=result)
