"""The whole walk in a real browser, at a phone's size, with and without script."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Browser, Page, expect

from browsing import follow

if TYPE_CHECKING:
    from conftest import Served

MOST_TAPS = 6
"""From the first page to the first remedy."""


@pytest.fixture(params=[True, False], ids=["script on", "script off"])
def page(request: pytest.FixtureRequest, browser: Browser) -> Iterator[Page]:
    context = browser.new_context(
        viewport={"width": 390, "height": 844},
        device_scale_factor=3,
        has_touch=True,
        is_mobile=True,
        java_script_enabled=request.param,
    )
    opened = context.new_page()
    opened.set_default_timeout(10_000)
    yield opened
    context.close()


class Cook:
    """Taps and counts the taps."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.taps = page, 0
        self.requests: list[str] = []
        page.on("request", lambda r: self.requests.append(r.url))
        page.goto(address)

    def tap(self, words: str) -> None:
        button = self.page.get_by_role("button", name=words)
        follow(self.page, button.or_(self.page.get_by_role("link", name=words)).first)
        self.taps += 1

    def to_the_paste(self, complaint: str) -> None:
        self.tap("Something is wrong")
        self.tap("Summit")
        self.tap("Cook the paste")
        self.tap(complaint)

    def to_the_remedy(self) -> None:
        """Answer as the cook at the Summit would, whose paste is loose and hardly warm."""
        seen = {
            "paste-body": "slumps",
            "pulls-away": "no",
            "bubbling": "none",
            "held-hot": "no",
            "raw-flour-taste": "yes",
            "heat-source": "direct",
        }
        while "/ask/" in self.page.url:
            name = self.page.url.rsplit("/", 1)[1]
            answer = seen.get(name, "not-looked")
            follow(self.page, self.page.locator(f'button[value="{answer}"]'))
            self.taps += 1
            assert self.taps < 20


@pytest.mark.parametrize(
    "complaint", ["It slumps and will not hold together", "It will not leave the pan"]
)
def test_a_cook_at_the_summit_is_rescued(page: Page, site: Served, complaint: str) -> None:
    cook = Cook(page, site.address)
    cook.to_the_paste(complaint)
    cook.to_the_remedy()
    assert cook.taps <= MOST_TAPS
    assert page.url.endswith("/remedy/cook-on-hotter")
    expect(page.locator(".first")).to_contain_text("minutes")
    expect(page.get_by_text("What you should see")).to_be_visible()
    expect(page.get_by_text("Give up when")).to_be_visible()
    page.get_by_text("Why I think so").tap()
    expect(page.locator("details[open]").first).to_be_visible()
    cook.tap("Start a timer")
    expect(page.locator(".timer")).to_contain_text("Until")
    cook.tap("It worked")
    assert page.url.endswith("/done")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Carry on")


def test_each_page_is_one_request(page: Page, site: Served) -> None:
    cook = Cook(page, site.address)
    cook.to_the_paste("It slumps")
    # Five pages were shown; three posts and a resumption led on by redirect.
    paths = [url.removeprefix(site.address) for url in cook.requests]
    assert not [p for p in paths if p.endswith((".css", ".js", ".ico", ".svg", ".png"))]
    assert len(paths) <= 1 + 1 + 3 + 2 + 2


def test_back_and_another_answer_changes_it(page: Page, site: Served) -> None:
    cook = Cook(page, site.address)
    cook.to_the_paste("It slumps")
    token = page.url.split("/c/")[1].split("/")[0]
    page.goto(f"{site.address}/c/{token}/ask/lumps")
    follow(page, page.locator('button[value="soft"]'))
    page.goto(f"{site.address}/c/{token}/ask/lumps")
    follow(page, page.locator('button[value="dry-inside"]'))
    page.go_back(wait_until="commit")
    follow(page, page.locator('button[value="none"]'))
    page.goto(f"{site.address}/c/{token}/told")
    expect(page.get_by_role("link", name="Change").first).to_be_visible()
    page.goto(f"{site.address}/c/{token}/ask/lumps")
    expect(page.locator('button[value="none"]')).to_contain_text("told before")


def test_the_address_brings_the_cook_back_after_the_server_restarts(
    page: Page, site: Served, browser: Browser
) -> None:
    cook = Cook(page, site.address)
    cook.to_the_paste("It slumps")
    cook.to_the_remedy()
    advice = page.url
    token = advice.split("/c/")[1].split("/")[0]
    site.stop()
    site.start()
    other = browser.new_context()
    phone = other.new_page()
    phone.goto(f"{site.address}/c/{token}")
    assert phone.url == advice
    phone.goto(site.address)
    expect(phone.get_by_role("link", name="Go on with your batch").first).to_be_visible()
    other.close()


def test_a_summit_cook_with_a_form_of_their_own_is_told_what_is_wrong_with_it(
    page: Page, site: Served
) -> None:
    page.goto(f"{site.address}/start")
    page.locator("summary").tap()
    page.fill("#elevation", "2310")
    page.press("#elevation", "Enter")
    expect(page.get_by_role("alert")).to_contain_text("no unit")
    assert page.title().startswith("Error:")
    page.fill("#elevation", "2310 m")
    page.press("#elevation", "Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Where are you with it?")
