"""Every page answers, within its budget, and the conversation goes where it should."""

from __future__ import annotations

import gzip
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from casebook.consultations import load
from casebook.store import Store
from diagnose.consulting import OpenBook
from phone import Phone
from web.app import create_app
from web.situation import as_request, questions, situation_of
from web.units import in_order

PLAN = "/plan?guests=12&portion=small-plate&kitchen=summit&serve=19:30&day=later"
PLAIN = (12_000, 5_000)
PICTURED = (28_000, 9_000)
"""Most bytes of a page, raw and gzip, so that it fits one TCP window on a slow phone."""


@pytest.fixture
def phone(client: TestClient) -> Phone:
    return Phone(client)


def entries(store: Store, token: str, kind: str) -> list[tuple[str, object]]:
    return [(e.name, e.value) for e in load(store, token).entries if e.kind == kind]


def test_every_kind_of_page_is_whole_and_within_its_budget(phone: Phone, book: OpenBook) -> None:
    dough = book.book.doughs[0]
    token = phone.at_stage("cook-paste", "slumps")
    paths = ["/", "/start", "/right", "/cases", "/rules", "/plan", PLAN]
    paths += [f"/right/{s.id}" for s in dough.stages]
    paths += [f"/cases/{c.id}" for c in dough.whole_cases]
    paths += [f"/rules/{r.id}" for r in dough.rules]
    here = [
        "stage", "complaint", "told", "setup", "over", "ask/paste-body", "ask/paste-temperature",
    ]  # fmt: skip
    paths += [f"/c/{token}/{name}" for name in (*here, "end", "summary")]
    paths += [f"/c/{token}/right/{s.id}" for s in dough.stages]
    name = remedy_page(phone, token)
    paths += [f"/c/{token}/remedy/{name}"]
    other = Phone(phone.client)
    slack = slack_but_cooked(other)
    paths += [f"/c/{slack}/remedy/{remedy_page(other, slack)}"]
    for path in paths:
        text = phone.go(path).text
        assert phone.page.status_code == 200, path
        raw, packed = PICTURED if "<svg" in text else PLAIN
        assert len(text.encode()) <= raw, path
        assert len(gzip.compress(text.encode(), 6)) <= packed, path
        assert text.count("<h1") == 1, path
        assert '<html lang="en">' in text
        assert not re.search(r"""(src|href)=["']https?:|<link rel="stylesheet""", text), path
        script = re.search(r"<script[^>]*>(.*?)</script>", text, re.DOTALL)
        assert script
        assert len(script[1].encode()) <= 2_000, path


@pytest.mark.parametrize(
    "path",
    [
        "/nowhere",
        "/c/AAAAAAAAAAAAAAAAAAAAAA",
        "/c/short",
        "/c/..%2f..%2fetc",
        "/right/mars",
        "/cases/none",
        "/rules/none",
        "/rules?page=99",
        "/rules?page=x",
        "/start?stage=mars",
    ],
)
def test_what_is_not_there_is_said_in_a_sentence(phone: Phone, path: str) -> None:
    phone.go(path)
    assert phone.page.status_code == 404
    assert "Traceback" not in phone.page.text
    assert phone.words


@pytest.mark.parametrize("path", ["ask/none", "remedy/none", "ask/../told/x"])
def test_an_unknown_question_or_remedy_is_not_there(phone: Phone, path: str) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    assert phone.go(f"/c/{token}/{path}").status_code == 404


def test_one_tap_on_a_kitchen_sets_it_up_and_asks_for_the_stage(phone: Phone, store: Store) -> None:
    token = phone.start("summit")
    assert phone.path == f"/c/{token}/stage"
    assert ("elevation_m", 2310) in entries(store, token, "kitchen")


def test_house_amounts_nobody_touched_are_not_told(phone: Phone, store: Store) -> None:
    token = phone.start("harbour", milk_g="500 g", flour_g="100 g", yolks="2", cheese_g="45 g",
                        butter_g="40 g", flour_measured="unknown")  # fmt: skip
    assert dict(entries(store, token, "batch"))["milk_g"] is None
    assert "house amounts, not told" in Phone(phone.client).go(f"/c/{token}/told").text


