"""A learner finds "torn crust at altitude", reads it, and practises three cases, in a browser."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from browsing import follow
from casebook.shipping import exercise_name, ship

if TYPE_CHECKING:
    from conftest import Served


WIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
LOOKED = "looked=pulls-away.paste-body.paste-temperature"
NAMED = "cause=little-driven-off&remedy=cook-on-hotter"


@pytest.fixture(params=[True, False], ids=["script on", "script off"])
def page(request: pytest.FixtureRequest, browser: Browser) -> Iterator[Page]:
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, java_script_enabled=request.param
    )
    with context:
        yield context.new_page()


def test_a_learner_finds_a_torn_crust_reads_it_and_practises_three(
    page: Page, site: Served
) -> None:
    ship(site.store, site.book.book)
    page.goto(site.address)
    follow(page, page.locator("a.door", has_text="Casebook"))
    page.fill("#q", "torn crust at altitude")
    follow(page, page.get_by_role("button", name="Search"))
    follow(page, page.locator(".links a").first)
    expect(page.locator("h2", has_text="What it turned out to be")).to_be_visible()
    expect(page.locator("main")).to_contain_text("Summit")
    page.go_back(wait_until="commit")
    expect(page.locator("#q")).to_have_value("torn crust at altitude")
    follow(page, page.locator("a", has_text="Practise"))
    follow(page, page.locator("a.door").first)
    for _ in range(3):
        practise_one(page)
    follow(page, page.locator(".crumb a", has_text="Practise"))
    expect(page.locator("main")).to_contain_text("You have answered 3 cases")


def practise_one(page: Page) -> None:
    """Take two looks, go back once, name the first cause and the first remedy, see the truth."""
    expect(page.locator(".timer")).to_have_text("Time spent: 0 s")
    follow(page, page.locator("details[open] button").first)
    first = page.url
    follow(page, page.locator("details[open] button").first)
    assert page.url != first
    page.reload()
    page.go_back(wait_until="commit")
    expect(page).to_have_url(first)
    follow(page, page.locator("a.door", has_text="I know it"))
    follow(page, page.locator("button.answer:visible").first)
    follow(page, page.locator("button.answer:visible").first)
    expect(page.locator("h2", has_text="What it was")).to_be_visible()
    page.reload()
    follow(page, page.locator("a.door", has_text="Next case"))


@pytest.mark.parametrize(("scheme", "width"), [("light", 390), ("dark", 390), ("light", 1280)])
def test_axe_finds_nothing_in_the_library_nothing_is_small_or_scrolls_sideways(
    browser: Browser, site: Served, scheme: Literal["light", "dark"], width: int
) -> None:
    ship(site.store, site.book.book)
    practise = f"/practise/{exercise_name('first-time-at-summit')}"
    paths = (
        "/cases?q=paste&stage=cook-paste&sign=paste-body.slumps", "/cases?q=curds&stage=brown",
        "/cases/choose?stage=brown", "/cases/of-the-book", "/cases/the-spoonful-at-summit",
        "/practise", f"{practise}?{LOOKED}", f"{practise}/cause",
        f"{practise}/remedy?cause=little-driven-off", f"{practise}/answer?{LOOKED}&{NAMED}",
    )  # fmt: skip
    context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)
    page, found = context.new_page(), []
    for path in paths:
        page.goto(site.address + path)
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        violations = Axe().run(page).response["violations"]
        found += [(path, v["id"], v["nodes"][0]["html"][:160]) for v in violations]
        small = page.evaluate(
            "[...document.querySelectorAll('button.answer')].filter(b =>"
            " b.offsetParent && b.getBoundingClientRect().height < 60).length"
        )
        page.set_viewport_size({"width": 320, "height": 844})
        found += [(path, "sideways", "")] * (page.evaluate(WIDE) > 1)
        page.set_viewport_size({"width": width, "height": 844})
        found += [(path, "small", "")] * small
    context.close()
    assert found == []
