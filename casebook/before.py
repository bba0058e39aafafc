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


class Reader:
    """Reads cases of one dough with this book; made once for many cases."""

    def __init__(self, dough: Dough) -> None:
        self.dough = dough
        self._stages = {stage.id for stage in dough.stages}
        self._changes = {remedy.id: frozenset(remedy.changes) for remedy in dough.remedies}
        self._answers = {sign.id: {a.id for a in sign.answers} for sign in dough.signs}
        self._measured = {reading.id for reading in dough.readings}

    def before(self, case: Case) -> Before:
        """A case as it stood before the first remedy.

        Words that this book no longer knows are left out. Raises `NotReadable` if that leaves
        nothing to go by.
        """
        if case.stage not in self._stages:
            raise NotReadable(UNKNOWN_STAGE)
        early = tuple(takewhile(lambda one: one.kind != "tried", case.told))
        tried = tuple(self._tried(case))
        situation = None
        if any(one.kind == "stage" for one in early):
            entries = (Entry(n, t.kind, t.name, t.value, t.at) for n, t in enumerate(early, 1))
            found = Consultation(case.id, self.dough.id, case.opened, tuple(entries))
            situation = situation_of(found, self.dough, early[-1].at)
        if situation is None:
            situation = self._as_kept(case, early, tried)
        return Before(situation, _asked(early), tried)

    def _as_kept(self, case: Case, early: tuple[Told, ...], tried: tuple[Tried, ...]) -> Situation:
        """The situation of a case whose story does not tell it, without what may be later."""
        told = {one.name for one in early if one.kind in QUESTIONED}
        late = {one.name for one in case.told[len(early) :] if one.kind in QUESTIONED}
        changed = {name for one in tried for name in self._changes.get(one.remedy, ())}
        gone = (late | changed) - told
        data: dict[str, Any] = {"dough": self.dough.id, "stage": case.stage}
        for key in ("kitchen", "batch"):
            if isinstance(case.situation.get(key), Mapping):
                data[key] = case.situation[key]
        seen = {**_mapping(case, "signs"), **_answers(early, "sign")}
        data["signs"] = {
            name: answer
            for name, answer in seen.items()
            if name not in gone
            and isinstance(answer, str)
            and answer in self._answers.get(name, ())
        }
        taken = {**_mapping(case, "readings"), **_answers(early, "reading")}
        data["readings"] = {n: v for n, v in taken.items() if n in self._measured and n not in gone}
        situation, _ = read_situation(data, self.dough)
        if situation is None:
            raise NotReadable(UNREADABLE)
        return situation

    def _tried(self, case: Case) -> Iterator[Tried]:
        """What was tried, in order: from the story, else from the situation as it was kept."""
        values = [one.value for one in case.told if one.kind == "tried"]
        if not values:
            for key in ("settled", "tried"):
                listed = case.situation.get(key)
                values += listed if isinstance(listed, list) else []
        for value in values:
            if isinstance(value, Mapping) and value.get("remedy") in self._changes:
                result = value.get("result")
                if result in RESULTS:
                    yield Tried(remedy=str(value["remedy"]), result=result)


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