def test_amounts_are_taken_as_cooks_write_them_and_echoed(phone: Phone, store: Store) -> None:
    token = phone.start("orchard", milk_g="2 cups", flour_g="3/4 cup", flour_measured="dipped")
    batch = dict(entries(store, token, "batch"))
    # A cup of whole milk is 244 g (USDA SR27 01077), of flour 125 g (20081).
    assert batch["milk_g"] == 488
    assert batch["flour_g"] == 93.8
    assert batch["flour_measured"] == "dipped"
    phone.go(f"/c/{token}/told")
    assert "2 cups = about 488 g" in phone.words


def test_the_meanwhile_line_comes_before_everything_on_a_question_page(phone: Phone) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    for name in ("complaint", "ask/paste-body", "ask/paste-temperature"):
        text = phone.go(f"/c/{token}/{name}").text
        main = text.split("<main>")[1]
        assert main.index('class="meanwhile"') < main.index("<h1")


def test_every_question_offers_not_looked_last_and_stores_it_as_no_answer(
    phone: Phone, store: Store, book: OpenBook
) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    dough = book.book.doughs[0]
    for question in questions(dough).values():
        buttons = re.findall(
            r'<button[^>]*value="([^"]+)"', phone.go(f"/c/{token}/ask/{question.id}").text
        )
        assert buttons[-1] == "not-looked", question.id
    phone.post(f"/c/{token}/ask/lumps", answer="not-looked")
    assert entries(store, token, "not-looked") == [("lumps", None)]
    assert not any(name == "lumps" for name, _ in entries(store, token, "sign"))


def test_a_double_tap_is_one_answer(phone: Phone, store: Store) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    phone.go(f"/c/{token}/ask/lumps")
    key = phone.key
    first = phone.client.post(f"/c/{token}/ask/lumps", data={"key": key, "answer": "soft"})
    second = phone.client.post(f"/c/{token}/ask/lumps", data={"key": key, "answer": "soft"})
    assert first.url == second.url
    assert entries(store, token, "sign").count(("lumps", "soft")) == 1


def test_going_back_and_tapping_another_answer_changes_it_and_back_again(
    phone: Phone, store: Store
) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    phone.go(f"/c/{token}/ask/lumps")
    key = phone.key
    for answer in ("soft", "none", "soft", "soft"):
        phone.client.post(f"/c/{token}/ask/lumps", data={"key": key, "answer": answer})
    told = [value for name, value in entries(store, token, "sign") if name == "lumps"]
    assert told == ["soft", "none", "soft"]


def test_starting_twice_from_the_same_tap_opens_one_consultation(phone: Phone) -> None:
    phone.go("/start")
    key = phone.key
    answers = [
        phone.client.post("/start", data={"key": key, "kitchen": "summit"}) for _ in range(2)
    ]
    assert answers[0].url == answers[1].url


def test_changing_one_answer_keeps_the_rest(phone: Phone, store: Store) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    phone.post(f"/c/{token}/ask/lumps", answer="none")
    phone.go(f"/c/{token}/setup")
    phone.post(f"/c/{token}/setup", kitchen="other", elevation="7000 ft")
    phone.go(f"/c/{token}/told")
    assert "7000 ft = 2134 m" in phone.words
    assert ("lumps", "none") in entries(store, token, "sign")
    assert ("paste-body", "slumps") in entries(store, token, "sign")


def test_a_batch_in_hand_is_one_tap_away_from_every_page(phone: Phone) -> None:
    token = phone.start()
    for path in ("/", "/right", "/rules", "/plan", "/cases", "/nowhere"):
        assert f'href="/c/{token}"' in phone.go(path).text, path


def test_a_cookie_for_a_batch_that_is_not_there_is_no_harm(phone: Phone) -> None:
    phone.client.cookies.set("panadier-batch", "A" * 22)
    assert phone.go("/").status_code == 200
    assert "Go on with your batch" not in phone.words


def remedy_page(phone: Phone, token: str) -> str:
    """Answer "did not look" until there is advice; the remedy's id."""
    for _ in range(12):
        phone.go(f"/c/{token}")
        if "/remedy/" in phone.path:
            return phone.path.rsplit("/", 1)[1]
        assert "/ask/" in phone.path, phone.path
        phone.post(phone.path, answer="not-looked")
    raise AssertionError("no advice after twelve questions")


