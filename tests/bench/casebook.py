"""The casebook with many cases, on SQLite and on PostgreSQL; no test.

    .venv/bin/python tests/bench/casebook.py [--cases 20000] [--times 200] [--only sqlite]

The cases are drawn from the book's own likelihoods, as in taps.py: a cause by how common it is,
each look from P(answer | cause), a cook who comes with one of the stage's complaints. Two in five
are confirmed with the drawn cause. Titles and sentences are the book's own words; notes are drawn
from a few invented sentences. So the words are fewer and more alike than cooks' would be: common
words hit more cases than they would in life.

Files are in a temporary folder; both databases flush to the disk as in use.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[n]) for n in (2, 1, 0)]

import postgres
from taps import LABEL, Cook, House, all_told, draw_cooks

from casebook.archive import export_archive, import_archive
from casebook.backup import backup
from casebook.cases import case, confirmed, insert_prepared, keep_case, mark, queue
from casebook.exercising import exercise_names
from casebook.likeness import alike
from casebook.preparing import Prepared, prepare
from casebook.progress import Terminal
from casebook.searching import PAGE, Asked, query, search_cases, words_of
from casebook.spreadsheet import export_csv
from casebook.store import Store, open_store
from diagnose.consulting import open_book
from diagnose.knowledge.book import Sign
from diagnose.knowledge.case import Case, Mark, Thought, Told

BEGAN = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
NOTES = (
    "The burner was new to everybody.",
    "Two students stirred in turns, and the flour went in all at once.",
    "The crust was torn on one side and pale on the other.",
    "Guests came early; the slab had forty minutes in the fridge.",
    "Measured with the blue cup.",
    "Crème fraîche was offered beside it, and nobody complained.",
    "The pan was crowded: six pieces at a time.",
    "Kneaded once more before chilling.",
)
WORDS = (
    "torn crust at altitude", "soupy", "paste", "pan", "sticks to the pan", "greasy", "kneading",
    "creme", "crumbl", "blue cup", "lumps dry inside", "it tears when turned", "cold slab fridge",
    "the", "xylophone", "flour all at once", "strands after yolk", "pours",
)  # fmt: skip
FILTERS: tuple[dict[str, object], ...] = (
    {},
    {"stage": "cook-paste"},
    {"stage": "brown", "elevation_band": "high"},
    {"sign": ("paste-body", "slumps")},
    {"cause": "undercooked-paste", "confirmed_only": True},
    {"outcome": "not-quite", "elevation_band": "low", "stage": "enrich"},
    {"confirmed_only": True},
)


def made(house: House, cook: Cook, number: int, luck: random.Random) -> Prepared:
    """A kept case of a drawn cook."""
    told = all_told(cook)
    signs = {sign.id: sign for sign in house.dough.signs}
    complaint = next(
        c.say
        for s in house.dough.stages
        if s.id == told.stage
        for c in s.complaints
        if c.id == cook.complaint
    )
    answers = list(told.signs.items())
    luck.shuffle(answers)
    answers = answers[: luck.randint(2, 6)]
    opened = BEGAN + timedelta(minutes=7 * number)
    story = tuple(
        Told(opened + timedelta(seconds=20 * n), "sign", name, answer)
        for n, (name, answer) in enumerate(answers)
    )
    found = Case(
        dough=told.dough,
        title=complaint[:120],
        stage=told.stage,
        opened=opened,
        kept=opened + timedelta(hours=1),
        book="0123456789ab",
        id=f"drawn-{number:06d}",
        class_code=luck.choice((None, "TUE-1", "THU-2")),
        elevation_m=told.kitchen.elevation_m,
        situation={
            "dough": told.dough,
            "stage": told.stage,
            "kitchen": {"elevation_m": told.kitchen.elevation_m},
            "signs": dict(answers),
            "tried": [{"remedy": "cook-on-hotter", "result": "no-change"}] if number % 3 else [],
        },
        told=story,
        thought=Thought(((cook.cause, round(luck.uniform(0.3, 0.9), 4)),), "needs-a-remedy"),
        said=tuple(said(signs[name], answer) for name, answer in answers),
        outcome=luck.choice(("as-it-should", "not-quite", "not-served", "thrown-away")),
        note=luck.choice((None, *NOTES)),
    )
    marks = ()
    if luck.random() < 0.4:
        marks = (Mark(1, found.kept, "Instructor", "confirmed", (cook.cause,)),)
    return prepare(found, f"drawn {number}", marks=marks)


def said(sign: Sign, answer: str) -> str:
    """An answer in the book's words."""
    return next(a.say for a in sign.answers if a.id == answer)[:300]


