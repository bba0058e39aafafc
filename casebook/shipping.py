"""Shipped teaching cases in the casebook: found like any other, and never mixed up with them.

They are rows of the same tables, entered by nobody here. They are numbered below nought, so that
what a cook kept is always newer. Each carries its true causes as facts, which is how a search by
cause and the exercises know them; it has no mark, so it never counts as confirmed, is in no queue
and in no export. When the shipped files, or the book that gives them their words, have changed,
all of them are replaced in one transaction; else starting costs one look at an index.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, delete, select, text

from diagnose.explaining import Speaker
from diagnose.knowledge.book import Book, Dough
from diagnose.knowledge.case import JSON, Case, Told
from diagnose.knowledge.problems import Problem
from diagnose.knowledge.teaching import CASES, TeachingCase, read_teaching_cases
from diagnose.reasoning.likelihood import asked_parts

from .cases import BEHIND, SHIPPED, insert_prepared, is_shipped
from .connecting import Store
from .preparing import Prepared, Row, folded, prepare
from .storing import alone
from .tables import case_fact, case_mark, case_photo, case_words, kept_case

__all__ = ["Shipped", "exercise_name", "ship"]

_FORM = "1"
"""Of the rows made below: another number makes every casebook take the cases in again."""
_EVERY_YEAR = datetime(2000, 1, 1, 12, tzinfo=UTC)
"""Nothing in a teaching case happened at any time; a case needs one, and no page shows it."""


@dataclass(frozen=True, slots=True)
class Shipped:
    """What shipping did: how many are in the casebook, whether anything was written, what failed.

    ``taken``: ids of teaching cases left out because somebody's own case is called so.
    """

    cases: int
    replaced: bool
    problems: tuple[Problem, ...] = ()
    taken: tuple[str, ...] = ()


def ship(store: Store, book: Book, folder: Path = CASES) -> Shipped:
    """See that the casebook holds the teaching cases of a folder as this book words them.

    A case that this book cannot read is left out and told of; the others are kept.
    """
    digest = digest_of(book, folder)
    with store.reading() as connection:
        here = _here(connection, digest)
    if here:
        return Shipped(here, replaced=False)
    found, problems = read_teaching_cases(book, folder)
    with store.writing() as connection:
        alone(store, connection)
        here = _here(connection, digest)
        if here:
            # Another program on the same database was quicker.
            return Shipped(here, False, tuple(problems))
        _withdraw(store, connection)
        own = set(connection.scalars(select(kept_case.c.id)))
        taken = tuple(one.id for one in found if one.id in own)
        ready = list(_prepared(book, [one for one in found if one.id not in own], digest))
        insert_prepared(store, connection, ready, first=-len(ready))
    return Shipped(len(ready), True, tuple(problems), taken)


def digest_of(book: Book, folder: Path = CASES) -> str:
    """A fingerprint of the shipped files and of the book that words them: SHA-256, cut to 16."""
    seen = hashlib.sha256(f"{_FORM} {book.version}".encode())
    for file in sorted(folder.glob("*.yaml")):
        content = file.read_bytes()
        seen.update(f"\n{file.name} {len(content)}\n".encode() + content)
    return seen.hexdigest()[:16]


def exercise_name(id: str) -> str:
    """What a teaching case is called while its cause is hidden: its own name often tells it.

    >>> exercise_name("curds-in-the-pan")
    't-da847b88'
    """
    return "t-" + hashlib.sha256(id.encode()).hexdigest()[:8]


def _here(connection: Connection, digest: str) -> int:
    """How many shipped cases there are, if all are of this fingerprint; else 0."""
    keys = connection.scalars(select(kept_case.c.idempotency_key).where(is_shipped())).all()
    return len(keys) if all(key.startswith(f"{SHIPPED}{digest} ") for key in keys) else 0


def _withdraw(store: Store, connection: Connection) -> None:
    """Take out what was shipped before, with all that belongs to it."""
    old = select(kept_case.c.number).where(is_shipped())
    if store.is_sqlite:
        # The index beside the words has to be told what it forgets.
        connection.execute(
            text(
                "INSERT INTO case_search (case_search, rowid, title, body)"
                " SELECT 'delete', w.case_number, w.title, w.body FROM case_words w"
                " JOIN kept_case k ON k.number = w.case_number"
                " WHERE k.idempotency_key >= :first AND k.idempotency_key < :behind"
            ),
            {"first": SHIPPED, "behind": BEHIND},
        )
    for table in (case_fact, case_mark, case_photo, case_words):
        connection.execute(delete(table).where(table.c.case_number.in_(old)))
    connection.execute(delete(kept_case).where(is_shipped()))


def _prepared(book: Book, found: Sequence[TeachingCase], digest: str) -> Iterator[Prepared]:
    makers = {dough.id: _Maker(book, dough) for dough in book.doughs}
    # Numbered from the lowest up: the first by name is shown first among the newest.
    for one in reversed(found):
        yield makers[one.situation.dough].prepared(one, f"{SHIPPED}{digest} {one.id}")


class _Maker:
    """Makes rows of the teaching cases of one dough."""

    def __init__(self, book: Book, dough: Dough) -> None:
        self.book, self.dough = book, dough
        self.speaker = Speaker(book, dough)
        self.asked = {one.id: one for one in asked_parts(dough)}
        self.says = {cause.id: cause.say for cause in dough.causes}
        self.firsts = {remedy.id: remedy.first for remedy in dough.remedies}

    def prepared(self, one: TeachingCase, key: str) -> Prepared:
        """The rows of a teaching case, with its truth among its facts and words."""
        ready = prepare(self.case(one), key)
        truth = [("cause", cause, "") for cause in one.causes]
        truth += [
            ("first-remedy", one.first_remedy, ""),
            ("difficulty", one.difficulty, ""),
            ("exercise", exercise_name(one.id), ""),
        ]
        facts: list[Row] = [{"kind": k, "name": n, "value": v} for k, n, v in truth]
        words = " ".join([*one.causes, *(self.says[cause] for cause in one.causes)])
        body = f"{ready.words['body']} {folded(words)}"
        return replace(ready, facts=(*ready.facts, *facts), words={**ready.words, "body": body})

    def case(self, one: TeachingCase) -> Case:
        """A teaching case as one that is kept: its note is the story and, last, the lesson."""
        situation = one.situation
        return Case(
            dough=situation.dough,
            title=one.title,
            stage=situation.stage,
            opened=_EVERY_YEAR,
            kept=_EVERY_YEAR,
            book=self.book.version,
            entered_by="shipped",
            id=one.id,
            elevation_m=situation.kitchen.elevation_m,
            situation=_face(one),
            told=tuple(_told(one)),
            bands=self.bands(one),
            said=tuple(self.said(one)),
            outcome=one.outcome,
            note="\n".join([*one.story, one.lesson]),
        )

    def said(self, one: TeachingCase) -> Iterator[str]:
        """What was told, in the book's sentences."""
        facts: dict[str, str | float] = {**one.situation.signs, **one.situation.readings}
        for told in one.told:
            if told.about in facts:
                yield self.speaker.fact(told.about, facts[told.about])

    def bands(self, one: TeachingCase) -> dict[str, str]:
        """The band in which each number fell."""
        found = {}
        for name, value in one.situation.readings.items():
            band = self.asked[name].answer_for(value) if name in self.asked else None
            if band is not None:
                found[name] = band
        return found