def test_a_remedy_says_what_to_do_what_to_see_and_when_to_give_up(phone: Phone) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    assert remedy_page(phone, token) == "cook-on-hotter"
    places = [phone.page.text.index(words) for words in (
        'class="first"', "What you should see", "Give up when", "Take care:", "Start a timer",
        "It worked", "Why I think so", "What else it could be",
    )]  # fmt: skip
    assert places == sorted(places)


def test_page_and_machine_face_give_the_same_answer(
    phone: Phone, store: Store, book: OpenBook
) -> None:
    token = slack_but_cooked(phone)
    shown = remedy_page(phone, token)
    dough = book.book.doughs[0]
    situation = situation_of(load(store, token), dough, datetime.now(UTC))
    assert situation
    answer = phone.client.post("/api/v1/diagnose", json=as_request(situation, dough)).json()
    assert answer["plan"][0]["remedy"] == shown
    assert in_order(answer["plan"][0]["first"], "metric") in phone.words


def test_a_running_timer_is_one_tap_away_from_every_page(phone: Phone) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    name = remedy_page(phone, token)
    phone.post(f"/c/{token}/remedy/{name}", timer="start")
    for path in ("/", "/rules", f"/c/{token}/told", f"/c/{token}/ask/lumps"):
        assert f'<a href="/c/{token}/timers">Timer until' in phone.go(path).text, path


def test_it_worked_leads_to_what_right_looks_like_and_on(phone: Phone, store: Store) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    name = remedy_page(phone, token)
    phone.post(f"/c/{token}/remedy/{name}", time="1", result="worked")
    assert phone.path == f"/c/{token}/done"
    assert "what right looks like" in phone.words
    phone.post(f"/c/{token}/done", next="temper")
    assert phone.path == f"/c/{token}/complaint"
    assert ("look-again", "temper") not in entries(store, token, "sign")
    phone.go(f"/c/{token}/told")
    assert "Told before you looked again" in phone.words


def test_no_change_is_led_on(phone: Phone, store: Store) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    name = remedy_page(phone, token)
    phone.post(f"/c/{token}/remedy/{name}", time="1", result="no-change")
    assert phone.page.status_code == 200
    assert phone.path != f"/c/{token}/done"
    assert entries(store, token, "tried") == [
        (f"{name}#1", {"remedy": name, "result": "no-change", "added_g": None})
    ]


def slack_but_cooked(phone: Phone) -> str:
    """A weighed, hot and bubbling paste that still slumps, its flour sifted; the token."""
    token = phone.at_stage("cook-paste", "slumps")
    told = {"value": "92", "unit": "degC", "answer": "number"}
    phone.go(f"/c/{token}/ask/paste-temperature")
    phone.post(f"/c/{token}/ask/paste-temperature", **told)
    phone.go(f"/c/{token}/ask/minutes-cooked")
    phone.post(f"/c/{token}/ask/minutes-cooked", value="5", unit="min", answer="number")
    for sign, answer in (("bubbling", "lazy"), ("flour-measured", "sifted-first")):
        phone.go(f"/c/{token}/ask/{sign}")
        phone.post(f"/c/{token}/ask/{sign}", answer=answer)
    return token


def test_what_was_added_is_kept_in_grams_of_the_spoons_chosen(phone: Phone, store: Store) -> None:
    token = slack_but_cooked(phone)
    assert remedy_page(phone, token) == "add-flour-by-the-spoon"
    assert "tablespoon" in phone.words
    phone.post(phone.path, time="1", result="no-change", added="2")
    ((_, value),) = entries(store, token, "tried")
    # A level tablespoon of flour is 7.8 g (USDA SR27 20081, 125 g a cup).
    assert value == {
        "remedy": "add-flour-by-the-spoon", "result": "no-change", "added_g": 15.6,
    }  # fmt: skip


def test_a_result_that_is_none_of_the_four_is_refused(phone: Phone) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    name = remedy_page(phone, token)
    phone.post(f"/c/{token}/remedy/{name}", time="1", result="perhaps")
    assert phone.page.status_code == 422
    phone.go(f"/c/{token}")
    phone.post(f"/c/{token}/remedy/{name}", time="-1", result="worked")
    assert phone.page.status_code == 422


