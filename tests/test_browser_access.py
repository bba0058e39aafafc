"""Whether anybody can use it: axe, target sizes, reflow, focus, print; light and dark."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from browsing import consultation, follow, skip_questions

if TYPE_CHECKING:
    from conftest import Served

Scheme = Literal["light", "dark"]


def pages(page: Page, address: str) -> Iterator[str]:
    """Every kind of page, one after the other, open in the browser."""
    here = consultation(page, address)
    for path in (
        "", "start", "right", "right/cook-paste", "cases", "rules", "plan",
        "plan?guests=12&kitchen=summit&serve=19:30&day=later", "timers", "nowhere",
    ):  # fmt: skip
        page.goto(f"{address}/{path}")
        yield path
    for path in ("stage", "complaint", "ask/paste-body", "ask/paste-temperature", "told", "setup",
                 "over", "right/cook-paste", "right/chill", "timers", "end", "summary",
                 "turning", "why-not/scorched"):  # fmt: skip
        page.goto(f"{here}/{path}")
        yield path
    page.goto(f"{address}/start")
    page.locator("summary").click()
    page.fill("#elevation", "high")
    with page.expect_navigation():
        page.press("#elevation", "Enter")
    yield "start with a mistake"
    page.goto(here)
    skip_questions(page)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    yield "remedy"
    follow(page, page.get_by_role("button", name="Start a timer"))
    follow(page, page.get_by_role("button", name="It worked"))
    yield "done"


@pytest.fixture
def phone(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    scheme: Scheme = getattr(request, "param", "light")
    context = browser.new_context(viewport={"width": 390, "height": 844}, color_scheme=scheme)
    opened = context.new_page()
    opened.set_default_timeout(10_000)
    yield opened
    context.close()


@pytest.mark.parametrize("phone", ["light", "dark"], indirect=True)
def test_axe_finds_nothing_on_any_kind_of_page(phone: Page, site: Served) -> None:
    axe = Axe()
    found = []
    for name in pages(phone, site.address):
        result = axe.run(phone)
        found += [
            (name, v["id"], v["nodes"][0]["html"][:200]) for v in result.response["violations"]
        ]
    assert found == []


def test_every_target_is_large_enough_for_a_wet_finger(phone: Page, site: Served) -> None:
    small = []
    for name in pages(phone, site.address):
        boxes = phone.evaluate(
            """() => [...document.querySelectorAll("a, button, summary, select, input, .pick")]
            .filter(e => e.offsetParent && !["hidden", "radio", "checkbox"].includes(e.type))
            .map(e => [e.outerHTML.slice(0, 80), e.tagName, e.getBoundingClientRect().height])"""
        )
        for html, tag, height in boxes:
            least = 60 if tag == "BUTTON" else 44
            if height < least - 0.5:
                small.append((name, html, height))
    assert small == []


def test_nothing_scrolls_sideways_at_320_pixels_or_with_text_doubled(
    phone: Page, site: Served
) -> None:
    wide = []
    phone.set_viewport_size({"width": 320, "height": 640})
    for name in pages(phone, site.address):
        width = phone.evaluate("document.documentElement.scrollWidth")
        if width > 320:
            wide.append((name, width))
        phone.evaluate("document.documentElement.style.fontSize = '200%'")
        doubled = phone.evaluate("document.documentElement.scrollWidth")
        if doubled > 320:
            wide.append((f"{name}, doubled", doubled))
    assert wide == []


def test_base_text_is_large_and_lines_are_open(phone: Page, site: Served) -> None:
    phone.goto(site.address)
    size, height, width = phone.evaluate(
        """() => { const s = getComputedStyle(document.body);
        return [parseFloat(s.fontSize), parseFloat(s.lineHeight), document.body.offsetWidth]; }"""
    )
    assert size >= 20
    assert height >= 1.45 * size - 0.01
    assert width <= 40 * size


def test_the_first_answers_are_in_sight_without_scrolling(phone: Page, site: Served) -> None:
    here = consultation(phone, site.address)
    for path in ("stage", "complaint", "ask/paste-body"):
        phone.goto(f"{here}/{path}")
        bottoms = phone.evaluate(
            "[...document.querySelectorAll('.answer')].map(e => e.getBoundingClientRect().bottom)"
        )
        assert sum(bottom <= 844 for bottom in bottoms) >= 4, path


def test_the_mistake_is_where_the_keyboard_is(phone: Page, site: Served) -> None:
    phone.goto(f"{site.address}/start")
    phone.locator("summary").click()
    phone.fill("#elevation", "high")
    phone.press("#elevation", "Enter")
    expect(phone.get_by_role("alert")).to_be_focused()
    phone.keyboard.press("Tab")
    phone.keyboard.press("Enter")
    expect(phone.locator("#elevation")).to_be_focused()


def test_focus_is_seen(phone: Page, site: Served) -> None:
    phone.goto(site.address)
    phone.keyboard.press("Tab")
    width = phone.evaluate("parseFloat(getComputedStyle(document.activeElement).outlineWidth)")
    assert width >= 4


def test_a_printed_remedy_has_no_buttons(phone: Page, site: Served) -> None:
    consultation(phone, site.address)
    skip_questions(phone)
    phone.emulate_media(media="print")
    expect(phone.locator(".first")).to_be_visible()
    assert not phone.get_by_role("button").count()


def test_the_timer_counts_down_and_the_clock_time_stays(phone: Page, site: Served) -> None:
    consultation(phone, site.address)
    skip_questions(phone)
    follow(phone, phone.get_by_role("button", name="Start a timer"))
    left = phone.get_by_role("timer")
    expect(left).to_contain_text("left")
    assert left.get_attribute("aria-live") is None
    clock = phone.locator(".timer").inner_text().split(".")[0]
    phone.reload()
    assert phone.locator(".timer").inner_text().startswith(clock)
