"""Metric first or US first, as the cook chooses: everywhere, and remembered."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient

from casebook.store import Store
from diagnose.consulting import OpenBook
from diagnose.kitchen.measuring import CUP_ML, grams_of
from diagnose.kitchen.quantities import convert
from diagnose.kitchen.spoons import GRAMS_PER_OUNCE, TEASPOONS_PER_CUP, in_spoons, measure
from diagnose.knowledge.part import Part
from phone import Phone
from web.app import create_app
from web.units import in_order, sentence_in

NUMBER = re.compile(r"[0-9][0-9,.]*[0-9]|[0-9]")
GLYPHS = {"⅛": 1 / 8, "¼": 1 / 4, "⅓": 1 / 3, "½": 1 / 2, "⅔": 2 / 3, "¾": 3 / 4}


def sentences(part: object) -> set[str]:
    """Every text of a book that has a space in it."""
    if isinstance(part, str):
        return {part} if " " in part else set()
    if isinstance(part, Part):
        return {s for name in type(part).model_fields for s in sentences(getattr(part, name))}
    if isinstance(part, dict):
        return {s for value in part.values() for s in sentences(value)}
    if isinstance(part, tuple | list):
        return {s for value in part for s in sentences(value)}
    return set()


def teaspoons(words: str) -> float:
    """The volume that cups and spoons in words hold; written a second time, by hand."""
    whole = 0.0
    for count, part, unit in re.findall(r"([0-9]*)([⅛¼⅓½⅔¾]?) (cup|tablespoon|teaspoon)s?", words):
        amount = float(count or 0) + GLYPHS.get(part, 0.0)
        whole += amount * {"cup": 48, "tablespoon": 3, "teaspoon": 1}[unit]
    return whole


def test_every_sentence_of_the_book_can_be_turned_and_no_number_is_lost(book: OpenBook) -> None:
    found = sentences(book.book.doughs[0])
    assert len(found) > 500
    for text in found:
        us = sentence_in(text, "us")
        assert sorted(NUMBER.findall(in_order(text, "us"))) == sorted(NUMBER.findall(text))
        assert set(NUMBER.findall(text)) <= set(NUMBER.findall(us)), text
        # Turned back it reads metric first, as the book is written.
        assert in_order(in_order(text, "us"), "metric") == in_order(text, "metric")
        assert not re.search(r"°C \(", us), us
        assert not re.search(r"°F \(", in_order(text, "metric")), text


def test_both_numbers_of_a_pair_in_the_book_say_the_same(book: OpenBook) -> None:
    """Rounded to whole degrees, or as ovens are marked: to the next 5 °C or 25 °F."""
    for text in sentences(book.book.doughs[0]):
        for celsius, fahrenheit in re.findall(
            r"(?<!within )(?<!good to about )(?<![\d.])(\d+(?:\.\d)?) °C \((\d+) °F\)", text
        ):
            exact = convert(float(celsius), "degC", "degF")
            assert abs(exact - float(fahrenheit)) <= (10 if float(celsius) >= 150 else 1), text


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("Hold it at 72 to 78 °C (162 to 172 °F)", "Hold it at 162 to 172 °F (72 to 78 °C)"),
        ("Beat in 8 g (1 tablespoon) of flour", "Beat in 1 tablespoon (8 g) of flour"),
        ("A pan 20 cm (8 in) square", "A pan 8 in (20 cm) square"),
        ("500 g (2 cups) milk", "2 cups (500 g) milk"),
        ("181 g (1⅓ cups and 2 tablespoons)", "1⅓ cups and 2 tablespoons (181 g)"),
        ("2,310 m (7,579 ft)", "7,579 ft (2,310 m)"),
    ],
)
def test_pairs_are_turned_both_ways(metric: str, us: str) -> None:
    assert in_order(metric, "us") == us == in_order(us, "us")
    assert in_order(us, "metric") == metric == in_order(metric, "metric")


@given(st.floats(0.1, 5000), st.sampled_from(["milk", "flour", "salt", "butter"]))
def test_what_the_spoons_hold_is_near_the_amount(grams: float, ingredient: str) -> None:
    """Household measures: USDA SR27. Two measures together come within 13 %, or a pinch."""
    words = measure(ingredient, grams)
    exact = grams / grams_of(ingredient, CUP_ML) * TEASPOONS_PER_CUP
    if words == "a pinch":
        assert exact < 1 / 8
        return
    assert teaspoons(words) == pytest.approx(exact, rel=0.13, abs=0.13)


def test_published_measures_come_back_as_they_are_printed() -> None:
    """USDA SR27: flour 20081 125 g a cup; milk 01077 244 g; butter 01145 14.2 g a tablespoon."""
    assert measure("flour", 125) == "1 cup"
    assert measure("milk", 244) == "1 cup"
    assert measure("butter", 14.2) == "1 tablespoon"
    assert measure("salt", 18) == "1 tablespoon"
    assert measure("cheese", GRAMS_PER_OUNCE) == "1.0 oz"
    assert in_spoons(1) == "1 teaspoon"


@pytest.fixture
def phone(client: TestClient) -> Phone:
    return Phone(client)


def choose(phone: Phone, system: str, back: str) -> None:
    phone.go(f"/units?back={back}")
    phone.post("/units", units=system, back=back)


def test_a_page_reads_in_the_units_that_were_chosen_and_stays_so(phone: Phone) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    while "/ask/" in phone.path:
        phone.post(phone.path, answer="not-looked")
    here = phone.path
    assert "85 °C (185 °F)" in phone.words
    choose(phone, "us", here)
    assert phone.path == here
    assert "185 °F (85 °C)" in phone.words
    assert "85 °C (185 °F)" not in phone.words
    phone.go(f"/c/{token}/right/cook-paste")
    assert "185 °F (85 °C)" in phone.words
    phone.go(f"/c/{token}/ask/paste-temperature")
    assert '<option value="degF" selected>' in phone.page.text
    phone.go(f"/c/{token}/over")
    assert "2 cups (500 g) milk" in phone.words
    choose(phone, "metric", here)
    assert "85 °C (185 °F)" in phone.words


def test_a_second_phone_reads_the_batch_in_the_units_chosen_for_it(
    phone: Phone, book: OpenBook, store: Store
) -> None:
    token = phone.at_stage("cook-paste", "slumps")
    choose(phone, "us", f"/c/{token}/right/weigh")
    app = create_app(book, store, hosts=["testserver"])
    with TestClient(app, headers={"Origin": "http://testserver"}) as other:
        second = Phone(other)
        second.go(f"/c/{token}")
        second.go(f"/c/{token}/right/cook-paste")
        assert "185 °F (85 °C)" in second.words


def test_the_way_back_is_never_to_another_site(phone: Phone) -> None:
    for elsewhere in ("//evil.example", "https://evil.example", "/\\evil.example", "javascript:0"):
        phone.go("/units")
        answer = phone.client.post(
            "/units", data={"units": "us", "back": elsewhere}, follow_redirects=False
        )
        assert answer.headers["location"] == "/"
