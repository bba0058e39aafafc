"""Through the recipe stage by stage, to the end of a batch and its summary."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from casebook.consultations import load
from casebook.store import Store
from diagnose.consulting import OpenBook
from phone import Phone
from web.following import in_words, with_amounts
from web.summary import OUTCOMES
from web.working import batch_of


@pytest.fixture
def phone(client: TestClient) -> Phone:
    return Phone(client)


def begin(phone: Phone, **fields: str) -> str:
    """A batch that is made step by step; its token."""
    phone.go("/start?follow=weigh")
    phone.post("/start", follow="weigh", **{"kitchen": "summit", **fields})
    return phone.token


def test_a_cook_for_whom_nothing_is_wrong_goes_from_the_scale_to_the_plate(
    phone: Phone, book: OpenBook, store: Store
) -> None:
    token = begin(phone)
    for stage in book.book.doughs[0].stages:
        assert phone.path == f"/c/{token}/right/{stage.id}"
        assert stage.title in phone.words
        for line in stage.right:
            assert line in phone.words
        phone.post(phone.path, right="yes")
    assert phone.path == f"/c/{token}/end"
    phone.post(phone.path, outcome="as-it-should")
    assert phone.path == f"/c/{token}/keep"
    phone.go(f"/c/{token}")
    assert phone.path == f"/c/{token}/summary"
    assert OUTCOMES["as-it-should"] in phone.words
    assert load(store, token).entries[-1].kind == "outcome"


def test_no_opens_the_consultation_at_that_stage_and_the_way_back_leads_on(phone: Phone) -> None:
    token = begin(phone)
    phone.go(f"/c/{token}/right/cook-paste")
    phone.post(phone.path, right="no")
    assert phone.path == f"/c/{token}/complaint"
    phone.post(phone.path, stage="cook-paste", complaint="slumps")
    while "/ask/" in phone.path:
        phone.post(phone.path, answer="not-looked")
    phone.post(phone.path, time="1", result="worked")
    assert phone.path == f"/c/{token}/done"
    phone.post(phone.path, recipe="temper")
    assert phone.path == f"/c/{token}/right/temper"


def test_the_first_page_leads_back_to_where_the_recipe_was_left(phone: Phone) -> None:
    token = begin(phone)
    phone.post(phone.path, right="yes")
    phone.go("/")
    assert f'href="/c/{token}"' in phone.page.text
    phone.go(f"/c/{token}")
    assert phone.path == f"/c/{token}/right/simmer"


def test_amounts_are_of_this_batch_and_of_house_proportion_where_not_told(
    phone: Phone, book: OpenBook
) -> None:
    dough = book.book.doughs[0]
    begin(phone, kitchen="other", elevation="640 m", milk_g="1 kg", flour_g="", yolks="",
          cheese_g="", butter_g="")  # fmt: skip
    assert "Weigh 1000 g (4 cups) of milk into the pan" in phone.words
    house = in_words(batch_of((), dough.house_batch))
    assert house["milk"] == "500 g (2 cups)"
    assert house["yolks"] == "2"
    for stage in dough.stages:
        assert not re.search(r"[{}]", " ".join(with_amounts(stage, house)))


def test_a_button_that_is_not_there_is_refused_in_words(phone: Phone) -> None:
    token = begin(phone)
    assert phone.post(f"/c/{token}/right/weigh", right="maybe").status_code == 422
    assert "Tap one of the two" in phone.words
    assert phone.post(f"/c/{token}/end", outcome="eaten").status_code == 422
    assert phone.go(f"/c/{token}/right/bake").status_code == 404


def test_the_cause_of_a_lost_batch_is_carried_into_the_next_one(phone: Phone, store: Store) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    phone.go(f"/c/{token}/over")
    lesson = re.search(r"Next time (.*?[.]) ", phone.words)
    assert lesson
    phone.post(f"/c/{token}/again")
    assert phone.token != token
    assert lesson[1] in phone.words
    phone.go(f"/c/{phone.token}/summary")
    assert "To avoid this time" in phone.words


def test_the_summary_tells_the_story_in_order_and_can_be_kept_as_text(phone: Phone) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    while "/ask/" in phone.path:
        phone.post(phone.path, answer="not-looked")
    phone.post(phone.path, time="1", result="no-change")
    phone.go(f"/c/{token}/summary")
    order = [phone.words.index(word) for word in ("Kitchen", "Stage", "What is wrong", "Tried:")]
    assert order == sorted(order)
    assert "What it probably was" in phone.words
    text = phone.go(f"/c/{token}/summary.txt")
    assert text.headers["content-type"].startswith("text/plain")
    assert "attachment" in text.headers["content-disposition"]
    assert "No change" in text.text
    assert token not in text.text


@pytest.mark.parametrize(
    ("stage", "which", "boxes", "words"),
    [
        ("add-flour", "before-flour", {"milk": "78 °C", "minutes": "3"}, "Heat it to 80 °C"),
        ("cook-paste", "pan-weight", {"together": "1.5 kg", "empty": "920 g"}, "Cook on"),
        ("temper", "yolk-window", {"paste": "203 °F"}, "Wait: over 85 °C"),
        ("shape", "slab", {"thickness": "15 mm"}, "about 160 pieces"),
        (
            "chill", "chill",
            {"thickness": "15 mm", "support": "racked-metal-tray", "fridge": "4 °C",
             "minutes": "60"},
            "Not yet",
        ),
        ("brown", "hot-middle", {"edge": "15 mm", "side": "2.5", "when": "held"}, "74 °C"),
        ("serve", "plate", {"piece": "75 °C", "plate": "20 °C"}, "Hot for about 1 to 3 min"),
    ],
)  # fmt: skip
def test_a_few_numbers_are_worked_out_where_a_cook_acts_on_them(
    phone: Phone, stage: str, which: str, boxes: dict[str, str], words: str
) -> None:
    """Figures as derived for the house batch; 74 °C before a hold: FDA Food Code 3-403.11."""
    token = begin(phone)
    phone.post(f"/c/{token}/right/{stage}/{which}", **boxes)
    assert phone.path == f"/c/{token}/right/{stage}"
    assert words in phone.words
    # What was written is still in the boxes after a reload.
    phone.go(phone.path)
    for text in boxes.values():
        assert f'value="{text}"' in phone.page.text


def test_a_number_told_to_a_help_is_never_asked_for_again(phone: Phone, store: Store) -> None:
    token = begin(phone)
    phone.post(f"/c/{token}/right/temper/yolk-window", paste="90 °C")
    told = [(e.name, e.value) for e in load(store, token).entries if e.kind == "reading"]
    assert told == [("paste-temperature", {"value": 90.0, "unit": "degC"})]


@pytest.mark.parametrize(
    ("stage", "which", "boxes", "words"),
    [
        ("temper", "yolk-window", {"paste": ""}, "give degrees"),
        ("temper", "yolk-window", {"paste": "hot"}, "hot"),
        ("cook-paste", "pan-weight", {"together": "500 g", "empty": "900 g"}, "cannot weigh less"),
        ("shape", "slab", {"thickness": "80 mm"}, "10 to 25 mm"),
        (
            "chill", "chill",
            {"thickness": "15 mm", "support": "ice", "fridge": "4 °C", "minutes": "5"},
            "Choose one",
        ),
    ],
)  # fmt: skip
def test_a_number_that_cannot_be_is_refused_beside_its_box(
    phone: Phone, stage: str, which: str, boxes: dict[str, str], words: str
) -> None:
    token = begin(phone)
    assert phone.post(f"/c/{token}/right/{stage}/{which}", **boxes).status_code == 422
    assert words in phone.words
    assert 'aria-invalid="true"' in phone.page.text
