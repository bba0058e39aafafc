"""Timers are ends on the clock: one board for a batch, one for the kitchen."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from starlette.testclient import TestClient

from casebook.consultations import JSON, Consultation, Entry, load
from casebook.store import Store
from diagnose.consulting import OpenBook
from phone import Phone
from web.app import create_app
from web.timing import timers_of

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


class Kitchen:
    """A phone, and a clock on the wall that can be put forward."""

    def __init__(self, book: OpenBook, store: Store) -> None:
        self.now = NOON
        app = create_app(book, store, hosts=["testserver"], now=lambda: self.now)
        self.client = TestClient(app, headers={"Origin": "http://testserver"})
        self.phone = Phone(self.client)


@pytest.fixture
def kitchen(book: OpenBook, store: Store) -> Iterator[Kitchen]:
    made = Kitchen(book, store)
    with made.client:
        yield made


def ends(phone: Phone) -> list[int]:
    return [int(found) for found in re.findall(r'data-until="(\d+)"', phone.page.text)]


def at(minutes: float) -> int:
    return round((NOON + timedelta(minutes=minutes)).timestamp())


def test_all_timers_of_a_batch_are_on_one_board_the_next_to_end_first(kitchen: Kitchen) -> None:
    phone = kitchen.phone
    token = phone.start()
    phone.post(f"/c/{token}/timers", what="The slab chills", minutes="120")
    phone.post(f"/c/{token}/timers", what="The milk simmers", minutes="6")
    assert phone.path == f"/c/{token}/timers"
    assert ends(phone) == [at(6), at(120)]
    kitchen.now += timedelta(minutes=3)
    phone.go(f"/c/{token}/timers")
    assert ends(phone) == [at(6), at(120)]


def test_a_second_tap_while_it_runs_is_no_second_timer(kitchen: Kitchen) -> None:
    phone = kitchen.phone
    token = phone.start()
    phone.post(f"/c/{token}/timers", what="The milk simmers", minutes="6")
    kitchen.now += timedelta(minutes=2)
    phone.post(f"/c/{token}/timers", what="The milk simmers", minutes="6")
    assert ends(phone) == [at(6)]


def test_minutes_are_added_to_the_end_or_to_now_and_done_takes_it_off(kitchen: Kitchen) -> None:
    phone = kitchen.phone
    token = phone.start()
    phone.post(f"/c/{token}/timers", what="The milk simmers", minutes="6")
    phone.post(f"/c/{token}/timers", more="the-milk-simmers")
    assert ends(phone) == [at(11)]
    kitchen.now += timedelta(minutes=13)
    phone.go(f"/c/{token}/timers")
    assert "Time is up since" in phone.words
    phone.post(f"/c/{token}/timers", more="the-milk-simmers")
    assert ends(phone) == [at(18)]
    phone.post(f"/c/{token}/timers", off="the-milk-simmers")
    assert ends(phone) == []
    assert "Nothing runs" in phone.words


def test_a_timer_of_the_recipe_outlives_a_new_look_and_one_of_a_remedy_does_not(
    kitchen: Kitchen, store: Store
) -> None:
    phone = kitchen.phone
    token = phone.at_stage("cook-paste", "slumps")
    while "/ask/" in phone.path:
        phone.post(phone.path, answer="not-looked")
    phone.post(phone.path, timer="start")
    phone.post(f"/c/{token}/timers", what="The slab chills", minutes="120")
    assert len(ends(phone)) == 2
    phone.post(f"/c/{token}/stage", stage="temper")
    phone.go(f"/c/{token}/timers")
    assert ends(phone) == [at(120)]


def test_a_timer_that_ran_out_is_still_shown_for_ten_minutes(kitchen: Kitchen) -> None:
    phone = kitchen.phone
    token = phone.start()
    phone.post(f"/c/{token}/timers", what="Look", minutes="1")
    kitchen.now += timedelta(minutes=10, seconds=59)
    phone.go(f"/c/{token}/timers")
    assert ends(phone) == [at(1)]
    kitchen.now += timedelta(seconds=2)
    phone.go(f"/c/{token}/timers")
    assert ends(phone) == []


def test_the_kitchen_board_shows_every_batch_and_no_secret_address(kitchen: Kitchen) -> None:
    phone = kitchen.phone
    first = phone.start("summit")
    phone.post(f"/c/{first}/timers", what="The slab chills", minutes="60")
    second = phone.start("harbour")
    phone.post(f"/c/{second}/timers", what="The milk simmers", minutes="6")
    board = TestClient(kitchen.client.app).get("/timers").text
    assert board.index("Harbour, begun at") < board.index("Summit, begun at")
    assert [int(n) for n in re.findall(r'data-until="(\d+)"', board)] == [at(6), at(60)]
    assert first not in board
    assert second not in board


def test_a_timer_from_the_recipe_leads_back_to_its_stage(kitchen: Kitchen) -> None:
    phone = kitchen.phone
    phone.go("/start?follow=simmer")
    phone.post("/start", kitchen="summit", follow="simmer")
    token = phone.token
    phone.post(f"/c/{token}/timers", what="The milk simmers", minutes="6", back="simmer")
    assert phone.path == f"/c/{token}/right/simmer"
    assert "Timer until" in phone.page.text


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"what": "x", "minutes": ""}, "Tap a number of minutes"),
        ({"what": "x", "minutes": "0"}, "From 1 minute to 24 hours"),
        ({"what": "x", "own": "soon"}, "soon"),
        ({"what": "x", "own": "30 h"}, "From 1 minute to 24 hours"),
        ({"what": "x" * 61, "minutes": "5"}, "at most 60 letters"),
    ],
)
def test_what_is_no_time_is_refused_beside_the_box(
    kitchen: Kitchen, fields: dict[str, str], words: str
) -> None:
    phone = kitchen.phone
    token = phone.start()
    assert phone.post(f"/c/{token}/timers", **fields).status_code == 422
    assert words in phone.words
    assert ends(phone) == []


def test_timers_told_before_they_had_words_are_still_read() -> None:
    value: JSON = {"until": (NOON + timedelta(minutes=3)).isoformat(), "minutes": 3}
    old = Entry(1, "timer", "cook-on-hotter", value, NOON)
    (timer,) = timers_of(Consultation("-" * 22, "milk-panade-slab", NOON, (old,)), NOON)
    assert (timer.what, timer.remedy) == ("Cook on hotter", "cook-on-hotter")


def test_a_timer_is_kept_as_an_hour_and_so_is_right_after_a_restart(
    book: OpenBook, store: Store
) -> None:
    first = Kitchen(book, store)
    with first.client:
        token = first.phone.start()
        first.phone.post(f"/c/{token}/timers", what="The slab chills", minutes="120")
    assert load(store, token).entries[-1].kind == "timer"
    later = Kitchen(book, store)
    later.now += timedelta(minutes=45)
    with later.client:
        later.phone.go(f"/c/{token}/timers")
        assert ends(later.phone) == [at(120)]
