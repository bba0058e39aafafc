"""Swapping the book under traffic: every diagnosis is wholly of one version."""

from __future__ import annotations

import gc
import threading
import weakref
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

from diagnose.consulting import OpenBook
from diagnose.knowledge.situation import Situation
from diagnose.shelf import Shelf

TOLD = Situation(dough="milk-panade-slab", stage="cook-paste", signs={"paste-body": "slumps"})


def edition(book: OpenBook, version: str) -> OpenBook:
    """The book again, with its version written into the sentence of every cause."""
    doughs = tuple(
        dough.model_copy(
            update={
                "causes": tuple(
                    cause.model_copy(update={"say": f"{version}: {cause.say}"})
                    for cause in dough.causes
                )
            }
        )
        for dough in book.book.doughs
    )
    return OpenBook(book.book.model_copy(update={"version": version, "doughs": doughs}))


def test_every_diagnosis_names_one_version_of_the_book_while_books_change(book: OpenBook) -> None:
    editions = [edition(book, f"edition-{n}") for n in range(3)]
    shelf = Shelf(editions[0])
    stop = threading.Event()

    def swap() -> None:
        number = 0
        while not stop.wait(0.001):
            number += 1
            shelf.put(editions[number % 3])

    def ask(_: int) -> str:
        opened = shelf.current
        diagnosis = opened.diagnose(TOLD)
        assert diagnosis.book == opened.book.version
        known = [cause for cause in diagnosis.causes if cause.id != "something-else"]
        assert known
        assert {cause.say.split(":")[0] for cause in known} == {diagnosis.book}
        return diagnosis.book

    swapper = threading.Thread(target=swap)
    swapper.start()
    try:
        with ThreadPoolExecutor(4) as pool:
            seen = Counter(pool.map(ask, range(60)))
    finally:
        stop.set()
        swapper.join()
    assert sum(seen.values()) == 60
    assert len(seen) > 1


def test_a_book_taken_off_the_shelf_is_freed_once_nobody_reads_it(book: OpenBook) -> None:
    old = edition(book, "old")
    shelf = Shelf(old)
    gone = weakref.ref(old)
    reading = shelf.current
    assert shelf.put(book) is old
    del old
    gc.collect()
    assert reading.diagnose(TOLD).book == "old"
    del reading
    gc.collect()
    assert gone() is None
    assert shelf.current is book
