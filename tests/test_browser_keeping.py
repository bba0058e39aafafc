"""In a browser: a cook ends a batch and keeps it; an instructor enters what was seen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from test_web_keeping import a_picture

from browsing import consultation, follow, skip_questions
from casebook.cases import case, cases_of, confirmed, photos
from desk import NAME, PASSPHRASE

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
    opened = context.new_page()
    opened.set_default_timeout(10_000)
    yield opened
    context.close()


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    path = tmp_path / "dough.jpg"
    path.write_bytes(a_picture(size=(3000, 2000)))
    return path


def to_the_end(page: Page, address: str) -> str:
    here = consultation(page, address)
    page.goto(here)
    skip_questions(page)
    page.goto(f"{here}/end")
    follow(page, page.locator('button[value="not-quite"]'))
    return here


def test_a_cook_ends_a_batch_and_keeps_it_with_a_note_and_a_photo(
    page: Page, site: Served, picture: Path
) -> None:
    here = to_the_end(page, site.address)
    assert page.url == f"{here}/keep"
    page.fill("#note", "x" * 2_001)
    follow(page, page.get_by_role("button", name="Keep it"))
    expect(page.locator("#note")).to_have_value("x" * 2_001)
    page.fill("#note", "It only looked wet.")
    page.fill("#class", "tue-2")
    page.set_input_files("#photo", picture)
    follow(page, page.get_by_role("button", name="Keep it"))
    expect(page.get_by_role("heading", level=1)).to_have_text("This batch is kept")
    (id,) = cases_of(site.store, here.rsplit("/", 1)[1])
    kept = case(site.store, id)
    assert (kept.note, kept.class_code) == ("It only looked wet.", "TUE-2")
    assert kept.outcome == "not-quite"
    assert len(photos(site.store, id)) == 1
    expect(page.locator(f'a[href="/cases/{id}"]')).to_be_visible()


def sign_in(page: Page, address: str) -> None:
    page.goto(f"{address}/desk/sign-in")
    page.locator('input[name="name"]').fill(NAME)
    page.locator('input[name="passphrase"]').fill(PASSPHRASE)
    follow(page, page.locator('main button[type="submit"]').first)


def test_an_instructor_enters_a_failure_with_seven_acts(page: Page, site: Served) -> None:
    """A stage, what went wrong, the kitchen, how it came out, the cause, a note, keep."""
    sign_in(page, site.address)
    page.goto(f"{site.address}/desk/cases/new")
    follow(page, page.get_by_role("link", name="Cook the paste"))
    page.select_option("#complaint", "like-soup")
    page.select_option("#kitchen", "summit")
    page.select_option("#outcome", "not-quite")
    page.select_option("#cause", "undercooked-paste")
    page.fill("#note", "Taken off at the first bubble.")
    follow(page, page.get_by_role("button", name="Keep it"))
    expect(page.get_by_text("Kept:")).to_be_visible()
    ((kept, said),) = confirmed(site.store)
    assert (kept.elevation_m, said.causes, said.by) == (2310, ("undercooked-paste",), NAME)


def test_an_instructor_takes_the_casebook_out_by_keyboard(page: Page, site: Served) -> None:
    sign_in(page, site.address)
    page.goto(f"{site.address}/desk/exchange")
    with page.expect_navigation():
        page.get_by_role("button", name="An archive of all cases").press("Enter")
    with page.expect_download() as download:
        page.get_by_role("link", name="Save it").press("Enter")
    assert download.value.suggested_filename.endswith(".zip")


@pytest.mark.parametrize(("scheme", "width"), [("light", 390), ("dark", 390), ("light", 1280)])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(
    browser: Browser, site: Served, picture: Path, scheme: Literal["light", "dark"], width: int
) -> None:
    context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)
    page = context.new_page()
    found: list[tuple[str, str, str]] = []
    wide: list[tuple[str, int]] = []

    def look(name: str) -> None:
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        violations = Axe().run(page).response["violations"]
        found.extend((name, v["id"], v["nodes"][0]["html"][:160]) for v in violations)
        page.set_viewport_size({"width": 320, "height": 640})
        over = page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        if over > 1:
            wide.append((name, over))
        page.set_viewport_size({"width": width, "height": 844})

    to_the_end(page, site.address)
    look("keep")
    page.fill("#note", "x" * 2_001)
    follow(page, page.get_by_role("button", name="Keep it"))
    look("keep, refused")
    page.fill("#note", "Short")
    page.set_input_files("#photo", picture)
    follow(page, page.get_by_role("button", name="Keep it"))
    look("kept")
    follow(page, page.locator("a.door").first)
    page.locator("main img").scroll_into_view_if_needed()
    expect(page.locator("main img")).to_have_js_property("complete", True)
    look("case with a photo")
    sign_in(page, site.address)
    for path in ("cases/new", "cases/new?stage=cook-paste", "exchange"):
        page.goto(f"{site.address}/desk/{path}")
        look(path)
    follow(page, page.get_by_role("button", name="A table of all cases"))
    look("job")
    context.close()
    assert found == []
    assert wide == []
