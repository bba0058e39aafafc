"""What page tests share: the shipped book read once, a fresh casebook, the site, a browser."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, sync_playwright
from starlette.testclient import TestClient

import desk
import postgres
from casebook.publishing import Press
from casebook.store import Store, open_store
from diagnose.consulting import OpenBook, open_book
from diagnose.knowledge.loading import texts_of
from diagnose.shelf import Shelf
from web import previewing
from web.__main__ import open_port
from web.app import create_app

HOST = "kitchen.test"
"""Not localhost: browsers treat that as secure, and would show features no phone will have."""

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    f"--host-resolver-rules=MAP {HOST} 127.0.0.1",
)  # fmt: skip


@pytest.fixture(autouse=True)
def patient_previews(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a busy machine the page that says how far a preview has come would be seen instead."""
    monkeypatch.setattr(previewing, "PATIENCE_S", 300.0)


@pytest.fixture(scope="session")
def book() -> OpenBook:
    return open_book()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "casebook.sqlite3") as opened:
        yield opened


def pytest_report_header() -> str | None:
    """Say so when half of the data tests cannot be run."""
    reason = postgres.missing()
    if reason is None or os.environ.get("CI"):
        return None
    return f"The data tests are not run on PostgreSQL: {reason}"


def databases() -> list[str]:
    """Where data tests run: PostgreSQL too where it is installed, and always where it must be."""
    wanted = os.environ.get("CI") or postgres.missing() is None
    return ["sqlite", "postgresql"] if wanted else ["sqlite"]


@pytest.fixture(scope="session")
def server() -> Iterator[postgres.Server]:
    reason = postgres.missing()
    if reason is not None:
        pytest.fail(reason)
    with postgres.running() as started:
        yield started


@pytest.fixture(params=databases())
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a fresh casebook may be, on each of the databases."""
    if request.param == "sqlite":
        return str(tmp_path / "either.sqlite3")
    server: postgres.Server = request.getfixturevalue("server")
    return server.new_database()


@pytest.fixture
def either(address: str) -> Iterator[Store]:
    """A fresh casebook, on each of the databases."""
    with open_store(address) as opened:
        yield opened


@pytest.fixture
def client(book: OpenBook, store: Store, press: Press) -> Iterator[TestClient]:
    """A phone, inside the process; it says where it comes from as a browser does."""
    app = create_app(book, store, hosts=["testserver"], press=press)
    with TestClient(app, headers={"Origin": "http://testserver"}) as phone:
        yield phone


@pytest.fixture
def press(book: OpenBook, store: Store) -> Press:
    """Publishes changes of the shipped book."""
    return Press(store, Shelf(book), texts_of())


@pytest.fixture
def instructor(book: OpenBook, store: Store, press: Press) -> Iterator[TestClient]:
    """A browser on this computer, signed in to the rule desk; sends its forms as a page would."""
    app = create_app(book, store, hosts=["testserver"], press=press)
    with desk.Browser(app) as browser:
        browser.begin()
        yield browser


class Served:
    """The site on a port of its own, for a browser; can be stopped and started again."""

    def __init__(self, book: OpenBook, file: Path) -> None:
        self.book, self.file, self.port = book, file, 18500
        self.start()

    def start(self) -> None:
        self.store = open_store(self.file)
        listener = open_port("127.0.0.1", self.port)
        self.port = listener.getsockname()[1]
        self.press = Press(self.store, Shelf(self.book), texts_of())
        self.press.start()
        app = create_app(self.book, self.store, hosts=[HOST], press=self.press)
        config = uvicorn.Config(app, log_level="error", access_log=False)
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, args=([listener],))
        self.thread.start()

    def stop(self) -> None:
        self.server.should_exit = True
        self.thread.join()
        self.store.close()

    @property
    def address(self) -> str:
        return f"http://{HOST}:{self.port}"


@pytest.fixture
def site(book: OpenBook, tmp_path: Path) -> Iterator[Served]:
    served = Served(book, tmp_path / "served.sqlite3")
    yield served
    served.stop()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    named = os.environ.get("PANADIER_BROWSER")
    found = named or next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        reason = f"no browser: install one of {', '.join(BROWSERS)}, or set PANADIER_BROWSER"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(
            executable_path=found,
            args=list(FLAGS),
            ignore_default_args=["--disable-back-forward-cache"],
        )
        yield launched
        launched.close()
