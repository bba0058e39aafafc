"""Learning over many kept cases, from the casebook, on SQLite and on PostgreSQL; no test.

    .venv/bin/python tests/bench/lessons.py [--cases 20000] [--only sqlite]

The cases are those of casebook.py, all of them confirmed. Times are on the clock.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).resolve().parents[n]) for n in (2, 1)]
# this folder last: a bench here has the name of a package
sys.path.append(str(Path(__file__).resolve().parent))

from runpy import run_path

from casebook.acts import use
from casebook.cases import insert_prepared
from casebook.judged import compare, report
from casebook.listing import listing
from casebook.progress import Terminal
from casebook.store import open_store
from casebook.taught import Teacher, records
from diagnose.consulting import open_book
from diagnose.learning.recalibrating import learn


def timed(label: str, work: Callable[[], Any]) -> Any:
    """Do it, print how long it took, hand back what it gave."""
    began = time.perf_counter()
    found = work()
    print(f"  {label:58} {time.perf_counter() - began:7.2f} s", flush=True)
    return found


def measure(name: str, where: str, ready: Sequence[Any]) -> None:
    """Everything on one database."""
    book = open_book()
    dough = book.book.doughs[0]
    print(f"\n{name}, {len(ready):,} confirmed cases", flush=True)
    with open_store(where) as store:
        with store.writing() as connection:
            for first in range(0, len(ready), 500):
                insert_prepared(store, connection, ready[first : first + 500])
        now = timed("which cases count, and their digest", lambda: listing(store, dough.id))
        told = timed("cases read", lambda: records(store, dough, now, Terminal()))
        lessons = timed("counted", lambda: learn(dough, told.cases))
        timed("rows worked out", lambda: lessons.taught)
        timed("an act, on the disk", lambda: use(store, "bench act", "A", now, lessons.cases))
        teacher = Teacher(store)
        timed("book opened at a start, cases read again", lambda: teacher(book.book))
        timed("book opened again with other words", lambda: teacher(book.book))
        if store.is_sqlite:
            ready_now = book.ready(dough.id)
            both = timed(
                "words against lessons, an even spread, each left out",
                lambda: compare(ready_now, lessons, told.cases, Terminal()),
            )
            print(
                f"  log loss of {both.judged:,}: {both.words.log_loss:.3f} by the words,"
                f" {both.taught.log_loss:.3f} with lessons; first cause right"
                f" {both.words.right.share:.3f}, {both.taught.right.share:.3f}"
            )
            timed(
                "the reports, an even spread",
                lambda: report(ready_now, lessons, told.cases, Terminal()),
            )


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the figures."""
    options = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    options.add_argument("--cases", type=int, default=20_000)
    options.add_argument("--only", choices=("sqlite", "postgresql"))
    given = options.parse_args(arguments)
    bench = run_path(str(Path(__file__).with_name("casebook.py")))
    ready = bench["draw"](given.cases, 1.0)
    with (
        tempfile.TemporaryDirectory() as folder,
        bench["places"](given.only, Path(folder)) as found,
    ):
        for label, where in found:
            measure(label, where, ready)


if __name__ == "__main__":
    main()
