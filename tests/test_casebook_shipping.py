"""Shipped teaching cases are in the casebook, found like any other, and mixed up with none."""

from __future__ import annotations

import shutil
import threading
from dataclasses import replace
from pathlib import Path

import httpx2
import pytest
from test_web_server import serving, wait_for

from casebook import shipping
from casebook.archive import export_archive, import_archive
from casebook.cases import case, confirmed, keep_case, mark, queue
from casebook.problems import NotStorable
from casebook.searching import search_cases
from casebook.shipping import Shipped, exercise_name, ship
from casebook.spreadsheet import export_csv
from casebook.store import Store, open_store
from casemaking import PLAIN, TORN
from diagnose.consulting import OpenBook
from diagnose.knowledge.situations import read_situation
from diagnose.knowledge.teaching import CASES, read_teaching_cases

SOME = ("curds-in-the-pan", "first-time-at-summit", "crust-comes-away", "bread-flour-bag")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "cases"
    made.mkdir()
    for name in SOME:
        shutil.copy(CASES / f"{name}.yaml", made)
    return made


def ids(store: Store, words: str = "", **filters: object) -> list[str]:
    return [row.id for row in search_cases(store, words, **filters).rows]  # type: ignore[arg-type]


def test_every_shipped_case_is_found_by_its_true_cause_and_comes_back_whole(
    store: Store, book: OpenBook
) -> None:
    cases, problems = read_teaching_cases(book.book)
    assert problems == []
    assert ship(store, book.book) == Shipped(len(cases), replaced=True)
    for one in cases:
        for cause in one.causes:
            found = search_cases(store, one.title, cause=cause)
            assert one.id in [row.id for row in found.rows], one.id
        kept = case(store, one.id)
        assert (kept.title, kept.stage, kept.outcome) == (
            one.title, one.situation.stage, one.outcome,
        )  # fmt: skip
        assert (kept.note or "").split("\n") == [*one.story, one.lesson]
        situation, wrong = read_situation(dict(kept.situation), book.book)
        assert wrong == []
        assert situation == one.situation


def test_shipping_again_changes_nothing_and_a_changed_set_is_replaced_whole(
    either: Store, book: OpenBook, folder: Path
) -> None:
    assert ship(either, book.book, folder) == Shipped(len(SOME), replaced=True)
    assert ship(either, book.book, folder) == Shipped(len(SOME), replaced=False)
    (folder / "bread-flour-bag.yaml").unlink()
    changed = folder / "curds-in-the-pan.yaml"
    changed.write_text(
        changed.read_text("utf-8").replace("has gone to curds", "is all flakes"), "utf-8"
    )
    assert ship(either, book.book, folder) == Shipped(len(SOME) - 1, replaced=True)
    assert sorted(ids(either)) == sorted(set(SOME) - {"bread-flour-bag"})
    assert ids(either, "flakes") == ["curds-in-the-pan"]
    assert ids(either, "bread bag") == []


