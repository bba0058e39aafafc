"""From whatever a database is to what this version needs: ordered steps, each done once.

Each step runs in one transaction together with its own record, so a step is wholly done and
recorded or not done at all. A SQLite database that already holds steps is copied beside
itself first. Asking what is pending writes nothing. A step that has been published is never
edited; a change is a new step.
"""

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, insert, inspect, select, text

from .connecting import Store
from .moments import now, to_text
from .problems import NewerDatabase, StepFailed, StoreProblem
from .step_cases import keep_cases
from .step_learning import keep_acts_of_learning
from .step_suggestions import keep_said_to_suggestions
from .storing import alone
from .tables import migration


@dataclass(frozen=True)
class Step:
    """One change of the database: its number, what it does in a few words, and the doing."""

    number: int
    name: str
    run: Callable[[Connection], None]


def _keep_consultations(connection: Connection) -> None:
    connection.execute(
        text("""
        CREATE TABLE consultation (
            token VARCHAR NOT NULL PRIMARY KEY,
            dough VARCHAR NOT NULL,
            opened VARCHAR NOT NULL,
            idempotency_key VARCHAR NOT NULL UNIQUE
        )""")
    )
    connection.execute(
        text("""
        CREATE TABLE entry (
            token VARCHAR NOT NULL REFERENCES consultation (token),
            number INTEGER NOT NULL,
            idempotency_key VARCHAR NOT NULL,
            place INTEGER NOT NULL,
            kind VARCHAR NOT NULL,
            name VARCHAR NOT NULL,
            value VARCHAR NOT NULL,
            at VARCHAR NOT NULL,
            PRIMARY KEY (token, number),
            UNIQUE (idempotency_key, place)
        )""")
    )


def _find_by_kind(connection: Connection) -> None:
    connection.execute(text("CREATE INDEX entry_kind_at ON entry (kind, at)"))


def _keep_instructors(connection: Connection) -> None:
    connection.execute(
        text("""
        CREATE TABLE instructor (
            name VARCHAR NOT NULL PRIMARY KEY,
            passphrase VARCHAR NOT NULL,
            since VARCHAR NOT NULL
        )""")
    )
    connection.execute(
        text("""
        CREATE TABLE desk_session (
            id VARCHAR NOT NULL PRIMARY KEY,
            instructor VARCHAR NOT NULL REFERENCES instructor (name),
            began VARCHAR NOT NULL,
            ended VARCHAR
        )""")
    )
    connection.execute(
        text("""
        CREATE TABLE desk_secret (
            name VARCHAR NOT NULL PRIMARY KEY,
            value VARCHAR NOT NULL
        )""")
    )


def _keep_revisions(connection: Connection) -> None:
    # "before" and "after" are words of SQL on some databases, so the texts have longer names.
    connection.execute(
        text("""
        CREATE TABLE revision (
            number INTEGER NOT NULL PRIMARY KEY,
            together INTEGER NOT NULL,
            dough VARCHAR NOT NULL,
            section VARCHAR NOT NULL,
            name VARCHAR NOT NULL,
            text_before VARCHAR,
            text_after VARCHAR,
            who VARCHAR NOT NULL,
            at VARCHAR NOT NULL,
            why VARCHAR NOT NULL,
            kind VARCHAR NOT NULL,
            undoes INTEGER
        )""")
    )
    connection.execute(text("CREATE INDEX revision_part ON revision (dough, section, name)"))


STEPS: tuple[Step, ...] = (
    Step(1, "keep consultations", _keep_consultations),
    Step(2, "find entries by kind", _find_by_kind),
    Step(3, "keep cases", keep_cases),
    Step(4, "keep instructors and their sessions", _keep_instructors),
    Step(5, "keep revisions of the book", _keep_revisions),
    Step(6, "keep acts of learning", keep_acts_of_learning),
    Step(7, "keep what was said to suggestions", keep_said_to_suggestions),
)


def pending(store: Store, steps: Sequence[Step] = STEPS) -> tuple[Step, ...]:
    """The steps this database has not seen, in order. Writes nothing.

    Raises `NewerDatabase` if it has seen a step that this version does not know, and
    `StoreProblem` if it is a SQLite database with tables but no record of steps: then it
    belongs to something else and is left alone.
    """
    with store.reading() as connection:
        return _pending(store, connection, steps)


def migrate(store: Store, steps: Sequence[Step] = STEPS) -> Path | None:
    """Run every pending step; the path of the copy made first, or None if none was needed.

    Raises what `pending` raises, and `StepFailed` naming the step that could not be done.
    """
    todo = pending(store, steps)
    if not todo:
        return None
    copy = None
    if store.file is not None and len(todo) < len(steps):
        copy = _copy(store, store.file, todo[0])
    for step in todo:
        try:
            with store.writing() as connection:
                alone(store, connection)
                # Asked again under the lock: another process may have done it meanwhile.
                if step in _pending(store, connection, steps):
                    if not inspect(connection).has_table(migration.name):
                        migration.create(connection)
                    step.run(connection)
                    row = {"step": step.number, "name": step.name, "at": to_text(now())}
                    connection.execute(insert(migration), row)
        except NewerDatabase:
            raise
        except Exception as problem:
            kept = f" A copy from before is at {copy}." if copy else ""
            raise StepFailed(
                f"The casebook at {store.where} could not be brought up to date: step "
                f'{step.number}, "{step.name}", failed and was undone ({_reason(problem)}).{kept}'
            ) from problem
    return copy


def _pending(store: Store, connection: Connection, steps: Sequence[Step]) -> tuple[Step, ...]:
    looking = inspect(connection)
    if not looking.has_table(migration.name):
        if store.is_sqlite and looking.get_table_names():
            raise StoreProblem(f"{store.file} is a database of something else; name another file.")
        return tuple(steps)
    done = set(connection.scalars(select(migration.c.step)))
    unknown = done - {step.number for step in steps}
    if unknown:
        known = max((step.number for step in steps), default=0)
        raise NewerDatabase(
            f"The casebook at {store.where} was written by a newer version of this program "
            f"(it has step {max(unknown)}, this version knows steps up to {known}): "
            "install the newer version, or name another folder."
        )
    return tuple(step for step in steps if step.number not in done)


def _copy(store: Store, file: Path, first: Step) -> Path:
    stamp = now().strftime("%Y%m%dT%H%M%S%fZ")
    copy = file.with_name(f"{file.stem}-before-step-{first.number}-{stamp}{file.suffix}")
    unfinished = copy.with_name(copy.name + ".unfinished")
    try:
        with store.outside_a_transaction() as connection:
            connection.execute(text("VACUUM INTO :file"), {"file": str(unfinished)})
        # VACUUM INTO does not promise that the copy has reached the disk.
        with unfinished.open("rb+") as written:
            os.fsync(written.fileno())
        unfinished.rename(copy)
    except Exception as problem:
        unfinished.unlink(missing_ok=True)
        raise StoreProblem(
            f"The casebook at {store.where} has to be brought up to date, but could not be "
            f"copied first, so nothing was changed ({_reason(problem)}); make room in "
            f"{file.parent}."
        ) from problem
    return copy


def _reason(problem: Exception) -> object:
    # The database's own words, without the advice that a store puts around them.
    return getattr(problem.__cause__, "orig", problem)