def draw(count: int) -> list[Prepared]:
    """That many cases, the same every time, over all stages with a complaint."""
    house = House(open_book())
    stages = [s.id for s in house.dough.stages if s.complaints]
    each = -(-count // len(stages))
    tell, luck, drawn = Terminal(), random.Random(20), []
    for stage in stages:
        drawn += draw_cooks(house, stage, each, 1)
        tell("cooks drawn", min(len(drawn), count), count)
    luck.shuffle(drawn)
    return [made(house, cook, n, luck) for n, cook in enumerate(drawn[:count])]


def timed(work: Callable[[], object]) -> float:
    """Seconds on the clock."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def spread(times: Sequence[float]) -> str:
    """Median and 95th percentile in milliseconds."""
    ordered = sorted(times)
    p95 = ordered[math.ceil(0.95 * len(ordered)) - 1]
    return f"{1000 * ordered[(len(ordered) - 1) // 2]:8.1f} {1000 * p95:8.1f}"


@contextmanager
def places(only: str | None, folder: Path) -> Iterator[list[tuple[str, str]]]:
    """Where a fresh casebook can be."""
    found = [("SQLite", str(folder / "casebook.sqlite3"))] if only != "postgresql" else []
    reason = postgres.missing()
    if only == "sqlite" or reason is not None:
        print(f"Not on PostgreSQL: {reason or 'not asked for'}.")
        yield found
        return
    with postgres.running(durable=True) as server:
        yield [*found, ("PostgreSQL", server.new_database())]


def plans(store: Store) -> None:
    """How the database says it will find them."""
    for label, words, facts in (
        ("filters", "", [("sign", "paste-body", "slumps"), ("stage", "cook-paste", "")]),
        ("words", "torn crust", []),
    ):
        statement = query(store, Asked(words_of(words), facts)).limit(PAGE)
        with store.reading() as connection:
            ask = "EXPLAIN QUERY PLAN " if store.is_sqlite else "EXPLAIN (COSTS OFF) "
            text = str(statement.compile(connection.engine, compile_kwargs={"literal_binds": True}))
            rows = connection.exec_driver_sql(ask + text).all()
        print(f"  {label}:")
        for row in rows:
            line = str(row[-1])
            print(f"    {line if len(line) < 100 else line[:97] + '...'}")


def measure(name: str, where: str, ready: Sequence[Prepared], times: int, folder: Path) -> None:
    """Everything on one database."""
    print(f"\n{name}, {len(ready):,} cases")
    with open_store(where) as store:

        def fill() -> None:
            with store.writing() as connection:
                for first in range(0, len(ready), 500):
                    insert_prepared(store, connection, ready[first : first + 500])

        print(f"  filled in {timed(fill):.1f} s")
        if not store.is_sqlite:
            # What the server does by itself within a minute or so of so many new rows.
            with store.outside_a_transaction() as connection:
                connection.exec_driver_sql("ANALYZE")
        print(f"  {'':34}   median      p95   ms")
        texts = [WORDS[n % len(WORDS)] for n in range(times)]
        some = [timed(partial(search_cases, store, words)) for words in texts]
        print(f"  {'search, 18 texts in turn':34} {spread(some)}")
        for words in ("pan", "torn crust at altitude"):
            hits = search_cases(store, words)
            some = [timed(partial(search_cases, store, words)) for _ in range(times // 4)]
            total = f"{hits.total:,}{'+' if hits.more else ''}"
            print(f"  {f'search {words!r}: {total}':34} {spread(some)}")
        pages = [
            partial(search_cases, store, page=1 + n % 3, **FILTERS[n % len(FILTERS)])  # type: ignore[arg-type]
            for n in range(times)
        ]
        print(f"  {'library page, 7 sets of filters':34} {spread([timed(page) for page in pages])}")
        ids = [f"drawn-{n:06d}" for n in range(times)]
        print(f"  {'one case':34} {spread([timed(partial(case, store, id)) for id in ids])}")
        print(f"  {'cases like one':34} {spread([timed(partial(alike, store, id)) for id in ids])}")
        some = [
            timed(partial(exercise_names, store, "milk-panade-slab")) for _ in range(times // 4)
        ]
        print(f"  {'what there is to practise on':34} {spread(some)}")
        some = [timed(partial(queue, store)) for _ in range(times // 4)]
        print(f"  {'first of the queue':34} {spread(some)}")
        found = case(store, ids[0])
        fresh = [replace(found, id=f"fresh-{n}") for n in range(times)]
        some = [timed(partial(keep_case, store, kept, kept.id)) for kept in fresh]
        print(f"  {'keep a case, on the disk':34} {spread(some)}")
        some = [
            timed(partial(mark, store, kept.id, kept.id, by="A", verdict="doubtful"))
            for kept in fresh
        ]
        print(f"  {'mark a case, on the disk':34} {spread(some)}")
        print(f"  all confirmed cases read in {timed(lambda: list(confirmed(store))):.1f} s")
        archive = folder / f"{name}.zip"
        print(f"  archive written in {timed(lambda: export_archive(store, archive)):.1f} s", end="")
        print(f" ({archive.stat().st_size / 1e6:.1f} MB)")
        print(
            f"  table written in {timed(lambda: export_csv(store, folder / f'{name}.csv')):.1f} s"
        )
        if store.is_sqlite:
            copying = timed(lambda: backup(store, folder / "backup.sqlite3"))
            size = (folder / "backup.sqlite3").stat().st_size / 1e6
            print(f"  backed up and checked in {copying:.1f} s ({size:.1f} MB)")
        plans(store)


def importing(name: str, where: str, archive: Path) -> None:
    """An empty casebook takes in an archive."""
    spent: dict[str, float] = {}
    began = [time.perf_counter()]

    def listen(what: str, done: int, of: int) -> None:
        if done == 0:
            began[0] = time.perf_counter()
        spent[what] = time.perf_counter() - began[0]

    with open_store(where) as store:
        whole = timed(lambda: import_archive(store, archive, progress=listen))
    parts = ", ".join(f"{what} in {seconds:.1f} s" for what, seconds in spent.items())
    print(f"{name}: imported in {whole:.1f} s ({parts})")


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the figures."""
    options = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    options.add_argument("--cases", type=int, default=20_000)
    options.add_argument("--times", type=int, default=200, help="how often each thing is timed")
    options.add_argument("--only", choices=("sqlite", "postgresql"))
    given = options.parse_args(arguments)
    print(LABEL)
    ready = draw(given.cases)
    with (
        tempfile.TemporaryDirectory() as name,
        places(given.only, Path(name)) as found,
    ):
        folder = Path(name)
        for label, where in found:
            measure(label, where, ready, given.times, folder)
        print()
    with tempfile.TemporaryDirectory() as name, places(given.only, Path(name)) as found:
        folder = Path(name)
        with open_store(folder / "source.sqlite3") as source:
            with source.writing() as connection:
                insert_prepared(source, connection, ready)
            export_archive(source, folder / "all.zip")
        for label, where in found:
            importing(label, where, folder / "all.zip")


if __name__ == "__main__":
    main()
