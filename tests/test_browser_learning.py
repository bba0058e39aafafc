"""An instructor confirms five cases in a row with the keyboard alone, and reads what they teach.

Outside checks: W3C, Web Content Accessibility Guidelines 2.2, success criterion 2.1.1 (keyboard),
and what axe-core finds.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

import desk
from casebook.cases import keep_case, marks, queue
from casemaking import MADE_EACH, NOON

if TYPE_CHECKING:
    from conftest import Served

CASES = ("aaa", "bbb", "ccc", "ddd", "eee")
TAB_STOPS = 40
"""More than any page of the desk has."""


@pytest.fixture(params=[True, False], ids=["script on", "script off"])
def page(request: pytest.FixtureRequest, browser: Browser) -> Iterator[Page]:
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, java_script_enabled=request.param
    )
    opened = context.new_page()
    opened.set_default_timeout(10_000)
    yield opened
    context.close()


class Keys:
    """Presses keys, and counts them."""

    def __init__(self, page: Page) -> None:
        self.page, self.pressed = page, 0

    def press(self, *names: str) -> None:
        for name in names:
            self.page.keyboard.press(name)
            self.pressed += 1

    def send(self) -> None:
        with self.page.expect_navigation():
            self.press("Enter")


def at_the_queue(page: Page, site: Served) -> None:
    """Five cases wait, hours apart and so no doubles; the instructor has just signed in."""
    for n, name in enumerate(CASES):
        moment = NOON.replace(hour=4 * n)
        case = replace(MADE_EACH["soupy-at-harbour"], id=name, opened=moment, kept=moment)
        keep_case(site.store, case, f"keep {name}")
    page.goto(f"{site.address}/desk/queue")
    page.get_by_label("Name").fill(desk.NAME)
    page.get_by_label("Passphrase").fill(desk.PASSPHRASE)
    with page.expect_navigation():
        page.keyboard.press("Enter")
    page.goto(f"{site.address}/desk/queue")


def test_five_cases_are_confirmed_in_a_row_by_ten_keys(page: Page, site: Served) -> None:
    at_the_queue(page, site)
    keys = Keys(page)
    for name in CASES:
        assert page.url.split("?")[0].endswith(f"/desk/queue/{name}")
        page.locator("input[name=say]:focus").wait_for()
        keys.press("Space")
        keys.send()
    assert keys.pressed == 10
    assert page.locator("h1").inner_text() == "Nothing waits"
    for name in CASES:
        (mark,) = marks(site.store, name)
        assert (mark.verdict, mark.causes, mark.by) == (
            "confirmed",
            ("undercooked-paste",),
            desk.NAME,
        )


def test_a_correction_a_doubt_and_a_skip_need_no_mouse_either(page: Page, site: Served) -> None:
    at_the_queue(page, site)
    keys = Keys(page)
    page.locator("input[name=say]:focus").wait_for()
    # another cause: to the list, and by its first letters
    keys.press("Tab")
    if page.evaluate("document.activeElement.tagName") != "SELECT":
        keys.press("Tab")
    option = page.locator("#another option").nth(1)
    wanted = option.inner_text()
    page.keyboard.type(wanted[:12], delay=5)
    keys.press("Shift+Tab")
    keys.send()
    (mark,) = marks(site.store, "aaa")
    assert mark.causes == (cause_of(site, wanted),)
    # it cannot be told
    page.locator("input[name=say]:focus").wait_for()
    keys.press("ArrowDown", "ArrowDown")
    assert page.evaluate("document.activeElement.value") == "doubtful"
    keys.send()
    assert marks(site.store, "bbb")[0].verdict == "doubtful"
    page.locator("input[name=say]:focus").wait_for()
    # skipped: the link behind the form
    for _ in range(TAB_STOPS):
        if page.evaluate("document.activeElement.textContent") == "Skip this one":
            break
        keys.press("Tab")
    keys.send()
    assert page.url.split("?")[0].endswith("/desk/queue/ddd")
    assert [head.id for head in queue(site.store)] == ["ccc", "ddd", "eee"]


def cause_of(site: Served, words: str) -> str:
    """The cause of these words, in the shipped book."""
    return next(c.id for c in site.book.book.doughs[0].causes if c.say == words)


@pytest.mark.parametrize(("scheme", "width"), [("light", 390), ("dark", 390), ("light", 1280)])
def test_the_pages_about_learning_are_accessible(
    browser: Browser, site: Served, scheme: str, width: int
) -> None:
    context = browser.new_context(
        viewport={"width": width, "height": 844},
        color_scheme=scheme,  # type: ignore[arg-type]  # light or dark
    )
    page = context.new_page()
    page.set_default_timeout(10_000)
    at_the_queue(page, site)
    keys = Keys(page)
    page.locator("input[name=say]:focus").wait_for()
    keys.press("Space")
    keys.send()
    paths = ["/desk/queue", "/desk/queue/ccc?more=1", "/desk/learning", "/learning", "/reports"]
    paths += ["/learning/causes/undercooked-paste"]
    paths += ["/learning/rules/paste-body/undercooked-paste"]
    for path in paths:
        page.goto(site.address + path)
        # a page that waits looks again by itself
        expect(page).not_to_have_title(re.compile("^Working"), timeout=60_000)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
        assert Axe().run(page).response["violations"] == [], path
    context.close()
