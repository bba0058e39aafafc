"""The casebook out and in by page: whole, or not at all, with its progress shown."""

from __future__ import annotations

import csv
import io
import re
import tempfile
import threading
import time
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient
from test_web_keeping import a_picture, answered, body_with

from casebook.archive import export_archive
from casebook.cases import Photo, case, keep_case, queue
from casebook.exchange import export_case
from casebook.problems import FileRefused
from casebook.progress import Progress
from casebook.store import Store, open_store
from casemaking import PLAIN, TORN
from desk import FIELD, Browser
from diagnose.consulting import OpenBook
from phone import Phone
from web import exchanging
from web.app import create_app
from web.jobs import MOST, Busy, Jobs, Made

HERE = "/desk/exchange"


@pytest.fixture
def desk(book: OpenBook, store: Store) -> Iterator[Phone]:
    with Browser(create_app(book, store, hosts=["testserver"])) as browser:
        browser.begin()
        yield Phone(browser)


@pytest.fixture
def elsewhere(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "elsewhere.sqlite3") as opened:
        yield opened


def token(desk: Phone) -> str:
    assert isinstance(desk.client, Browser)
    return desk.client.token()


def finished(desk: Phone) -> Response:
    """The page of the job just begun, once it is over."""
    for _ in range(200):
        if "Refresh" not in desk.page.headers:
            return desk.page
        time.sleep(0.05)
        desk.go(desk.path)
    raise AssertionError("the job is not over after ten seconds")


def bring(desk: Phone, data: bytes, name: str = "cases.zip") -> Response:
    desk.go(HERE)
    desk.page = desk.client.post(
        f"{HERE}/import", data={FIELD: token(desk)}, files={"file": (name, data, "x/y")}
    )
    return finished(desk) if "/jobs/" in desk.path else desk.page


def archive_of(store: Store, path: Path) -> bytes:
    export_archive(store, path)
    return path.read_bytes()


def test_all_cases_are_taken_out_and_in_again_the_same(
    desk: Phone, store: Store, elsewhere: Store, tmp_path: Path
) -> None:
    id = keep_case(elsewhere, TORN, "one", photos=[Photo(a_picture(), "A torn cube")])
    keep_case(elsewhere, PLAIN, "two")
    sent = archive_of(elsewhere, tmp_path / "sent.zip")
    bring(desk, sent)
    assert "Cases: 2 added, 0 already here." in desk.words
    assert case(store, id).title == TORN.title
    bring(desk, sent)
    assert "Cases: 0 added, 2 already here." in desk.words
    desk.go(HERE)
    desk.page = desk.client.post(f"{HERE}/archive", data={FIELD: token(desk)})
    finished(desk)
    assert "2 cases in the archive." in desk.words
    answer = desk.client.get(f"{desk.path}/file")
    assert "attachment" in answer.headers["Content-Disposition"]
    assert re.search(r"casebook-\d{4}-\d\d-\d\d\.zip", answer.headers["Content-Disposition"])
    assert answer.headers["Cache-Control"] == "no-store"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert f"photos/{id}-1.jpg" in archive.namelist()


def test_a_table_for_a_spreadsheet_holds_no_formula(desk: Phone, store: Store) -> None:
    keep_case(store, replace(PLAIN, note="=1+1"), "one")
    desk.go(HERE)
    desk.page = desk.client.post(f"{HERE}/table", data={FIELD: token(desk)})
    finished(desk)
    answer = desk.client.get(f"{desk.path}/file")
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    (row,) = csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig")))
    assert row["note"] == "'=1+1"


def test_one_case_is_taken_in_whatever_its_file_is_called(
    desk: Phone, store: Store, elsewhere: Store
) -> None:
    id = keep_case(elsewhere, TORN, "one")
    bring(desk, export_case(elsewhere, id).encode(), "C:\\somewhere\\case.txt")
    assert f"The case {id} was taken in." in desk.words
    assert case(store, id).entered_by == "imported"


@pytest.mark.parametrize(
    ("data", "name", "sentence"),
    [
        (b"PK\x03\x04 nothing", "bad.zip", "bad.zip is no ZIP archive that can be read"),
        (b"\xff\xfe", "bad.yaml", "bad.yaml is neither a ZIP archive nor UTF-8 text"),
        (b"format: 1\nnonsense: 2\n", "bad.yaml", "nonsense"),
        (b"x" * 1_000_001, "big.yaml", "too large for one case"),
    ],
)
def test_a_file_that_is_no_casebook_is_refused_in_its_own_name(
    desk: Phone, store: Store, data: bytes, name: str, sentence: str
) -> None:
    bring(desk, data, name)
    assert "nothing was changed" in desk.words
    assert sentence in desk.words
    assert tempfile.gettempdir() not in desk.words
    assert queue(store) == ()


def test_a_path_in_the_name_of_a_zip_member_or_of_the_file_is_refused(
    desk: Phone, store: Store
) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("../../evil.yaml", "x")
    bring(desk, out.getvalue(), "../../../<script>alert(1)</script>.zip")
    assert "which is none of a casebook's" in desk.words
    assert "<script>alert" not in desk.page.text
    assert queue(store) == ()


