"""The front door of the casebook: one call from a path or an address to an open store."""

from collections.abc import Sequence
from pathlib import Path

from sqlalchemy import text

from .connecting import Store, read_url
from .migrations import STEPS, Step, migrate, pending
from .problems import NewerDatabase, StepFailed, StoreProblem

__all__ = ["NewerDatabase", "StepFailed", "Store", "StoreProblem", "open_store"]


def open_store(url_or_path: str | Path, *, steps: Sequence[Step] = STEPS) -> Store:
    """Open a casebook, making or migrating it first; close it with `close` or a `with` block.

    A path names a SQLite file (made if it is not there, in a folder that is); text with
    "://" in it is a database address, SQLite or PostgreSQL. Raises `NewerDatabase` for one
    that a newer version wrote, `StepFailed` for a migration that could not be done, and
    `StoreProblem` for everything else that stands in the way.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder, open_store(f"{folder}/casebook.sqlite3") as store:
    ...     store.file.name
    'casebook.sqlite3'
    """
    store = Store(read_url(url_or_path))
    try:
        # Refuse a foreign or newer database before changing the least thing about it.
        pending(store, steps)
        if store.is_sqlite:
            _write_ahead(store)
        migrate(store, steps)
    except BaseException:
        store.close()
        raise
    return store


def _write_ahead(store: Store) -> None:
    """Put a SQLite file into write-ahead mode, which it then keeps."""
    with store.outside_a_transaction() as connection:
        mode = connection.execute(text("PRAGMA journal_mode = WAL")).scalar_one()
    if mode != "wal":
        raise StoreProblem(
            f"The casebook at {store.where} cannot be kept safely there: the disk does not "
            "allow a write-ahead log; name a folder on this computer's own disk."
        )
