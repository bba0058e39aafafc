"""The machine face: stateless, JSON only, every mistake a sentence."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import text as sql
from starlette.testclient import TestClient

from casebook.store import Store
from diagnose.consulting import OpenBook

EXAMPLE: dict[str, Any] = {
    "dough": "milk-panade-slab",
    "stage": "cook-paste",
    "kitchen": {"elevation_m": 2240},
    "batch": {"milk_g": 500, "flour_g": 100, "flour_measured": "weighed", "yolks": 2,
              "cheese_g": 45, "butter_g": 40, "simmer_min": 6, "cook_min": 2, "serve_in_min": 150},
    "signs": {"paste-body": "slumps", "bubbling": "none"},
    "readings": {"paste-temperature": {"value": 78, "unit": "degC"}},
    "tried": [{"remedy": "add-flour-by-the-spoon", "result": "no-change"}],
}  # fmt: skip


def test_the_doughs_are_listed_with_their_stages(client: TestClient) -> None:
    (dough,) = client.get("/api/v1/doughs").json()
    assert dough["id"] == "milk-panade-slab"
    assert [s["id"] for s in dough["stages"]][3] == "cook-paste"
    assert set(dough) == {"id", "title", "stages"}


def test_the_vocabulary_is_whole(client: TestClient, book: OpenBook) -> None:
    dough = book.book.doughs[0]
    told = client.get("/api/v1/doughs/milk-panade-slab").json()
    assert len(told["signs"]) == len(dough.signs)
    body = next(s for s in told["signs"] if s["id"] == "paste-body")
    assert [a["id"] for a in body["answers"]] == [
        "pours", "slumps", "sticks", "one-mass", "stiff-crumbly",
    ]  # fmt: skip
    probe = next(r for r in told["readings"] if r["id"] == "paste-temperature")
    assert probe["unit"] == "degC"
    assert probe["possible"][0] <= probe["likely"][0] < probe["likely"][1] <= probe["possible"][1]
    assert {"id": "cook-on-hotter", "kind": "heat"} in told["remedies"]


def test_an_unknown_dough_is_not_there(client: TestClient) -> None:
    answer = client.get("/api/v1/doughs/bread")
    assert answer.status_code == 404
    assert answer.json() == {"problems": ['There is no dough "bread"; known are milk-panade-slab.']}


def test_the_example_is_answered_and_nothing_is_stored(client: TestClient, store: Store) -> None:
    del client.headers["Origin"]
    answer = client.post("/api/v1/diagnose", json=EXAMPLE)
    assert answer.status_code == 200
    assert "Set-Cookie" not in answer.headers
    told = answer.json()
    assert told["plan"][0]["remedy"] == "cook-on-hotter"
    assert told["plan"][0]["kind"] == "heat"
    assert set(told["because"][0]) >= {"rule", "says", "for", "strength", "facts", "source"}
    with store.reading() as connection:
        assert connection.scalar(sql("SELECT count(*) FROM consultation")) == 0


def test_the_order_in_which_things_are_told_does_not_matter(client: TestClient) -> None:
    first = client.post("/api/v1/diagnose", json=EXAMPLE).json()
    again = client.post("/api/v1/diagnose", json=dict(reversed(EXAMPLE.items()))).json()
    assert first == again


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"stage": "cook"}, "stage"),
        ({"dough": "bread"}, "dough"),
        ({"signs": {"paste-body": "slump"}}, "slumps"),
        ({"readings": {"paste-temperature": {"value": 900, "unit": "degC"}}}, "900"),
        ({"readings": {"paste-temperature": {"value": 78, "unit": "g"}}}, "degC"),
        ({"batch": {"milk": 500}}, "milk_g"),
        ({"kitchen": {"elevation_m": "high"}}, "elevation_m"),
        ({"tried": [{"remedy": "pray", "result": "worked"}]}, "remedy"),
    ],
)
def test_each_mistake_is_a_sentence(client: TestClient, change: dict[str, Any], words: str) -> None:
    answer = client.post("/api/v1/diagnose", json={**EXAMPLE, **change})
    assert answer.status_code == 422
    assert any(words in problem for problem in answer.json()["problems"])


def test_all_mistakes_come_at_once(client: TestClient) -> None:
    wrong = {**EXAMPLE, "stage": "x", "signs": {"paste-body": "x"}, "batch": {"milk_g": -1}}
    assert len(client.post("/api/v1/diagnose", json=wrong).json()["problems"]) == 3


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "not JSON"),
        (b"{", "not JSON"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"[]", "not a situation"),
        (b"null", "not a situation"),
        (b'{"dough": "a", "dough": "b"}', "told twice"),
        (b'{"x": NaN}', "NaN"),
        (b"[" * 50_000, "deeply"),
        (b"1" * 5_000, "too long"),
    ],
)
def test_what_is_no_situation_is_refused_with_a_sentence(
    client: TestClient, body: bytes, words: str
) -> None:
    answer = client.post(
        "/api/v1/diagnose", content=body, headers={"Content-Type": "application/json"}
    )
    assert answer.status_code == 422
    (problem,) = answer.json()["problems"]
    assert words in problem


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_only_json_is_taken(client: TestClient, kind: str) -> None:
    answer = client.post("/api/v1/diagnose", content=b"{}", headers={"Content-Type": kind})
    assert answer.status_code == 415
    assert "application/json" in answer.json()["problems"][0]


def test_the_description_is_there_and_no_page_that_loads_foreign_files(client: TestClient) -> None:
    described = client.get("/api/v1/openapi.json").json()
    assert set(described["paths"]) == {
        "/api/v1/doughs", "/api/v1/doughs/{name}", "/api/v1/diagnose", "/api/v1/plan",
    }  # fmt: skip
    for path in ("/docs", "/redoc", "/openapi.json"):
        assert client.get(path).status_code == 404
