"""The planner's pages and its machine face: the form, the plan, the batch that begins with it."""

from __future__ import annotations

import gzip
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser
from starlette.testclient import TestClient

from browsing import follow
from casebook.cases import keep_case
from casebook.consultations import load
from casebook.store import Store
from diagnose.consulting import OpenBook
from diagnose.kitchen.chilling import Chill, cuttable_now
from diagnose.knowledge.case import Case
from phone import Phone
from web.amounts import grams
from web.app import create_app
from web.tightening import tight
from web.working import batch_of

if TYPE_CHECKING:
    from conftest import Served

NOON = datetime(2026, 5, 4, 12, 0).astimezone()
STORY = (
    "guests=12&portion=small-plate&kitchen=summit&serve=19:30&flour_measured=dipped&pan=26+cm"
    "&milk=whole&flour=all-purpose&garnishes=Squash+cubes,2,8,10,burner"
)


class Clock:
    def __init__(self) -> None:
        self.now = NOON

    def __call__(self) -> datetime:
        return self.now.astimezone(UTC)

    def pass_min(self, minutes: float) -> None:
        self.now += timedelta(minutes=minutes)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """One clock for the pages and for what the casebook notes."""
    told = Clock()
    monkeypatch.setattr("casebook.consultations.now", told)
    return told


@pytest.fixture
def phone(book: OpenBook, store: Store, clock: Clock) -> Iterator[Phone]:
    app = create_app(book, store, hosts=["testserver"], now=clock)
    with TestClient(app, headers={"Origin": "http://testserver"}) as client:
        yield Phone(client)


def begun(phone: Phone, query: str = STORY) -> str:
    page = phone.go(f"/plan?{query}").text
    found = re.search(r'name="plan" value="([^"]+)"', page)
    assert found
    phone.post("/plan/start", plan=unescape(found[1]))
    return phone.token


def test_the_story_is_planned_in_grams_and_spoons_with_the_day_backwards(phone: Phone) -> None:
    phone.go(f"/plan?{STORY}")
    for words in (
        "12 guests, small plate, on the table at 19:30", "295 g (1¼ cups)", "dipped",
        "about 92 °C (198 °F)", "common practice, no source", "Chosen: the book's flour",
        "For 2 batches", "house rule", "about 100 pieces", "3 loads of 32", "14:35 Weigh",
        "19:30 On the table", "Squash cubes", "3 to 4 days", "12 plates to warm",
        "local code",
    ):  # fmt: skip
        assert words in phone.words, words
    assert phone.page.text.count("<svg") == 2
    assert "style=" not in phone.page.text
    assert 'id="now"' in phone.page.text


def test_for_another_day_there_is_no_line_of_now_and_no_script_for_it(phone: Phone) -> None:
    text = phone.go(f"/plan?{STORY}&day=later").text
    assert 'id="now"' not in text
    assert "setTimeout(p" not in text


def test_a_plan_that_cannot_work_says_why_and_what_would_help(phone: Phone, clock: Clock) -> None:
    clock.pass_min(210)  # 15:30
    phone.go("/plan?guests=12&serve=19:30")
    assert phone.page.status_code == 200
    assert "The chill does not fit: it would have to start by 15:00" in phone.words
    assert "What would help: press it 12 mm" in phone.words