def test_of_an_archive_with_one_bad_case_nothing_is_taken_in(
    desk: Phone, store: Store, elsewhere: Store, tmp_path: Path
) -> None:
    keep_case(elsewhere, replace(PLAIN, id="aa-good"), "one")
    keep_case(elsewhere, replace(PLAIN, id="bb-bad"), "two")
    archive_of(elsewhere, tmp_path / "a.zip")
    out = io.BytesIO()
    with zipfile.ZipFile(tmp_path / "a.zip") as good, zipfile.ZipFile(out, "w") as bad:
        for name in good.namelist():
            text = good.read(name).decode()
            bad.writestr(name, text.replace("cook-paste", "Not A Name") if "bb" in name else text)
    bring(desk, out.getvalue())
    assert "Not A Name" in desk.words
    assert queue(store) == ()


def test_nothing_chosen_is_said_beside_the_box(desk: Phone) -> None:
    bring(desk, b"", "")
    assert desk.page.status_code == 422
    assert 'id="file-problem"' in desk.page.text


def test_an_upload_of_100_mb_is_refused_with_a_sentence(
    desk: Phone,
) -> None:
    said = {b'"photo"': b'"file"', b'"key"': FIELD.encode().join((b'"', b'"')),
            b"D" * 16: token(desk).encode()}  # fmt: skip

    def body() -> Iterator[bytes]:
        for piece in body_with(100_000_000):
            if len(piece) < 1_000:
                for old, new in said.items():
                    piece = piece.replace(old, new)
            yield piece

    cookies = "; ".join(f"{name}={value}" for name, value in desk.client.cookies.items())
    status, text, most = answered(desk.client.app, f"{HERE}/import", body(), cookies)
    assert status == 422
    assert "The file takes 100 MB; up to 64 MB are taken here." in text
    assert "python -m casebook import" in text
    assert most < 8_000_000


def test_of_a_strangers_upload_nothing_is_read(client: TestClient) -> None:
    read = 0

    def body() -> Iterator[bytes]:
        nonlocal read
        for piece in body_with(50_000_000):
            read += len(piece)
            yield piece

    for path in (f"{HERE}/import", "/desk/cases/new"):
        status, _, _ = answered(client.app, path, body())
        assert status == 303
    assert read < 1_000_000


def test_what_takes_longer_than_a_second_shows_how_far_it_is(
    desk: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    go_on = threading.Event()

    def slowly(store: Store, path: Path, *, progress: Progress) -> int:
        progress("cases exported", 700, 2_000)
        go_on.wait(20)
        path.write_bytes(b"x")
        return 2_000

    monkeypatch.setattr(exchanging, "export_archive", slowly)
    desk.go(HERE)
    desk.page = desk.client.post(f"{HERE}/archive", data={FIELD: token(desk)})
    assert "Cases exported: 700 of 2,000" in desk.words
    assert '<progress value="700" max="2000"' in desk.page.text
    assert desk.page.headers["Refresh"] == "2"
    first = desk.path
    # A second tap leads to the one that runs.
    desk.go(HERE)
    desk.page = desk.client.post(f"{HERE}/table", data={FIELD: token(desk)})
    assert desk.path == first
    assert desk.client.get(f"{first}/file").status_code == 404
    go_on.set()
    finished(desk)
    assert "2,000 cases in the archive." in desk.words


def test_a_job_nobody_remembers_is_said_to_be_over(desk: Phone) -> None:
    for path in (f"{HERE}/jobs/none", f"{HERE}/jobs/none/file"):
        assert desk.go(path).status_code == 404
        assert "begin it again" in desk.words


def test_jobs_run_one_at_a_time_and_the_oldest_takes_its_file_along() -> None:
    jobs = Jobs()
    hold = threading.Event()

    def work(progress: Progress, folder: Path) -> Made:
        (folder / "file").write_text("x")
        return Made("Done.", folder / "file", "file")

    def wait(progress: Progress, folder: Path) -> Made:
        hold.wait(20)
        return Made("Done.")

    first = jobs.start("First", work)
    assert first.made is not None
    slow = jobs.start("Slow", wait, patience_s=0)
    with pytest.raises(Busy, match="Slow is still running") as busy:
        jobs.start("Third", work)
    assert busy.value.job is slow
    hold.set()
    assert slow.over.wait(20)
    assert first.folder.is_dir()
    for _ in range(MOST - 1):
        jobs.start("More", work)
    assert jobs.get(first.id) is None
    assert not first.folder.exists()


def test_a_job_that_breaks_says_so_without_saying_how(caplog: pytest.LogCaptureFixture) -> None:
    def broken(progress: Progress, folder: Path) -> Made:
        raise RuntimeError("secret")

    def refused(progress: Progress, folder: Path) -> Made:
        raise FileRefused("One.\nTwo.")

    jobs = Jobs()
    assert jobs.start("Broken", broken).problems == (
        "Something in this program went wrong, so nothing was done.",
    )
    assert "secret" in caplog.text
    assert jobs.start("Refused", refused).problems == ("One.", "Two.")
