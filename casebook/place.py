"""Where a user's casebook is: the same for the site and for the casebook's own commands."""

import os
from pathlib import Path

FILE = "casebook.sqlite3"
VARIABLE = "DATABASE_URL"


def default_folder() -> Path:
    """Where this user's database lives unless told otherwise; never in the checkout."""
    base = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(base) / "panadier"


def chosen(folder: Path | None) -> tuple[Path, str | Path]:
    """The folder for a user's files, and the file or address of the casebook.

    A folder that was named holds the casebook. Otherwise it is at ``DATABASE_URL`` if that is set,
    and in the user's own folder if not.
    """
    where = (folder or default_folder()).expanduser()
    address = os.environ.get(VARIABLE, "").strip()
    return where, address if address and folder is None else where / FILE
