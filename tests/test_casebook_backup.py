"""A living casebook is copied whole, and a copy is brought back only where that is safe."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import text

from casebook.backup import backup, restore
from casebook.cases import case, keep_case, mark, queue
from casebook.consultations import append, load, open_consultation
from casebook.migrations import STEPS, Step
from casebook.place import FILE
from casebook.problems import FileRefused, NewerDatabase, StoreProblem
from casebook.searching import search_cases
from casebook.store import Store, open_store
from casemaking import DOUGH, PLAIN, TORN

LATER = Step(len(STEPS) + 1, "keep notes", lambda connection: None)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "kitchen"
    made.mkdir()
    return made


def names(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir())


def sound(file: Path) -> bool:
    """What SQLite itself says of a database: integrity_check and foreign_key_check."""
    with closing(sqlite3.connect(file)) as opened:
        whole = opened.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return whole and opened.execute("PRAGMA foreign_key_check").fetchall() == []


def test_a_backup_of_a_living_casebook_is_sound_and_serves(folder: Path, tmp_path: Path) -> None:
    """Written to by another thread all the while."""
    with open_store(folder / FILE) as store:
        token = open_consultation(store, DOUGH, "opening")
        stop = threading.Event()

        def cook() -> None:
            n = 0
            while not stop.is_set():
                append(store, token, f"tap {n}", "sign", f"sign-{n}", n)
                keep_case(store, TORN, f"form {n}")
                n += 1

        writer = threading.Thread(target=cook)
        writer.start()
        try:
            while len(load(store, token).entries) < 5:
                pass
            copies = [backup(store, tmp_path / f"backup-{n}.sqlite3") for n in range(3)]
        finally:
            stop.set()
            writer.join()
        written = load(store, token).entries
    assert all(sound(copy) for copy in copies)
    restore(copies[-1], folder)
    assert sound(folder / FILE)
    with open_store(folder / FILE) as store:
        entries = load(store, token).entries
        assert entries == written[: len(entries)]
        kept = search_cases(store, "torn").total
        assert len(entries) - 1 <= kept <= len(entries)
        append(store, token, "after", "sign", "paste-body", "slumps")
        keep_case(store, PLAIN, "after")


def test_what_was_there_before_is_kept_beside(folder: Path, tmp_path: Path) -> None:
    with open_store(folder / FILE) as store:
        first = keep_case(store, TORN, "form")
        backup(store, tmp_path / "one.sqlite3")
        second = keep_case(store, PLAIN, "form 2")
    kept = restore(tmp_path / "one.sqlite3", folder)
    assert kept is not None
    assert names(folder) == sorted([FILE, kept.name])
    with open_store(folder / FILE) as store:
        assert [head.id for head in queue(store)] == [first]
        assert search_cases(store, "torn").total == 1
    with open_store(kept) as store:
        assert case(store, second).title == PLAIN.title


def test_a_backup_is_brought_back_into_an_empty_folder(folder: Path, tmp_path: Path) -> None:
    with open_store(tmp_path / "elsewhere.sqlite3") as store:
        keep_case(store, replace(TORN, id="torn-one"), "form")
        mark(store, "torn-one", "m", by="A", verdict="doubtful")
        backup(store, tmp_path / "one.sqlite3")
    assert restore(tmp_path / "one.sqlite3", folder) is None
    assert names(folder) == [FILE]
    with open_store(folder / FILE) as store:
        assert case(store, "torn-one").title == TORN.title


def test_a_casebook_in_use_is_not_replaced(folder: Path, tmp_path: Path) -> None:
    with open_store(folder / FILE) as store:
        id = keep_case(store, TORN, "form")
        backup(store, tmp_path / "one.sqlite3")
        with pytest.raises(StoreProblem, match="is in use; stop the program"):
            restore(tmp_path / "one.sqlite3", folder)
        assert case(store, id).title == TORN.title
        keep_case(store, PLAIN, "form 2")
    assert names(folder) == [FILE]


def test_a_backup_of_a_newer_version_is_refused(folder: Path, tmp_path: Path) -> None:
    with open_store(folder / FILE) as store:
        keep_case(store, TORN, "form")
    with open_store(tmp_path / "newer.sqlite3", steps=[*STEPS, LATER]) as newer:
        backup(newer, tmp_path / "one.sqlite3")
    before = (folder / FILE).read_bytes()
    with pytest.raises(NewerDatabase, match=f"one.sqlite3 .*it has step {LATER.number}"):
        restore(tmp_path / "one.sqlite3", folder)
    assert (folder / FILE).read_bytes() == before
    assert names(folder) == [FILE]


def test_a_backup_of_an_older_version_is_brought_up_to_date_when_opened(
    folder: Path, tmp_path: Path
) -> None:
    with open_store(tmp_path / "older.sqlite3", steps=STEPS[:2]) as older:
        token = open_consultation(older, DOUGH, "opening")
        backup(older, tmp_path / "one.sqlite3")
    restore(tmp_path / "one.sqlite3", folder)
    with open_store(folder / FILE) as store:
        assert load(store, token).dough == DOUGH
        keep_case(store, TORN, "form", token=token)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "is empty"),
        (b"Two cups of milk.\n" * 300, "no database that can be read"),
    ],
)
def test_what_is_no_casebook_is_not_brought_back(
    folder: Path, tmp_path: Path, data: bytes, sentence: str
) -> None:
    (tmp_path / "bad.sqlite3").write_bytes(data)
    with pytest.raises((FileRefused, StoreProblem), match=sentence):
        restore(tmp_path / "bad.sqlite3", folder)
    assert names(folder) == []


def test_a_database_of_something_else_is_not_brought_back(folder: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "other.sqlite3")) as other:
        other.execute("CREATE TABLE holiday (photo)")
    with pytest.raises(StoreProblem, match=r"other\.sqlite3 is a database of something else"):
        restore(tmp_path / "other.sqlite3", folder)
    assert names(folder) == []


def test_a_damaged_backup_is_not_brought_back(folder: Path, tmp_path: Path) -> None:
    with open_store(tmp_path / "whole.sqlite3") as store:
        for n in range(60):
            keep_case(store, TORN, f"form {n}")
        backup(store, tmp_path / "one.sqlite3")
    data = bytearray((tmp_path / "one.sqlite3").read_bytes())
    for at in range(len(data) // 2, len(data) // 2 + 20_000):
        data[at] ^= 0xFF
    (tmp_path / "one.sqlite3").write_bytes(data)
    with pytest.raises(FileRefused, match=r"damaged|no database that can be read"):
        restore(tmp_path / "one.sqlite3", folder)
    assert names(folder) == []


def test_a_reference_to_nothing_is_damage(folder: Path, tmp_path: Path) -> None:
    with open_store(tmp_path / "one.sqlite3") as store:
        keep_case(store, TORN, "form")
    with closing(sqlite3.connect(tmp_path / "one.sqlite3")) as opened:
        opened.execute("UPDATE case_fact SET case_number = 99")
        opened.commit()
    with pytest.raises(FileRefused, match="refers to nothing"):
        restore(tmp_path / "one.sqlite3", folder)


def test_a_damaged_casebook_is_replaced_and_kept_byte_for_byte(
    folder: Path, tmp_path: Path
) -> None:
    with open_store(tmp_path / "whole.sqlite3") as store:
        keep_case(store, replace(TORN, id="torn-one"), "form")
        backup(store, tmp_path / "one.sqlite3")
    ruined = b"Ruined by a power cut.\n" * 300
    (folder / FILE).write_bytes(ruined)
    (folder / f"{FILE}-wal").write_bytes(b"left over")
    kept = restore(tmp_path / "one.sqlite3", folder)
    assert kept is not None
    assert kept.read_bytes() == ruined
    assert not (folder / f"{FILE}-wal").exists()
    with open_store(folder / FILE) as store:
        assert case(store, "torn-one").title == TORN.title


def test_a_backup_never_writes_over_anything(store: Store, tmp_path: Path) -> None:
    (tmp_path / "one.sqlite3").write_text("mine")
    with pytest.raises(FileRefused, match="already something at"):
        backup(store, tmp_path / "one.sqlite3")
    assert (tmp_path / "one.sqlite3").read_text() == "mine"


def test_a_backup_that_cannot_reach_the_disk_is_no_backup(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(FileRefused, match="No space left"):
        backup(store, tmp_path / "one.sqlite3")
    assert not list(tmp_path.glob("one.sqlite3*"))


def test_the_casebook_is_not_a_backup_of_itself(folder: Path) -> None:
    with open_store(folder / FILE) as store:
        keep_case(store, TORN, "form")
    with pytest.raises(FileRefused, match="the casebook itself"):
        restore(folder / FILE, folder)


def test_a_server_is_backed_up_by_its_own_means(either: Store, tmp_path: Path) -> None:
    if either.is_sqlite:
        assert sound(backup(either, tmp_path / "one.sqlite3"))
    else:
        with pytest.raises(FileRefused, match="pg_dump"):
            backup(either, tmp_path / "one.sqlite3")


def test_search_works_in_the_copy_as_in_the_casebook(store: Store, tmp_path: Path) -> None:
    """Rows are renumbered by VACUUM only where a table has no number of its own."""
    for n in range(20):
        keep_case(store, replace(TORN, id=f"torn-{n}"), f"form {n}")
    with store.outside_a_transaction() as connection:
        connection.execute(text("VACUUM"))
    backup(store, tmp_path / "one.sqlite3")
    with open_store(tmp_path / "one.sqlite3") as copy:
        assert search_cases(copy, "torn").rows == search_cases(store, "torn").rows
