"""Eight cooks, one for each way it goes wrong: from the complaint to what helps, in a browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from browsing import follow

if TYPE_CHECKING:
    from conftest import Served

MOST_QUESTIONS = 8


@dataclass(frozen=True)
class Story:
    """What a cook complains of, what they would see if asked, and what should come first."""

    name: str
    stage: str
    complaint: str
    remedies: tuple[str, ...]
    seen: dict[str, str] = field(default_factory=dict)


STORIES = (
    Story("soupy", "cook-paste", "like-soup", ("cook-on-hotter",),
          {"held-hot": "no", "bubbling": "none", "heat-source": "direct"}),
    Story("sticky", "shape", "sticks-to-all", ("oil-board-and-hands",),
          {"oiled": "dry"}),
    Story("will not leave the pan", "cook-paste", "will-not-leave-the-pan", ("cook-on-hotter",),
          {"held-hot": "no", "bubbling": "none"}),
    Story("broken after the yolk", "temper", "oily", ("cool-and-beat-in-warm-milk",),
          {"fat": "pooling"}),
    Story("greasy", "enrich", "greasy", ("cool-and-beat-in-warm-milk", "cool-and-beat")),
    Story("slab soft", "chill", "still-soft", ("chill-longer",)),
    Story("tears in the pan", "brown", "stick-and-tear", ("leave-until-they-slide",),
          {"side-time": "under-3", "blot": "dry"}),
    Story("cold on the plate", "serve", "lukewarm", ("finish-in-the-oven",),
          {"served-how": "browned-only"}),
)  # fmt: skip


@pytest.fixture(
    params=[(True, "light"), (False, "dark")], ids=["script on, light", "script off, dark"]
)
def page(request: pytest.FixtureRequest, browser: Browser) -> Iterator[Page]:
    script, scheme = request.param
    colours: Literal["light", "dark"] = "dark" if scheme == "dark" else "light"
    context = browser.new_context(
        viewport={"width": 390, "height": 844},
        java_script_enabled=script,
        color_scheme=colours,
    )
    opened = context.new_page()
    opened.set_default_timeout(10_000)
    yield opened
    context.close()


def to_the_remedy(page: Page, site: Served, story: Story) -> int:
    """From the complaint to the first remedy; the questions answered on the way."""
    page.goto(f"{site.address}/start?stage={story.stage}")
    follow(page, page.locator('button[value="summit"]'))
    button = page.locator(f'button[name="complaint"][value="{story.complaint}"]')
    if not button.is_visible():
        page.locator("summary").first.click()
    follow(page, button)
    asked = 0
    while "/ask/" in page.url:
        name = page.url.rsplit("/", 1)[1]
        expect(page.locator(".meanwhile")).to_be_visible()
        follow(page, page.locator(f'button[value="{story.seen.get(name, "not-looked")}"]'))
        asked += 1
        assert asked <= MOST_QUESTIONS, page.url
    return asked


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.name)
def test_a_cook_is_led_from_the_complaint_to_what_helps(
    page: Page, site: Served, story: Story
) -> None:
    to_the_remedy(page, site, story)
    assert page.url.rsplit("/", 1)[1] in story.remedies
    expect(page.locator(".first")).to_be_visible()
    expect(page.get_by_text("Give up when")).to_be_visible()
    follow(page, page.get_by_role("button", name="It worked"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("Carry on")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_way(browser: Browser, site: Served, scheme: str) -> None:
    colours: Literal["light", "dark"] = "dark" if scheme == "dark" else "light"
    context = browser.new_context(viewport={"width": 390, "height": 844}, color_scheme=colours)
    page, found = context.new_page(), []
    for story in STORIES:
        to_the_remedy(page, site, story)
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        violations = Axe().run(page).response["violations"]
        found += [(story.name, v["id"], v["nodes"][0]["html"][:120]) for v in violations]
    context.close()
    assert found == []


def test_no_page_of_a_story_scrolls_sideways_at_320_px_or_with_text_twice_as_large(
    browser: Browser, site: Served
) -> None:
    """WCAG 1.4.10 and 1.4.4."""
    context = browser.new_context(viewport={"width": 320, "height": 640})
    page, wide = context.new_page(), []
    for story in STORIES:
        to_the_remedy(page, site, story)
        here = page.url.rsplit("/remedy/", 1)[0]
        for path in (page.url, f"{here}/complaint", f"{here}/right/{story.stage}"):
            page.goto(path)
            for size in ("100%", "200%"):
                page.evaluate(f"document.documentElement.style.fontSize = '{size}'")
                over = page.evaluate(
                    "document.documentElement.scrollWidth - document.documentElement.clientWidth"
                )
                if over > 1:
                    wide.append((story.name, path.rsplit("/", 2)[1:], size, over))
    context.close()
    assert wide == []


def test_a_remedy_prints_on_one_page_without_buttons(browser: Browser, site: Served) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    for story in STORIES:
        to_the_remedy(page, site, story)
        page.emulate_media(media="print")
        pdf = page.pdf(format="A4")
        assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 1, story.name
        assert not page.get_by_role("button").count()
        page.emulate_media(media="screen")
    context.close()