def test_us_units_come_first_for_a_cook_who_reads_them(phone: Phone) -> None:
    phone.client.cookies.set("panadier-units", "us")
    phone.go(f"/plan?{STORY}")
    for words in ("1¼ cups (295 g)", "198 °F (about 92 °C)", "350 °F (175 °C)", "7,579 ft"):
        assert words in phone.words, words


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("guests=", "How many guests?"),
        ("portion=plate", "How many guests?"),
        ("guests=0", "1 to 500"),
        ("guests=many", "many"),
        ("guests=2.5", "not a whole number"),
        ("guests=4&serve=25:00", "not an hour of the day"),
        ("guests=4&serve=11:00", "is past for today"),
        ("guests=4&pan=26+g", "length"),
        ("guests=4&pan=9+cm", "125 to 500"),
        ("guests=4&thickness=3+cm", "10 to 25"),
        ("guests=4&fridge=60+F", "1 to 7"),
        ("guests=4&elevation=9000+m", "-430 to 3500"),
        ("guests=4&kitchen=summit&elevation=10+m", "You chose Summit as well"),
        ("guests=4&flour_choice=practice", "tell the elevation as well"),
        ("guests=4&flour_choice=practice&kitchen=orchard", "add by the spoon"),
        ("guests=4&garnishes=peas", "with commas between"),
        ("guests=4&garnishes=peas,1,1,1,grill", "burner"),
        ("guests=4&portion=feast", "starter"),
        ("guests=4&milk=plant", "whole"),
        ("guests=4&cooks=99", "1 to 6"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_box(phone: Phone, query: str, words: str) -> None:
    page = phone.go(f"/plan?{query}")
    if query == "guests=":
        assert page.status_code == 200
    else:
        assert page.status_code == 422
        assert 'role="alert"' in page.text
    assert words in phone.words


def test_the_form_keeps_what_was_written_when_the_plan_is_changed(phone: Phone) -> None:
    text = phone.go(f"/plan?edit=1&{STORY}").text
    for kept in ('value="12"', 'value="19:30"', 'value="26 cm"', "Squash cubes,2,8,10,burner"):
        assert kept in text


def test_a_batch_begun_from_a_plan_is_asked_nothing_again(
    phone: Phone, store: Store, book: OpenBook
) -> None:
    token = begun(phone)
    assert phone.path == f"/c/{token}/right/weigh"
    assert "295 g (1¼ cups) of milk" in phone.words
    # Flour by the dipped cup: 59 g in cups that weigh 142 g (*The Cake Bible*).
    assert "59 g" in phone.words
    entries = load(store, token).entries
    told = {(e.kind, e.name): e.value for e in entries}
    assert told["kitchen", "elevation_m"] == 2310
    assert told["batch", "flour_measured"] == "dipped"
    assert told["batch", "serve_in_min"] == 450
    assert told["sign", "milk-kind"] == "whole"
    dough = book.book.doughs[0]
    assert batch_of(entries, dough.house_batch).milk_g == 295
    phone.go(f"/c/{token}/right/cook-paste")
    phone.post(phone.path, right="no")
    phone.post(phone.path, stage="cook-paste", complaint="slumps")
    given = {sign.id for sign in dough.signs if sign.given_by} | {"milk-kind", "flour-kind"}
    given |= {reading.id for reading in dough.readings if reading.given_by == "elevation"}
    for _ in range(20):
        if "/ask/" not in phone.path:
            break
        assert phone.path.rsplit("/", 1)[1] not in given
        phone.post(phone.path, answer="not-looked")
    assert "/setup" not in phone.path


def test_a_double_tap_starts_one_batch(phone: Phone) -> None:
    page = phone.go(f"/plan?{STORY}").text
    found = re.search(r'name="plan" value="([^"]+)"', page)
    assert found
    data = {"key": phone.key, "plan": unescape(found[1])}
    first = phone.client.post("/plan/start", data=data).url.path
    assert phone.client.post("/plan/start", data=data).url.path == first


def test_what_the_cook_left_empty_is_not_told(phone: Phone, store: Store) -> None:
    token = begun(phone, "guests=8")
    told = {(e.kind, e.name): e.value for e in load(store, token).entries}
    assert ("sign", "milk-kind") not in told
    assert ("batch", "serve_in_min") not in told
    assert told["kitchen", "elevation_m"] is None


def test_a_large_batch_is_printed_with_thousands_and_typed_without(
    phone: Phone, store: Store
) -> None:
    token = begun(phone, "guests=60&portion=plate&kitchen=harbour")
    entries = load(store, token).entries
    said = {e.name: e.value for e in entries if e.kind == "batch-said"}
    for name in ("milk_g", "flour_g"):
        told = said[name]
        assert isinstance(told, dict)
        text, echo = str(told["text"]), str(told["echo"])
        assert "," not in text
        assert grams(text, name.removesuffix("_g")).value == pytest.approx(
            float(text.removesuffix(" g"))
        )
        assert f"{float(text.removesuffix(' g')):,g} g" in echo


def test_a_step_starts_its_timer(phone: Phone) -> None:
    token = begun(phone)
    phone.go(f"/c/{token}/plan")
    phone.post(f"/c/{token}/plan/timer", step="simmer")
    assert phone.path == f"/c/{token}/timers"
    assert "Simmer the milk. Until 12:07" in phone.words
    assert phone.post(f"/c/{token}/plan/timer", step="bake").status_code == 404


def test_two_more_guests_before_the_scale_change_the_amounts(phone: Phone, store: Store) -> None:
    token = begun(phone)
    phone.go(f"/c/{token}/plan")
    phone.post(f"/c/{token}/plan", more="2")
    assert "14 guests" in phone.words
    milk = [e.value for e in load(store, token).entries if e.name == "milk_g" and e.kind == "batch"]
    assert len(milk) == 2
    assert milk[1] > milk[0]  # type: ignore[operator]


def at_the_chill(phone: Phone) -> str:
    token = begun(phone)
    for stage in ("weigh", "simmer", "add-flour", "cook-paste", "temper", "enrich", "shape"):
        phone.post(f"/c/{token}/right/{stage}", right="yes")
    phone.go(f"/c/{token}/plan")
    return token


def test_more_guests_share_the_slab_that_is_pressed(phone: Phone, store: Store) -> None:
    token = at_the_chill(phone)
    boxes = {"serve": "19:30", "thickness": "15 mm", "chill": "", "more": ""}
    phone.post(f"/c/{token}/plan", guests="14", **boxes)
    assert "about 100 pieces: 7 for each of 14 guests" in phone.words
    assert "It fits" in phone.words
    phone.post(f"/c/{token}/plan", guests="20", **boxes)
    assert "5 for each of 20 guests" in phone.words
    assert "It fits" not in phone.words


def test_a_chill_that_takes_longer_is_planned_from_what_is_left(phone: Phone, clock: Clock) -> None:
    token = at_the_chill(phone)
    assert "Slab chills on" in phone.words
    clock.pass_min(300)  # 17:00, and 180 min of chilling are over
    phone.go(f"/c/{token}/plan")
    assert "Slab chills on" not in phone.words
    boxes = {"guests": "12", "serve": "19:30", "thickness": "15 mm", "more": ""}
    phone.post(f"/c/{token}/plan", chill="60", **boxes)
    assert "It fits" in phone.words
    phone.post(f"/c/{token}/plan", chill="140", **boxes)
    assert "The chill does not fit" in phone.words
    assert "serve at 20:" in phone.words


def test_a_batch_lost_in_the_afternoon_hears_what_still_fits_and_begins_again(
    phone: Phone, store: Store, clock: Clock
) -> None:
    token = at_the_chill(phone)
    clock.pass_min(60)  # 13:00
    phone.go(f"/c/{token}/plan?lost=1")
    assert "A new batch still fits" in phone.words
    clock.pass_min(280)  # 17:40
    phone.go(f"/c/{token}/plan?lost=1")
    assert "The chill does not fit" in phone.words
    assert "What would help: serve at" in phone.words
    phone.post(f"/c/{token}/again")
    assert phone.path.endswith("/right/weigh")
    again = {(e.kind, e.name): e.value for e in load(store, phone.token).entries}
    assert again["batch", "serve_in_min"] == 110
    assert again["batch", "milk_g"] == 295


def test_what_cannot_be_changed_is_refused_beside_its_box(phone: Phone) -> None:
    token = at_the_chill(phone)
    answer = phone.post(f"/c/{token}/plan", guests="x", serve="99", thickness="9 cm", chill="soon")
    assert answer.status_code == 422
    assert answer.text.count('aria-invalid="true"') >= 3


def at_the_pan(phone: Phone) -> str:
    token = at_the_chill(phone)
    for stage in ("chill", "cut"):
        phone.post(f"/c/{token}/right/{stage}", right="yes")
    phone.go(f"/c/{token}/plan")
    return token


def test_a_garnish_that_is_ready_early_is_not_planned_again(phone: Phone, store: Store) -> None:
    token = at_the_chill(phone)
    boxes = {"guests": "12", "serve": "19:30", "chill": "", "more": ""}
    assert "Squash cubes: wait" in phone.words
    phone.post(f"/c/{token}/plan", done1="yes", **boxes)
    assert "Squash cubes: wait" not in phone.words
    assert 'name="done1" value="yes" checked' in phone.page.text
    phone.post(f"/c/{token}/plan", **boxes)
    assert "Squash cubes: wait" in phone.words
    told = [e.value for e in load(store, token).entries if (e.kind, e.name) == ("plan", "ready")]
    assert told == [{"garnishes": ["Squash cubes"]}, {"garnishes": []}]


def test_only_the_loads_that_are_left_are_planned_while_browning(phone: Phone) -> None:
    token = at_the_pan(phone)
    assert 'id="chill"' not in phone.page.text
    assert 'id="thickness"' not in phone.page.text
    assert "Brown load 1" in phone.words
    boxes = {"guests": "12", "serve": "19:30", "more": ""}
    phone.post(f"/c/{token}/plan", loads="1", **boxes)
    assert "Brown load 2" not in phone.words
    assert "Brown load 3" in phone.words
    assert 'name="loads" value="1"' in phone.page.text
    answer = phone.post(f"/c/{token}/plan", loads="9", **boxes)
    assert answer.status_code == 422
    assert "0 to 3 is accepted" in phone.words
    phone.post(f"/c/{token}/plan", loads="", **boxes)
    assert "Brown load 1" in phone.words


def test_the_help_at_the_chill_knows_the_slab_and_the_height_of_the_plan(
    phone: Phone, clock: Clock
) -> None:
    token = at_the_chill(phone)
    clock.pass_min(95)
    text = phone.go(f"/c/{token}/right/chill").text
    for box, value in (("thickness", "15 mm"), ("fridge", "4 °C"), ("minutes", "95 min")):
        assert f'name="{box}" value="{value}"' in text, box
    phone.post(
        f"/c/{token}/right/chill/chill",
        thickness="15 mm", support="racked-metal-tray", fridge="4 °C", minutes="95 min",
    )  # fmt: skip
    # Reckoned for 2,310 m, where a slab takes up to 180 min, and not for the sea, where 160.
    here = cuttable_now(Chill(15, elevation_m=2310), 95).say
    assert here != cuttable_now(Chill(15), 95).say
    assert here in phone.words


def test_batches_counted_in_kitchens_as_high_say_how_much_to_buy(
    phone: Phone, store: Store
) -> None:
    """Counted here, low kitchens apart from high ones; cases here are made up."""
    for number in range(12):
        keep_case(
            store,
            Case(
                dough="milk-panade-slab", title=f"Made up {number}", stage="brown",
                opened=NOON.astimezone(UTC), kept=NOON.astimezone(UTC),
                elevation_m=2200.0 if number < 10 else 5.0,
                outcome="thrown-away" if number < 8 else "as-it-should",
            ),
            key=f"made-up-{number}-key",
        )  # fmt: skip
    phone.go(f"/plan?{STORY}")
    assert "Of 10 batches kept here from kitchens about as high, 8 could not be" in phone.words
    assert "about 60 in 100" in phone.words  # (1 + 8) of (5 + 10)
    assert "For 6 batches" in phone.words  # 0.6 ** 6 < 0.05 < 0.6 ** 5
    assert "too many" in phone.words
    phone.go("/plan?guests=12&kitchen=harbour")
    assert "Of 2 batches" in phone.words
    phone.go("/plan?guests=12&kitchen=orchard")
    assert "Nobody has counted here" in phone.words


def test_a_batch_without_a_plan_is_sent_to_the_planner(phone: Phone) -> None:
    token = phone.start()
    phone.go(f"/c/{token}/plan")
    assert phone.path == "/plan"
    assert phone.post(f"/c/{token}/plan", more="2").status_code == 404


def test_the_planners_pages_are_within_their_budget(phone: Phone) -> None:
    token = begun(phone)
    for path, raw, packed in (
        ("/plan", 12_000, 5_000), (f"/plan?{STORY}", 28_000, 9_000),
        (f"/c/{token}/plan", 28_000, 9_000), (f"/c/{token}/plan?lost=1", 28_000, 9_000),
    ):  # fmt: skip
        text = phone.go(path).text
        assert len(text.encode()) <= raw, path
        assert len(gzip.compress(text.encode(), 6)) <= packed, path
        assert text.count("<h1") == 1


# --- the machine face


def test_a_program_gets_the_same_plan_and_nothing_is_stored(phone: Phone) -> None:
    del phone.client.headers["Origin"]
    asked = {
        "guests": 12, "portion": "small-plate", "elevation_m": 2310, "serve_at": "19:30",
        "pan_rim_mm": 260, "flour_measured": "dipped",
        "garnishes": [{"name": "Squash cubes", "active_min": 2, "waiting_min": 8, "holds_min": 10,
                       "needs": "burner"}],
    }  # fmt: skip
    answer = phone.client.post("/api/v1/plan", json=asked)
    assert answer.status_code == 200
    assert "Set-Cookie" not in answer.headers
    told = answer.json()
    assert told["conflicts"] == []
    assert told["day"]["steps"][0]["clock"] == "14:35"
    assert [line["say"] for line in told["lines"]][:2] == ["295 g", "59 g"]
    assert told["chill"]["low"] < told["chill"]["high"]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, "guests is missing"),
        ([], "An object like"),
        ({"guests": "12"}, "a whole number from 1 to 500"),
        ({"guests": True}, "true is not possible"),
        ({"guests": 12, "guest": 1}, 'the nearest known is "guests"'),
        ({"guests": 12, "portion": "feast"}, "'small-plate'"),
        ({"guests": 12, "serve_at": "7pm"}, "write it like 19:30"),
        ({"guests": 12, "pan_rim_mm": 260, "pan_base_mm": 200}, "not both"),
        ({"guests": 12, "thickness_mm": 30}, "10 to 25"),
        ({"guests": 12, "flour_choice": "practice"}, "tell the elevation as well"),
        ({"guests": 12, "garnishes": [{"name": "x", "active_min": 0, "holds_min": 1}]},
         "from 1 to 1440"),
        ({"guests": 500, "portion": "plate", "thickness_mm": 25}, "are accepted"),
    ],
)  # fmt: skip
def test_each_mistake_of_a_program_gets_a_sentence(phone: Phone, asked: object, words: str) -> None:
    answer = phone.client.post("/api/v1/plan", json=asked)
    assert answer.status_code == 422
    assert any(words in problem for problem in answer.json()["problems"]), answer.text


