"""What went wrong with a batch, one failure after the other, each as a case to be kept.

A cook may complain more than once of one batch. Each complaint is a failure of its own: its story
runs from the look into the pan that it came from to the next such look, and what the batch was is
told before it. The end of the batch belongs to each.

What a case says of the situation, and of what the program thought, is as it stood before the first
remedy of that failure was tried: what a remedy changed says nothing about what was wrong.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from casebook.consultations import Consultation, Entry
from diagnose.knowledge.book import Dough
from diagnose.knowledge.case import (
    LONGEST_SENTENCE,
    LONGEST_TITLE,
    MOST_CAUSES,
    MOST_SAID,
    MOST_TOLD,
    NOT_TEXT,
    Case,
    Thought,
    Told,
)
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.situation import Situation
from diagnose.learning.cases import answers_of

from .situation import as_request, current, situation_of
from .summary import OUTCOMES, story
from .told import SOMETHING_ELSE

_ASIDE = frozenset({"timer", "units", "help", "plan", "follows", "avoid"})
"""Kinds that are part of the story but tell nothing new about what went wrong."""
_FIRST_TO_GO = frozenset({"timer", "units", "help"})


@dataclass(frozen=True, slots=True)
class Failure:
    """One thing that went wrong with a batch, or a batch of which nobody complained."""

    complaint: Entry | None
    stage: str
    title: str
    told: tuple[Entry, ...]
    """What held when it began, all that was told of it since, and how the batch came out."""
    situation: Situation
    """As it stood before the first remedy of this failure was tried."""

    @property
    def number(self) -> int:
        """What a form calls it by: the number of its complaint, 0 without one."""
        return 0 if self.complaint is None else self.complaint.number


def failures(found: Consultation, dough: Dough) -> list[Failure]:
    """What went wrong with a batch, in order; empty while nobody told where it stands."""
    made = [_failure(found, dough, *ends) for ends in _looks(found)]
    wrong = [failure for failure in made if failure is not None]
    if wrong:
        return wrong
    quiet = _without_complaint(found, dough)
    return [] if quiet is None else [quiet]


def _looks(found: Consultation) -> Iterator[tuple[int, int]]:
    """From where to where among the entries each look into the pan reaches."""
    entries = found.entries
    starts = [0]
    for place, entry in enumerate(entries):
        if entry.kind == "look-again":
            # The stage is told just before it and belongs to what follows.
            starts.append(place - 1 if place and entries[place - 1].kind == "stage" else place)
    yield from zip(starts, [*starts[1:], len(entries)], strict=True)


def _failure(found: Consultation, dough: Dough, start: int, end: int) -> Failure | None:
    entries = found.entries
    complaint = next((e for e in reversed(entries[start:end]) if e.kind == "complaint"), None)
    if complaint is None or all(s.id != complaint.name for s in dough.stages):
        return None
    tried = next((n for n in range(start, end) if entries[n].kind == "tried"), end)
    situation = _situation(found, entries[:tried], dough)
    if situation is None:
        return None
    first = next((n for n in range(start, end) if entries[n].kind == "look-again"), start)
    held = current(replace(found, entries=entries[: first + 1]), dough) if start else ()
    before = tuple(e for e in held if e.number <= start and e.kind not in ("tried", "stage"))
    after = tuple(e for e in entries[end:] if e.kind == "outcome")
    told = (*before, *entries[start:end], *after)
    return Failure(complaint, situation.stage, _title(complaint, dough), told, situation)


def _without_complaint(found: Consultation, dough: Dough) -> Failure | None:
    """A batch of which nobody complained: it is known where it stood, or how it came out."""
    entries = found.entries
    stages = {stage.id for stage in dough.stages}
    told = [e for e in entries if e.kind in ("stage", "follows") and e.value in stages]
    ended = [e for e in entries if e.kind == "outcome"]
    if not told and not ended:
        return None
    stage = str(told[-1].value) if told else dough.stages[-1].id
    here = Entry(len(entries) + 1, "stage", "stage", stage, entries[-1].at)
    situation = _situation(found, (*entries, here), dough)
    if situation is None:
        return None
    words = OUTCOMES.get(str(ended[-1].value)) if ended else None
    return Failure(None, stage, words or "A batch without a complaint", entries, situation)


def _situation(found: Consultation, entries: Sequence[Entry], dough: Dough) -> Situation | None:
    cut = replace(found, entries=tuple(entries))
    # The clock stands where the last thing was told, so that it is the same whenever it is kept.
    return situation_of(cut, dough, entries[-1].at) if entries else None


def _title(complaint: Entry, dough: Dough) -> str:
    stage = next(s for s in dough.stages if s.id == complaint.name)
    named = complaint.value["id"] if isinstance(complaint.value, dict) else ""
    if named == SOMETHING_ELSE:
        return f"Something else went wrong: {stage.title.lower()}"
    say = next((c.say for c in stage.complaints if c.id == named), None)
    return (say or f"It went wrong: {stage.title.lower()}")[:LONGEST_TITLE]


def covers(case: Case, failure: Failure) -> bool:
    """Whether a kept case is about this failure."""
    told = [one for one in case.told if one.kind == "complaint"]
    if failure.complaint is None:
        return not told
    return any(one.at == failure.complaint.at for one in told)


def has_news(case: Case, failure: Failure) -> bool:
    """Whether something was told of a failure since this case of it was kept."""
    known = {(one.at, one.kind, one.name) for one in case.told}
    return any(e.kind not in _ASIDE and (e.at, e.kind, e.name) not in known for e in failure.told)


def case_of(
    found: Consultation,
    failure: Failure,
    dough: Dough,
    diagnosis: Diagnosis,
    *,
    note: str | None,
    class_code: str | None,
    kept: datetime,
) -> Case:
    """The case of a failure. ``diagnosis`` is the answer to ``failure.situation``."""
    situation = failure.situation
    outcome = next((str(e.value) for e in reversed(failure.told) if e.kind == "outcome"), None)
    return Case(
        dough=dough.id,
        title=failure.title,
        stage=failure.stage,
        opened=found.opened,
        kept=kept,
        book=diagnosis.book,
        class_code=class_code,
        elevation_m=situation.kitchen.elevation_m,
        situation=as_request(situation, dough),
        told=_told(failure.told),
        bands=bands_of(situation, dough),
        thought=thought_of(diagnosis),
        said=_said(found, failure, dough),
        outcome=outcome if outcome in OUTCOMES else None,
        note=note,
    )


def bands_of(situation: Situation, dough: Dough) -> dict[str, str]:
    """The band of every number that has one, measured or worked out from the batch."""
    signs = {sign.id for sign in dough.signs}
    return {k: band for k, band in answers_of(dough, situation).items() if k not in signs}


def thought_of(diagnosis: Diagnosis) -> Thought:
    """What the program thought, as a case keeps it."""
    return Thought(
        tuple((cause.id, cause.chance) for cause in diagnosis.causes[:MOST_CAUSES]),
        diagnosis.situation,
        diagnosis.plan[0].remedy if diagnosis.plan else None,
    )


def _told(entries: Sequence[Entry]) -> tuple[Told, ...]:
    if len(entries) > MOST_TOLD:
        entries = [e for e in entries if e.kind not in _FIRST_TO_GO]
    # Of more than a thousand tellings the first are kept: they are about what went wrong.
    return tuple(Told(e.at, e.kind, e.name, e.value) for e in entries[:MOST_TOLD])


def _said(found: Consultation, failure: Failure, dough: Dough) -> tuple[str, ...]:
    lines = story(replace(found, entries=failure.told), dough)
    return sentences(line.sentence for line in lines)


def sentences(lines: Iterator[str]) -> tuple[str, ...]:
    """Lines as a case keeps them: what cannot be shown left out, long ones cut between words."""
    said: list[str] = []
    for line in lines:
        plain = " ".join(NOT_TEXT.sub(" ", line).split())
        said += textwrap.wrap(plain, LONGEST_SENTENCE)
    return tuple(said[:MOST_SAID])
