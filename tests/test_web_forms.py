"""Forms that were filled in wrongly: said on top and at the field, with what was written kept."""

from __future__ import annotations

import re
from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient

from diagnose.consulting import OpenBook
from diagnose.kitchen.quantities import NotAQuantity
from phone import Phone
from web import amounts
from web.forms import Fields
from web.setting_up import read_setup


@pytest.fixture
def phone(client: TestClient) -> Phone:
    return Phone(client)


def refused(phone: Phone, field: str, sentence: str) -> None:
    """The page refuses in the same words on top and at the field."""
    text = unescape(phone.page.text)
    assert phone.page.status_code == 422
    assert text.index('role="alert"') < text.index("<h1")
    assert re.search(r"<title>\s*Error: ", text)
    assert f'<a href="#{field}">' in text
    assert text.count(sentence) >= 2
    box = re.search(rf'<(?:input|select|fieldset)[^>]*id="{field}"[^>]*>', text)
    assert box
    if "fieldset" not in box[0]:
        assert 'aria-invalid="true"' in box[0]
        assert f"{field}-problem" in box[0]
    assert f'id="{field}-problem"' in text


@pytest.mark.parametrize(
    ("fields", "field", "sentence"),
    [
        ({}, "elevation", "Say where you cook"),
        ({"elevation": "high"}, "elevation", "No number was found"),
        ({"elevation": "2310"}, "elevation", "has no unit"),
        ({"elevation": "9000 m"}, "elevation", "is not possible"),
        ({"elevation": "500 g"}, "elevation", "length is wanted"),
        ({"boil": "93 °"}, "boil", "is that °C or °F"),
        ({"boil": "40 °C"}, "boil", "is not possible"),
        ({"elevation": "6 m", "boil": "93 °C"}, "boil", "Only one way"),
        ({"elevation": "6 m", "rough": "hills"}, "rough", "Only one way"),
        ({"rough": "moon"}, "rough", "Choose one of the places"),
        ({"rough": "sea", "milk_g": "1,500 g"}, "milk_g", "Did you mean 1500 or 1.500?"),
        ({"rough": "sea", "milk_g": "8 oz"}, "milk_g", "by weight or by volume"),
        ({"rough": "sea", "milk_g": "0 g"}, "milk_g", "is not possible"),
        ({"rough": "sea", "cheese_g": "1 cup"}, "cheese_g", "Weigh it"),
        ({"rough": "sea", "yolks": "two"}, "yolks", "No number was found"),
        ({"rough": "sea", "yolks": "2 kg"}, "yolks", "without a unit"),
        ({"rough": "sea", "butter_g": "3 cm"}, "butter_g", "a weight is wanted"),
        ({"rough": "sea", "serve_in_min": "1:30"}, "serve_in_min", "can be read two ways"),
        ({"rough": "sea", "flour_measured": "guessed"}, "flour_measured", "Choose one of the ways"),
    ],
)
def test_a_mistake_is_said_twice_in_the_same_words(
    phone: Phone, fields: dict[str, str], field: str, sentence: str
) -> None:
    phone.go("/start")
    phone.post("/start", kitchen="other", **fields)
    refused(phone, field, sentence)


def test_all_mistakes_are_said_at_once_and_what_was_written_is_kept(phone: Phone) -> None:
    phone.go("/start")
    phone.post("/start", kitchen="other", elevation="up", milk_g="lots", butter_g="41 g")
    text = unescape(phone.page.text)
    assert text.count('class="problem" id=') == 2
    for value in ("up", "lots", "41 g"):
        assert f'value="{value}"' in text
    assert "<details" in text
    assert re.search(r"<details[^>]* open", text)


def test_what_a_cook_writes_is_shown_and_never_run(phone: Phone) -> None:
    phone.go("/start")
    phone.post("/start", kitchen="other", elevation='"><script>alert(1)</script>{{ 7*7 }}')
    assert "<script>alert" not in phone.page.text
    assert "{{ 7*7 }}" in unescape(phone.page.text)


def test_a_tapped_kitchen_and_a_filled_box_are_not_both_taken(phone: Phone) -> None:
    phone.go("/start")
    phone.post("/start", kitchen="harbour", elevation="2310 m")
    refused(phone, "elevation", "You tapped Harbour")


def test_the_enter_key_chooses_no_kitchen(phone: Phone) -> None:
    phone.go("/start")
    first = re.search(r'<button[^>]*name="kitchen"[^>]*>', phone.page.text)
    assert first
    assert 'value="other"' in first[0]
    assert "hidden" in first[0]


