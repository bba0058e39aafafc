"""Keeping a second copy of a SQLite casebook, and bringing it back.

A file that a program has open must not be copied by hand: part of it is in the write-ahead log
beside it. SQLite's own ``VACUUM INTO`` copies a living database as it was at one moment (SQLite
documentation, "VACUUM", section 3).
"""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlalchemy import text

from .connecting import Store, read_url
from .files import flush, flush_folder, written_whole
from .migrations import pending
from .moments import now
from .place import FILE
from .problems import FileRefused, StoreProblem

__all__ = ["backup", "restore"]


def backup(store: Store, path: Path) -> Path:
    """Copy a casebook that may be in use to a new file, checked and on the disk; its path.

    Raises `FileRefused` if the file cannot be written or the copy is not sound, and for
    PostgreSQL, which has its own means.
    """
    if store.file is None:
        raise FileRefused(
            "This casebook is on a PostgreSQL server, which is backed up with pg_dump; "
            "python -m casebook export writes all cases to an archive from either database."
        )
    with written_whole(path) as unfinished:
        with store.outside_a_transaction() as connection:
            connection.execute(text("VACUUM INTO :file"), {"file": str(unfinished)})
        _check_sound(unfinished, path)
    return path


def restore(path: Path, folder: Path) -> Path | None:
    """Put a backup in the place of the casebook in a folder; the copy of what was there before.

    None if nothing was there. Nothing is changed unless the backup is sound, is a casebook, is not
    of a newer version than this program, and nobody has the casebook open. Raises `FileRefused`,
    `NewerDatabase` or `StoreProblem`, each with a sentence.
    """
    if not path.is_file():
        raise FileRefused(f"There is no file {path}.")
    if not folder.is_dir():
        raise FileRefused(f"There is no folder {folder}; make it first, or name another.")
    target = folder / FILE
    if target.exists() and target.samefile(path):
        raise FileRefused(f"{path} is the casebook itself; name a backup of it.")
    unfinished = folder / f"{FILE}.restoring"
    try:
        _copy(path, unfinished)
        _check_sound(unfinished, path)
        _check_known(unfinished, path)
        kept = None
        with _nobody_else(target):
            if target.exists():
                stamp = now().strftime("%Y%m%dT%H%M%S%fZ")
                kept = folder / f"{target.stem}-before-restore-{stamp}{target.suffix}"
                _keep(target, kept)
            unfinished.replace(target)
            flush_folder(folder)
    except OSError as problem:
        raise FileRefused(f"{path} could not be brought back ({problem}).") from problem
    finally:
        unfinished.unlink(missing_ok=True)
    return kept


def _keep(target: Path, kept: Path) -> None:
    """Copy what is there byte for byte, since it may be damaged, with what a crash left beside."""
    log = target.with_name(f"{target.name}-wal")
    for old, new in ((target, kept), (log, kept.with_name(f"{kept.name}-wal"))):
        if old.exists():
            shutil.copyfile(old, new)
            flush(new)
    # A log left beside another database could be taken for its own.
    for end in ("-wal", "-shm"):
        target.with_name(target.name + end).unlink(missing_ok=True)


def _copy(source: Path, target: Path) -> None:
    """Copy a database as SQLite reads it, and return when it is on the disk."""
    target.unlink(missing_ok=True)
    try:
        with closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as opened:
            opened.execute("VACUUM INTO ?", (str(target),))
        flush(target)
    except sqlite3.Error as problem:
        target.unlink(missing_ok=True)
        raise FileRefused(f"{source} is no database that can be read ({problem}).") from problem


def _check_sound(copy: Path, called: Path) -> None:
    """Refuse a database that is damaged, or in which something refers to nothing."""
    try:
        with closing(sqlite3.connect(copy)) as opened:
            wrong = [str(row[0]) for row in opened.execute("PRAGMA integrity_check")]
            lost = opened.execute("PRAGMA foreign_key_check").fetchone()
    except sqlite3.Error as problem:
        raise FileRefused(f"{called} is no database that can be read ({problem}).") from problem
    if wrong != ["ok"]:
        raise FileRefused(f"{called} is damaged ({wrong[0]}); take an earlier backup.")
    if lost:
        raise FileRefused(
            f"{called} is damaged (an entry in {lost[0]} refers to nothing); "
            "take an earlier backup."
        )


def _check_known(copy: Path, called: Path) -> None:
    """Refuse a database of something else or of a newer version."""
    with Store(read_url(copy)) as opened:
        try:
            steps = pending(opened)
            with opened.reading() as connection:
                empty = connection.exec_driver_sql("SELECT count(*) FROM sqlite_schema")
                if steps and not empty.scalar_one():
                    raise StoreProblem(f"{called} is empty; name a backup of a casebook.")
        except StoreProblem as problem:
            # It is the file as named that is wrong, not the copy of it that was looked at.
            raise type(problem)(str(problem).replace(str(copy), str(called))) from problem


@contextmanager
def _nobody_else(file: Path) -> Iterator[None]:
    """Nobody has the database open while this holds; its write-ahead log is gone into it."""
    if not file.exists():
        yield
        return
    busy = (
        f"The casebook at {file} is in use; stop the program that has it open, such as "
        "python -m web, and try again."
    )
    try:
        with closing(sqlite3.connect(file, timeout=0.5, isolation_level=None)) as alone:
            # Leaving write-ahead mode needs that nobody else is there, and folds the log in.
            (mode,) = alone.execute("PRAGMA journal_mode = DELETE").fetchone()
            if mode != "delete":
                raise StoreProblem(busy)
    except sqlite3.OperationalError as problem:
        raise StoreProblem(busy) from problem
    except sqlite3.DatabaseError:
        pass  # What is there is damaged or no database; the caller keeps it byte for byte.
    yield
