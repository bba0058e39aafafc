"""An answer tapped while the laptop sleeps is not lost, and never stored twice."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from casebook.consultations import Consultation, load
from casebook.store import open_store

ROOT = Path(__file__).parent.parent


class Laptop:
    """The real program on one port and one folder; it can be killed and started again."""

    def __init__(self, folder: Path, port: int) -> None:
        self.folder, self.port = folder, port
        self.address = f"http://localhost:{port}"
        self.start()

    def start(self) -> None:
        self.child = subprocess.Popen(
            [sys.executable, "-m", "web", "--port", str(self.port), "--folder", str(self.folder)],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self.child.stdout
        for line in self.child.stdout:
            if "Ctrl+C" in line:
                break

    def kill(self) -> None:
        self.child.send_signal(signal.SIGKILL)
        self.child.wait()
        assert self.child.stdout
        self.child.stdout.close()

    def told(self, token: str) -> Consultation:
        with open_store(self.folder / "casebook.sqlite3") as store:
            return load(store, token)


@pytest.fixture
def laptop(tmp_path: Path) -> Iterator[Laptop]:
    made = Laptop(tmp_path, 18790)
    yield made
    made.kill()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    opened = context.new_page()
    opened.set_default_timeout(15_000)
    yield opened
    context.close()


def at_the_complaint(page: Page, laptop: Laptop) -> str:
    page.goto(f"{laptop.address}/start?stage=cook-paste")
    page.click('button[value="summit"]')
    page.wait_for_url("**/complaint")
    return page.url.split("/c/")[1].split("/")[0]


def test_an_answer_to_a_killed_server_arrives_once_after_it_is_back(
    page: Page, laptop: Laptop
) -> None:
    token = at_the_complaint(page, laptop)
    page.goto(f"{laptop.address}/c/{token}/timers")
    page.fill("#what", "The slab chills")
    page.click('button[name="minutes"][value="120"]')
    page.wait_for_selector("[data-until]")
    until = page.get_attribute("[data-until]", "data-until")
    page.goto(f"{laptop.address}/c/{token}/complaint")
    laptop.kill()
    page.click('button[value="slumps"]')
    expect(page.get_by_role("status")).to_have_text("Not saved yet. Trying again.")
    expect(page.get_by_role("button", name="Send it again now")).to_be_visible()
    laptop.start()
    page.wait_for_url(lambda url: "/complaint" not in url)
    told = laptop.told(token)
    assert [e.name for e in told.entries if e.kind == "complaint"] == ["cook-paste"]
    page.goto(f"{laptop.address}/c/{token}/timers")
    assert page.get_attribute("[data-until]", "data-until") == until


def test_an_answer_pending_in_a_closed_page_is_sent_when_any_page_is_opened(
    page: Page, laptop: Laptop
) -> None:
    token = at_the_complaint(page, laptop)
    laptop.kill()
    page.click('button[value="slumps"]')
    expect(page.get_by_role("status")).to_have_text("Not saved yet. Trying again.")
    context = page.context
    page.close()
    laptop.start()
    other = context.new_page()
    other.goto(laptop.address)
    other.wait_for_url(f"**/c/{token}/**")
    assert len([e for e in laptop.told(token).entries if e.kind == "complaint"]) == 1


def test_a_double_tap_and_going_back_to_tap_again_are_one_answer(
    page: Page, laptop: Laptop
) -> None:
    token = at_the_complaint(page, laptop)
    page.dblclick('button[value="slumps"]')
    page.wait_for_url(lambda url: "/complaint" not in url)
    page.go_back(wait_until="commit")
    page.click('button[value="slumps"]')
    page.wait_for_url(lambda url: "/complaint" not in url)
    assert len([e for e in laptop.told(token).entries if e.kind == "complaint"]) == 1


def test_what_the_server_refuses_is_shown_as_its_own_page(page: Page, laptop: Laptop) -> None:
    token = at_the_complaint(page, laptop)
    page.goto(f"{laptop.address}/c/{token}/ask/paste-temperature")
    page.fill("#value", "very hot")
    page.click('button[value="number"]')
    expect(page.get_by_role("alert")).to_be_visible()
    assert page.title().startswith("Error:")
    assert page.evaluate("localStorage['panadier-unsent']") in (None, "0")
    expect(page.locator("#value")).to_have_value("very hot")


def test_an_answer_that_leads_back_to_its_own_page_shows_what_follows(
    page: Page, laptop: Laptop
) -> None:
    token = at_the_complaint(page, laptop)
    page.goto(f"{laptop.address}/c/{token}/right/temper")
    page.locator("summary").first.click()
    page.fill("#yolk-window-paste", "90 °C")
    page.click("text=Work it out")
    expect(page.get_by_text("Wait: over 85 °C")).to_be_visible()


def test_going_on_after_an_answer_costs_two_requests_as_without_script(
    page: Page, laptop: Laptop
) -> None:
    at_the_complaint(page, laptop)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.method))
    page.click('button[value="slumps"]')
    page.wait_for_url(lambda url: "/complaint" not in url)
    time.sleep(0.2)
    assert asked == ["POST", "GET"]