@pytest.mark.parametrize(
    ("value", "unit", "sentence"),
    [
        ("", "degC", "Nothing is written"),
        ("hot", "degC", "No number was found"),
        ("300", "degC", "300 °C is not possible; a number from 0 to"),
        ("500", "degF", "500 °F is not possible; a number from 32 to"),
        ("78 g", "degC", "a temperature is wanted"),
        ("7" * 70, "degC", "longer than 64"),
    ],
)
def test_a_reading_is_refused_in_the_cooks_own_unit(
    phone: Phone, value: str, unit: str, sentence: str
) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    path = f"/c/{token}/ask/paste-temperature"
    phone.go(path)
    phone.post(path, answer="number", value=value, unit=unit)
    refused(phone, "value", sentence)


def test_an_unusual_reading_is_asked_about_and_taken_when_confirmed(
    phone: Phone, book: OpenBook
) -> None:
    reading = next(r for r in book.book.doughs[0].readings if r.id == "paste-temperature")
    unusual = f"{reading.likely[0] - 5:g}"
    token = phone.at_stage("cook-paste", "slumps")
    path = f"/c/{token}/ask/paste-temperature"
    phone.go(path)
    phone.post(path, answer="number", value=unusual, unit="degC")
    refused(phone, "value", "Is that right?")
    confirm = re.search(r'name="confirm" value="([^"]+)"', phone.page.text)
    assert confirm
    phone.post(path, confirm=unescape(confirm[1]), value=unusual, unit="degC")
    assert phone.page.status_code == 200
    phone.go(f"/c/{token}/told")
    assert f"{unusual} °C" in phone.words


def test_a_number_that_contradicts_the_batch_is_refused(phone: Phone) -> None:
    phone.start("summit", milk_g="501 g")
    token = phone.token
    phone.post(f"/c/{token}/stage", stage="cook-paste")
    phone.post(f"/c/{token}/complaint", stage="cook-paste", complaint="slumps")
    path = f"/c/{token}/ask/pan-contents"
    phone.go(path)
    phone.post(path, answer="number", value="1700", unit="g")
    assert phone.page.status_code == 422


def test_the_unit_last_used_is_offered_first(phone: Phone) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    path = f"/c/{token}/ask/paste-temperature"
    phone.go(path)
    phone.post(path, answer="number", value="172", unit="degF")
    selected = re.search(r'<option value="(\w+)" selected', phone.go(path).text)
    assert selected
    assert selected[1] == "degF"
    assert 'value="172"' in phone.page.text


def test_a_number_field_is_text_with_a_decimal_pad(phone: Phone) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    text = phone.go(f"/c/{token}/ask/paste-temperature").text
    assert '<input type="text" inputmode="decimal"' in text
    assert 'type="number"' not in text


def test_an_answer_that_is_none_is_refused_on_the_same_page(phone: Phone) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    phone.post(f"/c/{token}/ask/lumps", answer="green")
    assert phone.page.status_code == 422
    assert "Tap one of the answers" in phone.words
    assert phone.post(f"/c/{token}/complaint", stage="cook-paste", complaint="x").status_code == 404
    assert phone.post(f"/c/{token}/stage", stage="mars").status_code == 404


@given(
    fields=st.dictionaries(
        st.sampled_from(
            ["kitchen", "elevation", "boil", "rough", "milk_g", "flour_g", "flour_measured",
             "yolks", "cheese_g", "butter_g", "serve_in_min", "other"]
        ),
        st.one_of(st.text(max_size=12), st.sampled_from(["500 g", "2", "sea", "other", "1/0"])),
    )
)  # fmt: skip
def test_any_form_tells_something_or_says_what_is_wrong(
    book: OpenBook, fields: dict[str, str]
) -> None:
    told, problems = read_setup(Fields(fields), book.book, book.book.doughs[0])
    assert problems or told
    assert all(p.sentence and p.field for p in problems)


@given(text=st.text(max_size=20), ingredient=st.sampled_from(["milk", "flour", "cheese", "butter"]))
def test_any_text_is_an_amount_or_is_refused_with_a_sentence(text: str, ingredient: str) -> None:
    try:
        value, sentence = amounts.grams(text, ingredient).value, "none"
    except NotAQuantity as refusal:
        value, sentence = 0.0, str(refusal)
    assert value >= 0
    assert sentence