def test_when_taking_them_in_fails_what_was_there_stays_whole(
    either: Store, book: OpenBook, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ship(either, book.book, folder)
    (folder / "bread-flour-bag.yaml").unlink()

    def fails(*_: object, **__: object) -> None:
        raise NotStorable("the disk is full")

    with monkeypatch.context() as broken:
        broken.setattr(shipping, "insert_prepared", fails)
        with pytest.raises(NotStorable):
            ship(either, book.book, folder)
    assert sorted(ids(either)) == sorted(SOME)
    assert ids(either, "bread bag") == ["bread-flour-bag"]
    assert ship(either, book.book, folder).replaced


def test_two_programs_that_start_at_once_take_them_in_once(
    address: str, book: OpenBook, folder: Path
) -> None:
    with open_store(address) as first, open_store(address) as second:
        both = [
            threading.Thread(target=ship, args=(store, book.book, folder))
            for store in (first, second)
        ]
        for one in both:
            one.start()
        for one in both:
            one.join()
        assert sorted(ids(first)) == sorted(SOME)


def test_the_site_takes_them_in_by_itself(tmp_path: Path) -> None:
    with (
        serving(tmp_path) as (_, address, _),
        httpx2.Client(base_url=address, trust_env=False) as phone,
    ):
        wait_for(phone)
        for _ in range(200):
            if "/cases/curds-in-the-pan" in phone.get("/cases?q=curds").text:
                break
            threading.Event().wait(0.05)
        assert phone.get("/cases/curds-in-the-pan").status_code == 200


def test_another_book_words_them_anew(either: Store, book: OpenBook, folder: Path) -> None:
    ship(either, book.book, folder)
    other = book.book.model_copy(update={"version": "another"})
    assert ship(either, other, folder).replaced
    assert case(either, SOME[0]).book == "another"


def test_what_cooks_kept_stays_and_is_newer(either: Store, book: OpenBook, folder: Path) -> None:
    keep_case(either, replace(TORN, id="kept-first"), "form 1")
    ship(either, book.book, folder)
    keep_case(either, replace(PLAIN, id="kept-later"), "form 2")
    (folder / "bread-flour-bag.yaml").unlink()
    ship(either, book.book, folder)
    assert ids(either)[:2] == ["kept-later", "kept-first"]
    assert case(either, "kept-first") == replace(TORN, id="kept-first")


def test_the_first_kept_case_after_shipping_is_number_one_of_its_own(
    either: Store, book: OpenBook, folder: Path
) -> None:
    ship(either, book.book, folder)
    keep_case(either, replace(PLAIN, id="the-first"), "form 1")
    assert ids(either)[0] == "the-first"


def test_a_name_that_a_cooks_case_has_is_left_to_it(
    either: Store, book: OpenBook, folder: Path
) -> None:
    mine = replace(PLAIN, id=SOME[0])
    keep_case(either, mine, "form 1")
    assert ship(either, book.book, folder).taken == (SOME[0],)
    assert case(either, SOME[0]) == mine
    assert not ship(either, book.book, folder).replaced


def test_a_file_that_cannot_be_read_is_told_and_the_others_are_there(
    store: Store, book: OpenBook, folder: Path
) -> None:
    (folder / "crust-comes-away.yaml").write_text("format: 1\n", "utf-8")
    done = ship(store, book.book, folder)
    assert done.cases == len(SOME) - 1
    assert {problem.file for problem in done.problems} == {"crust-comes-away.yaml"}


def test_they_never_count_are_in_no_queue_and_cannot_be_marked(
    either: Store, book: OpenBook, folder: Path
) -> None:
    ship(either, book.book, folder)
    keep_case(either, replace(PLAIN, id="a-kept-one"), "form 1")
    assert [head.id for head in queue(either)] == ["a-kept-one"]
    assert list(confirmed(either)) == []
    assert ids(either, confirmed_only=True) == []
    with pytest.raises(NotStorable, match="teaching case"):
        mark(either, SOME[0], "m1", by="A", verdict="confirmed", causes=["milk-turned"])
    with pytest.raises(NotStorable, match="teaching case"):
        mark(either, "a-kept-one", "m2", by="A", verdict="same-as", other=SOME[0])


def test_they_leave_in_no_archive_and_no_table(
    either: Store, book: OpenBook, folder: Path, tmp_path: Path
) -> None:
    ship(either, book.book, folder)
    keep_case(either, replace(TORN, id="a-kept-one"), "form 1")
    assert export_archive(either, tmp_path / "all.zip") == 1
    assert export_csv(either, tmp_path / "all.csv") == 1
    assert import_archive(either, tmp_path / "all.zip").known == 1


def test_the_name_of_an_exercise_does_not_tell_the_case() -> None:
    names = {exercise_name(file.stem) for file in CASES.glob("*.yaml")}
    assert len(names) == len(list(CASES.glob("*.yaml")))
    assert all(set(name[2:]) <= set("0123456789abcdef") for name in names)
