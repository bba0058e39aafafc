"""A casebook with made-up cases, to look at pages with something on them; also for tests.

    .venv/bin/python tests/seeded.py FOLDER [CASES]
    .venv/bin/python -m web --folder FOLDER

Cases are drawn from the book's own likelihoods by tests/bench/casebook.py, two in five confirmed.
Nobody cooked them.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "bench")]


def main(folder: Path, cases: int) -> None:
    """Fill a new casebook in a folder."""
    from runpy import run_path

    from casebook.cases import insert_prepared
    from casebook.place import chosen
    from casebook.store import open_store

    drawn = run_path(str(ROOT / "tests" / "bench" / "casebook.py"))["draw"](cases)
    folder.mkdir(parents=True, exist_ok=True)
    with open_store(chosen(folder)[1]) as store, store.writing() as connection:
        for first in range(0, len(drawn), 500):
            insert_prepared(store, connection, drawn[first : first + 500])


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 300)
