"""Suggestions and the standing of a rule on a phone: accepted, dismissed, and read by anybody."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from suggestion_cases import keep_planted

from browsing import follow

if TYPE_CHECKING:
    from conftest import Served

NAME = "pattern-seen-lumps-soft-milk-over"


def go(page: Page, address: str, path: str) -> None:
    """Open a page of the desk, and wait while it is worked out."""
    page.goto(f"{address}/desk/{path}")
    # the page that says so asks again by itself
    waiting = page.get_by_role("heading", name="Working it out")
    waiting.wait_for(state="detached", timeout=30_000)


def wrong(page: Page) -> list[tuple[str, str, str]]:
    """What axe finds, and whether the page is wider than the phone."""
    found = [
        (page.url, v["id"], v["nodes"][0]["html"][:150])
        for v in Axe().run(page).response["violations"]
    ]
    if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
        found.append((page.url, "wider than the phone", ""))
    return found


@pytest.mark.parametrize(("scheme", "script"), [("light", True), ("dark", True), ("light", False)])
def test_a_suggestion_is_read_dismissed_brought_back_and_made_a_rule_of(
    scheme: Literal["light", "dark"], script: bool, browser: Browser, site: Served
) -> None:
    keep_planted(
        site.store, site.book.book.doughs[0], 240, dict.fromkeys((1, 2, 3), "Wet cardboard")
    )
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, color_scheme=scheme, java_script_enabled=script
    )
    page = context.new_page()
    page.set_default_timeout(10_000)
    found = []

    def look() -> None:
        if script:
            found.extend(wrong(page))

    page.goto(f"{site.address}/desk")
    page.fill("#name", "Instructor A")
    page.fill("#passphrase", "copper ladle under seven lamps")
    follow(page, page.get_by_role("button", name="Begin"))
    go(page, site.address, "suggestions")
    look()
    follow(page, page.locator(f'a[href="/desk/suggestions/{NAME}"]'))
    look()
    follow(page, page.get_by_role("button", name="Dismiss it"))
    assert page.get_by_text("There is a problem").is_visible()
    look()
    page.fill("#why", "All from one class")
    follow(page, page.get_by_role("button", name="Dismiss it"))
    page.get_by_text("Dismissed: 1").click()
    look()
    follow(page, page.locator(f'details a[href="/desk/suggestions/{NAME}"]'))
    page.fill("#why", "Another class saw it too")
    follow(page, page.get_by_role("button", name="Bring it back"))
    follow(page, page.locator(f'a[href="/desk/suggestions/{NAME}"]'))
    follow(page, page.get_by_role("link", name="Make a draft rule of it"))
    assert "own-cases" in page.content()
    go(page, site.address, "suggestions/word-cardboard")
    look()
    go(page, site.address, "rules/crowd-cools-the-pan/standing")
    look()
    page.locator('input[name="standing"]').last.check()
    follow(page, page.get_by_role("button", name="Change its standing"))
    assert page.get_by_text("Say why").first.is_visible()
    look()
    assert found == []
    context.close()
