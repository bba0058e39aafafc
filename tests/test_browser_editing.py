"""Monday: from four smeared slabs to a draft rule, by keyboard alone and on a phone."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any
from urllib.request import Request, urlopen

import pytest
from axe_playwright_python.sync_playwright import Axe
from monday import NEXT_COOK, monday_cases, next_cook
from playwright.sync_api import Browser, Page, expect

import desk as desk_browser
from browsing import follow

if TYPE_CHECKING:
    from conftest import Served

SAYS = "A slab chilled two hours in a box that smears is still warm"
WHY = "Still air round wood takes the heat away slowly"
NAME = "slab-chilled-two-hours-box-smears-still"


class Keys:
    """A keyboard and nothing else; counts its presses, words typed as one press a letter."""

    def __init__(self, page: Page) -> None:
        self.page, self.presses, self.letters = page, 0, 0

    def press(self, key: str) -> None:
        self.presses += 1
        self.page.keyboard.press(key)

    def to(self, selector: str) -> None:
        """Tab on until the focus is there."""
        for _ in range(160):
            if self.page.evaluate("s => document.activeElement.matches(s)", selector):
                return
            self.press("Tab")
        raise AssertionError(f"no way by Tab to {selector}")

    def type(self, selector: str, text: str) -> None:
        self.to(selector)
        self.letters += len(text)
        self.page.keyboard.type(text)

    def enter(self) -> None:
        with self.page.expect_navigation():
            self.press("Enter")


def answer(site: Served) -> bytes:
    """What the machine face says to the next cook, byte for byte."""
    host = site.address.removeprefix("http://")
    request = Request(
        f"http://127.0.0.1:{site.port}/api/v1/diagnose",
        json.dumps(NEXT_COOK).encode(),
        {"Content-Type": "application/json", "Host": host},
    )
    with urlopen(request, timeout=60) as got:
        return bytes(got.read())


def row(page: Page, subject: str) -> str:
    """The name of the condition about a subject in the form."""
    box = page.locator(f'input[type=hidden][value="{subject}"][name^="when-"]').first
    name = box.get_attribute("name")
    assert name
    return name


@pytest.fixture(params=["script", "no script"])
def desk(browser: Browser, request: pytest.FixtureRequest, site: Served) -> Iterator[Page]:
    context = browser.new_context(
        viewport={"width": 1280, "height": 900},
        java_script_enabled=request.param == "script",
    )
    page = context.new_page()
    page.set_default_timeout(60_000)
    page.set_default_navigation_timeout(90_000)
    yield page
    context.close()


def test_monday_by_keyboard_alone(desk: Page, site: Served, record_property: Any) -> None:
    case = monday_cases(site.store)[0]
    sign_in(desk, site)
    before = answer(site)
    keys, began = Keys(desk), time.monotonic()
    desk.goto(f"{site.address}/cases/{case}")
    keys.to('a[href^="/desk/rules/new"]')
    keys.enter()
    keys.type("#says", SAYS)
    for struck in ("knife-state", "covered-how"):
        keys.to(f"[name={row(desk, struck)}-keep]")
        keys.press("Space")
    widened = row(desk, "chilled-on")
    desk.evaluate("scrollTo(0, 0); document.activeElement.blur()")
    keys.to(f"#{widened} summary")
    keys.press("Enter")
    keys.to(f"[name={widened}-is-shelf]")
    keys.press("Space")
    keys.type("#why", WHY)
    keys.enter()
    preview = desk.locator("#preview")
    expect(preview).to_contain_text("In 4 of")
    expect(preview).to_contain_text("4 rightly, 0 wrongly")
    expect(preview).to_contain_text("“A wooden board or a closed box” or “A tray on a solid shelf”")
    keys.to("#preview button")
    keys.enter()
    expect(desk.locator("h1")).to_have_text("Saved")
    record_property("presses", keys.presses)
    took = time.monotonic() - began
    print(f"\nkeyboard: {keys.presses} presses, {keys.letters} letters, {took:.1f} s")
    after = answer(site)
    assert NAME.encode() in after
    assert after != before
    assert NAME.encode() not in before
    saved = desk.url
    with_draft(desk, site)
    desk.goto(saved)
    keys.to("form button.answer")
    keys.enter()
    expect(desk.locator("h1")).to_have_text("Taken back")
    assert answer(site) == before


def with_draft(page: Page, site: Served) -> None:
    """The next cook's page says that a draft rule spoke, and so does the rule's own."""
    first = json.loads(answer(site))["plan"][0]["remedy"]
    page.goto(f"{site.address}/c/{next_cook(site.store)}/remedy/{first}")
    why = page.locator("details").filter(has_text="Why I think so")
    why.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(why.locator("p").filter(has_text=SAYS).locator(".draft")).to_have_text("draft rule")
    page.goto(f"{site.address}/rules/{NAME}")
    expect(page.locator("main .draft")).to_have_text("draft")


def sign_in(page: Page, site: Served) -> None:
    page.goto(f"{site.address}/desk/sign-in")
    page.fill("[name=name]", desk_browser.NAME)
    page.fill("[name=passphrase]", desk_browser.PASSPHRASE)
    follow(page, page.locator("main form button[type=submit]").first)
    expect(page.locator("h1")).to_be_visible()


@pytest.mark.parametrize(("scheme", "script"), [("light", True), ("dark", True), ("light", False)])
def test_monday_on_a_phone(browser: Browser, site: Served, scheme: Any, script: bool) -> None:
    case = monday_cases(site.store)[0]
    context = browser.new_context(
        viewport={"width": 390, "height": 844},
        color_scheme=scheme,
        has_touch=True,
        java_script_enabled=script,
    )
    page = context.new_page()
    page.set_default_timeout(60_000)
    sign_in(page, site)
    axe, began = Axe(), time.monotonic()
    found: list[tuple[str, str, str]] = []

    def look(name: str) -> None:
        # The checker is a script itself: without one it never comes back.
        violations = axe.run(page).response["violations"] if script else []
        found.extend((name, v["id"], v["nodes"][0]["html"][:160]) for v in violations)
        width = page.evaluate("document.documentElement.scrollWidth")
        assert width <= 390, (name, width)

    page.goto(f"{site.address}/cases/{case}")
    follow(page, page.get_by_role("link", name="Make a rule from this"))
    look("new")
    page.fill("#says", SAYS)
    for struck in ("knife-state", "covered-how"):
        page.locator(f"[name={row(page, struck)}-keep]").tap()
    widened = row(page, "chilled-on")
    page.locator(f"#{widened} summary").tap()
    page.locator(f"[name={widened}-is-shelf]").tap()
    page.fill("#why", WHY)
    follow(page, page.locator("button.answer[value=preview]"))
    look("preview")
    follow(page, page.get_by_role("button", name="Save as draft"))
    look("saved")
    follow(page, page.get_by_role("button", name="Take it back"))
    look("taken back")
    for path in ("/desk/rules/smears-though-cold", "/desk/parts", "/desk/parts/signs/new",
                 "/desk/parts/causes/knife-drags", "/rules/smears-though-cold"):  # fmt: skip
        page.goto(f"{site.address}{path}")
        look(path)
    print(f"\nphone: {time.monotonic() - began:.1f} s")
    assert found == []
    context.close()