def test_the_plan_is_described(phone: Phone) -> None:
    described = phone.client.get("/api/v1/openapi.json").json()["paths"]["/api/v1/plan"]["post"]
    asked = described["requestBody"]["content"]["application/json"]["schema"]
    assert asked["required"] == ["guests"]
    assert asked["properties"]["guests"]["maximum"] == 500
    answered = described["responses"]["200"]["content"]["application/json"]["schema"]
    assert {"lines", "day", "conflicts", "chill"} <= set(answered["properties"])


def test_a_script_is_sent_without_spare_spaces_and_within_its_budget(phone: Phone) -> None:
    assert tight('a = b ? "x ; y" : c;\nif (d) {\n e("(  )");\n}\n') == (
        'a=b?"x ; y":c;if(d){e("(  )");}'
    )
    folder = Path(__file__).parent.parent / "web" / "templates"
    for file in sorted(folder.glob("*.js")):
        written, sent = file.read_text(encoding="utf-8"), tight(file.read_text(encoding="utf-8"))
        assert re.findall(r'"[^"]*"', written) == re.findall(r'"[^"]*"', sent)
        assert re.sub(r"\s", "", written) == re.sub(r"\s", "", sent)
        assert "//" not in re.sub(r'"[^"]*"', "", written)  # a comment would swallow what follows
    token = begun(phone)
    for path in (f"/plan?{STORY}", f"/c/{token}/plan", f"/c/{token}/plan?lost=1"):
        script = re.search(r"<script[^>]*>(.*?)</script>", phone.go(path).text, re.DOTALL)
        assert script
        assert "setTimeout(p" in script[1]
        assert len(script[1].encode()) <= 2_000, path


