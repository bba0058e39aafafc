"""``python -m diagnose``: check a book, see what it covers, or consult it about a situation."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path


def main(arguments: list[str] | None = None) -> int:
    """Run the command; 0 if all is well, 1 if problems were found, 2 if it was misused."""
    parser = argparse.ArgumentParser(
        prog="python -m diagnose", description="Check a book, see what it covers, or consult it."
    )
    commands = parser.add_subparsers(dest="command", required=True)
    check = commands.add_parser("check", help="read a book and report every problem in it")
    check.add_argument(
        "files",
        nargs="*",
        type=Path,
        metavar="FILE",
        help="dough files; none checks the shipped book",
    )
    covers = commands.add_parser("cover", help="walk every failure mode to its first remedy")
    covers.add_argument(
        "files",
        nargs="*",
        type=Path,
        metavar="FILE",
        help="dough files; none walks the shipped book",
    )
    consult = commands.add_parser("consult", help="print the diagnosis of a situation as JSON")
    consult.add_argument("file", type=Path, metavar="FILE.json", help='a situation; "-" reads it')
    chosen = parser.parse_args(arguments)
    if chosen.command == "check":
        from .inspecting import check_command

        return check_command(chosen.files)
    if chosen.command == "cover":
        from .tabulating import cover_command

        return cover_command(chosen.files)
    return _consult(chosen.file)


def _consult(file: Path) -> int:
    from .consulting import open_book
    from .knowledge.problems import BrokenBook
    from .knowledge.situations import read_situation

    try:
        text = sys.stdin.read() if str(file) == "-" else file.read_text(encoding="utf-8")
        data = json.loads(text)
    except (OSError, UnicodeDecodeError) as error:
        print(f"{file}: cannot be read ({error}). Give the name of a JSON file.", file=sys.stderr)
        return 2
    except ValueError as error:
        print(f"{file}: is not JSON: {error}. Give an object as for the API.", file=sys.stderr)
        return 2
    try:
        opened = open_book()
    except BrokenBook as broken:
        for problem in broken.problems:
            print(problem, file=sys.stderr)
        return 1
    situation, problems = read_situation(data, opened.book)
    if situation is None:
        for told in problems:
            print(told, file=sys.stderr)
        return 1
    print(opened.diagnose(situation).model_dump_json(by_alias=True, indent=2))
    return 0


if __name__ == "__main__":
    sys.exit(main())
