"""The casebook's own commands: ``python -m casebook backup|restore|export|import|csv FILE``.

And ``python -m casebook passphrase NAME`` for an instructor who has forgotten theirs.
"""

import argparse
import sys
from collections.abc import Sequence
from getpass import getpass
from pathlib import Path

from .archive import export_archive, import_archive
from .backup import backup, restore
from .exchange import export_case, import_case
from .files import written_whole
from .instructors import NotAccepted, TooBusy, change_passphrase
from .place import VARIABLE, chosen
from .problems import FileRefused, NotStorable, StoreProblem, UnknownCase
from .progress import Terminal
from .spreadsheet import export_csv
from .store import open_store

LARGEST_YAML = 1_000_000


def parser() -> argparse.ArgumentParser:
    """The command's options."""
    options = argparse.ArgumentParser(
        prog="python -m casebook", description="Back up, restore, exchange the casebook."
    )
    commands = options.add_subparsers(dest="command", required=True)
    about = {
        "backup": "copy the casebook, also while the site is running, to a new file",
        "restore": "put a backup in the place of the casebook; what was there is kept beside it",
        "export": "write all cases to a new archive (.zip), or one case to a file (.yaml)",
        "import": "take in an archive (.zip), all of it or nothing, or one case (.yaml)",
        "csv": "write a table of all cases for a spreadsheet to a new file",
    }
    for command, what in about.items():
        one = commands.add_parser(command, help=what, description=f"{what.capitalize()}.")
        one.add_argument("file", type=Path)
        one.add_argument(
            "--folder", type=Path, default=None, help="where your database and files live"
        )
        if command == "export":
            one.add_argument("--case", metavar="NAME", help="only this case; to .yaml or .zip")
    what = "give an instructor another passphrase; it is asked for, and never shown"
    one = commands.add_parser("passphrase", help=what, description=f"{what.capitalize()}.")
    one.add_argument("name")
    one.add_argument("--folder", type=Path, default=None, help="where your database and files live")
    return options


def main(arguments: Sequence[str] | None = None) -> int:
    """Do one command; the exit code."""
    given = parser().parse_args(arguments)
    folder, where = chosen(given.folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        print(_do(given, folder, where))
    except UnknownCase as problem:
        print(str(problem), file=sys.stderr)
        return 1
    except (StoreProblem, FileRefused, NotStorable, NotAccepted, TooBusy, OSError) as problem:
        print(f"Not done: {problem}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("Stopped; nothing was changed.", file=sys.stderr)
        return 130
    return 0


def _do(given: argparse.Namespace, folder: Path, where: str | Path) -> str:
    if given.command == "passphrase":
        new = getpass(f"New passphrase of {given.name}: ")
        if getpass("The same once more: ") != new:
            raise NotAccepted("The two are not the same, so the old one still holds.")
        with open_store(where) as store:
            change_passphrase(store, given.name, new)
        return f"{given.name} has a new passphrase; every session of theirs is over."
    file: Path = given.file
    if given.command == "restore":
        if not isinstance(where, Path):
            raise FileRefused(
                f"{VARIABLE} names a server, and a backup is of a file; give --folder as well, or "
                "bring a server's back with pg_restore."
            )
        kept = restore(file, folder)
        before = f" What was there before is kept at {kept}." if kept else ""
        return f"The casebook in {folder} is now the one from {file}.{before}"
    progress = Terminal()
    with open_store(where) as store:
        if given.command == "backup":
            return f"Backed up to {backup(store, file)}."
        if given.command == "csv":
            return f"{export_csv(store, file, progress=progress):,} cases written to {file}."
        if given.command == "import":
            if file.suffix.lower() == ".zip":
                return f"Cases: {import_archive(store, file, progress=progress)}."
            return f"The case {import_case(store, _text(file), file.name)} was taken in."
        if given.case and file.suffix.lower() != ".zip":
            with written_whole(file) as unfinished:
                unfinished.write_text(export_case(store, given.case), encoding="utf-8", newline="")
            return f"The case {given.case} was written to {file}."
        ids = [given.case] if given.case else None
        return (
            f"{export_archive(store, file, ids=ids, progress=progress):,} cases written to {file}."
        )


def _text(file: Path) -> str:
    if not file.is_file():
        raise FileRefused(f"There is no file {file}.")
    with file.open("rb") as opened:
        data = opened.read(LARGEST_YAML + 1)
    if len(data) > LARGEST_YAML:
        raise FileRefused(f"{file} is larger than the {LARGEST_YAML:,} bytes that are read.")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as broken:
        raise FileRefused(f"{file} is not UTF-8 text ({broken.reason}).") from broken


if __name__ == "__main__":
    sys.exit(main())