# --- in a browser


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_story_is_walked_and_prints_on_one_page(
    browser: Browser, site: Served, units: str
) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    context.add_cookies([{"name": "panadier-units", "value": units, "url": site.address}])
    page = context.new_page()
    page.set_default_timeout(10_000)
    page.goto(f"{site.address}/plan")
    page.fill("#guests", "12")
    page.select_option("#kitchen", "summit")
    page.fill("#serve", "7:30 pm")
    page.select_option("#day", "later")
    page.select_option("#flour_measured", "dipped")
    page.fill("#pan", "26 cm")
    page.fill("#garnishes", "Squash cubes, 2, 8, 10, burner")
    follow(page, page.get_by_role("button", name="Plan it").first)
    assert page.locator("h1").inner_text() == "12 guests, small plate, on the table at 19:30"
    for paper in ("A4", "Letter"):
        printed = page.pdf(format=paper, prefer_css_page_size=True)
        assert len(re.findall(rb"/Type /Page\b", printed)) == 1, paper
    page.emulate_media(media="print")
    # Readable at arm's length: 12 pt are 16 px of CSS.
    small = page.evaluate(
        "[...document.querySelectorAll('main *')].filter(e => e.getClientRects().length"
        " && !e.closest('svg') && parseFloat(getComputedStyle(e).fontSize) < 16)"
        ".map(e => e.tagName)"
    )
    assert small == []
    page.emulate_media(media="screen")
    follow(page, page.get_by_role("button", name="Start this batch"))
    assert page.url.endswith("/right/weigh")
    follow(page, page.get_by_role("link", name="Your plan"))
    assert page.get_by_text("It fits").is_visible()
    follow(page, page.get_by_role("button", name="Start a timer: Simmer the milk"))
    assert page.get_by_text("Simmer the milk.").is_visible()
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_nothing_scrolls_sideways(
    browser: Browser, site: Served, scheme: str
) -> None:
    context = browser.new_context(
        viewport={"width": 320, "height": 640},
        color_scheme="dark" if scheme == "dark" else "light",
    )
    page = context.new_page()
    page.set_default_timeout(10_000)
    page.goto(f"{site.address}/plan?{STORY}&day=later")
    follow(page, page.get_by_role("button", name="Start this batch"))
    here = page.url.split("/right")[0]
    axe, found = Axe(), []
    for path in (
        f"{site.address}/plan", f"{site.address}/plan?{STORY}&day=later", f"{here}/plan",
        f"{here}/plan?lost=1", f"{site.address}/plan?guests=60&portion=plate&support=wood-or-box",
    ):  # fmt: skip
        page.goto(path)
        found += [(path, v["id"]) for v in axe.run(page).response["violations"]]
        if page.evaluate("document.documentElement.scrollWidth") > 320:
            found.append((path, "wide"))
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        if page.evaluate("document.documentElement.scrollWidth") > 320:
            found.append((path, "wide when doubled"))
    assert found == []
    context.close()


def test_the_line_of_now_is_drawn_by_the_script_alone(browser: Browser, site: Served) -> None:
    soon = (datetime.now().astimezone() + timedelta(minutes=5)).strftime("%H:%M")
    for script in (True, False):
        context = browser.new_context(java_script_enabled=script)
        page = context.new_page()
        page.goto(f"{site.address}/plan?guests=12&serve={soon}")
        line = page.locator("#now")
        if line.count():  # not in the last minutes of a day
            assert bool(line.get_attribute("d")) is script
        context.close()


def test_templates_of_the_planner_hold_no_style_attribute() -> None:
    folder = Path(__file__).parent.parent / "web" / "templates"
    for name in ("plan.html", "plan_result.html", "plan_day.html", "replan.html", "timeline.html"):
        assert "style=" not in (folder / name).read_text(encoding="utf-8")