def _face(one: TeachingCase) -> dict[str, JSON]:
    """All that was told, as the machine face takes it."""
    situation = one.situation
    return {
        "dough": situation.dough,
        "stage": situation.stage,
        "kitchen": {"elevation_m": situation.kitchen.elevation_m},
        "batch": situation.batch.model_dump(exclude_none=True),
        "signs": dict(situation.signs),
        "readings": {
            t.about: {"value": t.value, "unit": t.unit} for t in one.told if t.value is not None
        },
        "tried": [{"remedy": t.remedy, "result": t.result} for t in one.tried],
        "not_looked": [t.about for t in one.told if t.answer is None and t.value is None],
    }


def _told(one: TeachingCase) -> Iterator[Told]:
    """All that was told, as the entries of a consultation."""

    def entries() -> Iterable[tuple[str, str, JSON]]:
        yield "kitchen", "place", one.place
        yield "kitchen", "elevation_m", one.situation.kitchen.elevation_m
        for name, value in one.situation.batch.model_dump(exclude_none=True).items():
            yield "batch", name, value
        yield "stage", "stage", one.situation.stage
        for n, tried in enumerate(one.tried, 1):
            value = {"remedy": tried.remedy, "result": tried.result}
            yield "tried", f"{tried.remedy}#{n}", value
        for told in one.told:
            if told.answer is not None:
                yield "sign", told.about, told.answer
            elif told.value is not None:
                yield "reading", told.about, {"value": told.value, "unit": told.unit}
            else:
                yield "not-looked", told.about, None

    return (Told(_EVERY_YEAR, kind, name, value) for kind, name, value in entries())