def test_an_answer_from_an_old_page_is_kept_and_leads_to_the_present(
    phone: Phone, store: Store
) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    name = remedy_page(phone, token)
    phone.post(f"/c/{token}/ask/lumps", answer="none")
    assert ("lumps", "none") in entries(store, token, "sign")
    phone.go(f"/c/{token}/remedy/beat-in-warm-milk")
    assert phone.path.endswith(f"/remedy/{name}") or "/ask/" in phone.path


def test_the_timer_is_an_hour_on_the_clock_and_the_same_after_a_reload(
    book: OpenBook, store: Store
) -> None:
    now = datetime(2026, 3, 1, 14, 32, tzinfo=UTC)
    app = create_app(book, store, hosts=["testserver"], now=lambda: now)
    with TestClient(app, headers={"Origin": "http://testserver"}) as client:
        phone = Phone(client)
        token = phone.at_stage("cook-paste", "slumps")
        name = remedy_page(phone, token)
        phone.post(f"/c/{token}/remedy/{name}", timer="start")
        now += timedelta(minutes=1)
        phone.go(f"/c/{token}/remedy/{name}")
        phone.post(f"/c/{token}/remedy/{name}", timer="start")
        until = re.search(r'data-until="(\d+)"', phone.go(f"/c/{token}/remedy/{name}").text)
        timers = entries(store, token, "timer")
    assert len(timers) == 1
    assert until
    began = datetime(2026, 3, 1, 14, 32, tzinfo=UTC).timestamp()
    assert began + 60 <= int(until[1]) <= began + 3600
    assert f"Timer until {datetime.fromtimestamp(int(until[1])).strftime('%H:%M')}" in (
        phone.page.text
    )


def test_starting_over_says_what_it_costs_and_keeps_kitchen_and_batch(
    phone: Phone, store: Store
) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    phone.go(f"/c/{token}/over")
    assert "What it needs" in phone.words
    phone.post(f"/c/{token}/again")
    assert phone.token != token
    assert phone.path.endswith("/right/weigh")
    assert "From last time" in phone.words
    assert entries(store, phone.token, "avoid")
    assert ("elevation_m", 2310) in entries(store, phone.token, "kitchen")
    assert entries(store, phone.token, "sign") == []


def test_unsafe_history_is_thrown_away_first(phone: Phone) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    phone.post(f"/c/{token}/ask/left-out", answer="over-2-hours")
    phone.go(f"/c/{token}")
    assert phone.path == f"/c/{token}/remedy/throw-away"
    assert phone.words.startswith("Throw it away")
    assert "It worked" not in phone.words
    assert "What else it could be" not in phone.words


def test_is_it_right_leads_through_the_stages_and_into_a_consultation(phone: Phone) -> None:
    phone.go("/right/cook-paste")
    assert "/right/temper" in phone.page.text
    phone.post("/start", stage="cook-paste")
    assert phone.path == "/start"
    phone.post("/start", stage="cook-paste", kitchen="summit")
    assert phone.path.endswith("/complaint")


def test_a_case_says_what_was_told_and_what_the_book_says_today(
    phone: Phone, book: OpenBook
) -> None:
    for case in book.book.doughs[0].whole_cases[:3]:
        phone.go(f"/cases/{case.id}")
        assert "Teaching case" in phone.words
        assert case.story in phone.words


def test_the_pages_work_from_the_files_of_the_checkout() -> None:
    templates = Path(__file__).parent.parent / "web" / "templates"
    assert "|safe" not in "".join(p.read_text() for p in templates.glob("*.html"))


def test_why_not_is_a_page_of_its_own_for_causes_and_remedies(client: TestClient) -> None:
    phone = Phone(client)
    token = phone.at_stage("cook-paste", "slumps")
    for name in ("flour-over", "add-flour-by-the-spoon"):
        page = phone.go(f"/c/{token}/why-not/{name}")
        assert page.status_code == 200
        assert page.text.count("<li>") >= 1
    assert phone.go(f"/c/{token}/why-not/nothing-known").status_code == 404


def test_what_would_change_the_advice_is_a_page_of_its_own(client: TestClient) -> None:
    phone = Phone(client)
    token = phone.at_stage("cook-paste", "slumps")
    page = phone.go(f"/c/{token}/turning")
    assert page.status_code == 200
    assert f"/c/{token}/ask/" in page.text
    fresh = phone.start()
    assert phone.go(f"/c/{fresh}/turning").url.path == f"/c/{fresh}/stage"
