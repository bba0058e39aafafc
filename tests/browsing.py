"""Taps that wait for the page they lead to."""

from __future__ import annotations

from playwright.sync_api import Locator, Page


def follow(page: Page, target: Locator) -> None:
    """Tap, and wait until the next page is there."""
    with page.expect_navigation():
        target.click()


def skip_questions(page: Page) -> None:
    """Say "I did not look" until there is advice."""
    for _ in range(20):
        if "/ask/" not in page.url:
            return
        follow(page, page.locator('button[value="not-looked"]'))
    raise AssertionError("no advice after twenty questions")


def consultation(page: Page, address: str) -> str:
    """A consultation about a paste that slumps at the Summit; its address."""
    page.goto(f"{address}/start?stage=cook-paste")
    follow(page, page.locator('button[value="summit"]'))
    follow(page, page.locator('button[value="slumps"]'))
    return page.url.split("/ask/")[0].split("/remedy/")[0]
