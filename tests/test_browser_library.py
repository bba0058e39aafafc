"""A learner finds "torn crust at altitude", reads it, and practises three cases, in a browser."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from browsing import follow
from casebook.shipping import ship

if TYPE_CHECKING:
    from conftest import Served


@pytest.fixture(
    params=[(True, "light"), (False, "dark")], ids=["script on, light", "script off, dark"]
)
def page(request: pytest.FixtureRequest, browser: Browser) -> Iterator[Page]:
    script, scheme = request.param
    colours: Literal["light", "dark"] = "dark" if scheme == "dark" else "light"
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, java_script_enabled=script, color_scheme=colours
    )
    with context:
        yield context.new_page()


def fine(page: Page) -> None:
    """Axe finds nothing, everything tapped is large, and nothing scrolls sideways."""
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    for answer in page.locator("button.answer:visible").all():
        box = answer.bounding_box()
        assert box is not None
        assert box["height"] >= 60


def test_a_learner_finds_a_torn_crust_reads_it_and_practises_three(
    page: Page, site: Served
) -> None:
    ship(site.store, site.book.book)
    page.goto(site.address)
    follow(page, page.locator("a.door", has_text="Casebook"))
    page.fill("#q", "torn crust at altitude")
    follow(page, page.get_by_role("button", name="Search"))
    fine(page)
    follow(page, page.locator(".links a").first)
    expect(page.locator("h2", has_text="What it turned out to be")).to_be_visible()
    expect(page.locator("main")).to_contain_text("Summit")
    fine(page)
    page.go_back()
    expect(page.locator("#q")).to_have_value("torn crust at altitude")
    follow(page, page.locator("a", has_text="Practise"))
    fine(page)
    follow(page, page.locator("a.door").first)
    for n in range(3):
        practise_one(page, check=n == 0)
    follow(page, page.locator(".crumb a", has_text="Practise"))
    expect(page.locator("main")).to_contain_text("You have answered 3 cases")


def practise_one(page: Page, *, check: bool) -> None:
    """Take two looks, go back once, name the first cause and the first remedy, see the truth."""
    expect(page.locator(".timer")).to_have_text("Time spent: 0 s")
    follow(page, page.locator("details[open] button").first)
    first = page.url
    follow(page, page.locator("details[open] button").first)
    assert page.url != first
    page.reload()
    page.go_back()
    assert page.url == first
    if check:
        fine(page)
    follow(page, page.locator("a.door", has_text="I know it"))
    if check:
        fine(page)
    follow(page, page.locator("button.answer").first)
    follow(page, page.locator("button.answer").first)
    expect(page.locator("h2", has_text="What it was")).to_be_visible()
    page.reload()
    if check:
        fine(page)
        return_and_come_back(page)
    follow(page, page.locator("a.door", has_text="Next case"))


def return_and_come_back(page: Page) -> None:
    """The case itself can be read from the answer."""
    here = page.url
    follow(page, page.locator("a", has_text="Read this case"))
    expect(page.locator("h2", has_text="What was told, in order")).to_be_visible()
    page.go_back()
    assert page.url == here
