"""A failure entered by an instructor: what is kept, what is refused, how little there is to do."""

from __future__ import annotations

import gzip
import re
from collections.abc import Iterator, Mapping

import pytest
from httpx2 import Response
from test_web_exchanging import token
from test_web_keeping import a_picture

from casebook.cases import case, confirmed, marks, photos, queue, standing
from casebook.store import Store
from desk import FIELD, NAME, Browser
from diagnose.consulting import OpenBook
from phone import Phone
from web.app import create_app

NEW = "/desk/cases/new"
BUDGET = (28_000, 9_000)


@pytest.fixture
def desk(book: OpenBook, store: Store) -> Iterator[Phone]:
    with Browser(create_app(book, store, hosts=["testserver"])) as browser:
        browser.begin()
        yield Phone(browser)


def enter(
    desk: Phone,
    jpeg: bytes = b"",
    *,
    key: str = "",
    stage: str = "cook-paste",
    fields: Mapping[str, str] | None = None,
    **more: str,
) -> Response:
    if not key:
        desk.go(f"{NEW}?stage={stage}")
    told = {"complaint": "like-soup", **(fields or {}), **more}
    named = {name.replace("__", "-"): value for name, value in told.items()}
    desk.page = desk.client.post(
        NEW,
        data={FIELD: token(desk), "key": key or desk.key, "stage": stage, **named},
        files={"photo": ("a.jpg" if jpeg else "", jpeg, "image/jpeg")},
    )
    return desk.page


def kept_id(desk: Phone) -> str:
    found = re.search(r'href="/cases/([a-z0-9]+)"', desk.page.text)
    assert found, desk.words
    return found[1]


@pytest.mark.parametrize("path", [NEW, f"{NEW}?stage=brown", "/desk/exchange"])
def test_a_stranger_is_sent_to_sign_in(book: OpenBook, store: Store, path: str) -> None:
    stranger = Browser(create_app(book, store, hosts=["testserver"]))
    answer = stranger.get(path, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["Location"].startswith("/desk/sign-in")


def test_every_stage_fits_one_page(desk: Phone, book: OpenBook) -> None:
    for stage in book.book.doughs[0].stages:
        text = desk.go(f"{NEW}?stage={stage.id}").text
        assert desk.page.status_code == 200
        assert len(text.encode()) <= BUDGET[0], stage.id
        assert len(gzip.compress(text.encode(), 6)) <= BUDGET[1], stage.id
        assert desk.page.headers["Cache-Control"] == "no-store"
    assert desk.go(f"{NEW}?stage=mars").status_code == 404
    assert len(desk.go(NEW).text.encode()) <= 12_000


def test_what_went_wrong_is_all_that_has_to_be_said(desk: Phone, store: Store) -> None:
    enter(desk)
    assert desk.path == NEW
    assert "Kept: It runs like soup" in desk.words
    kept = case(store, kept_id(desk))
    assert (kept.stage, kept.entered_by, kept.outcome) == ("cook-paste", "instructor", None)
    assert kept.elevation_m is None
    assert kept.thought is not None
    assert [head.id for head in queue(store)] == [kept.id]


def test_everything_that_was_seen_is_kept(desk: Phone, store: Store) -> None:
    enter(
        desk,
        a_picture(),
        kitchen="summit",
        outcome="not-quite",
        sign__bubbling="none",
        reading__paste__temperature="78 °C",
        note="Three pairs had it.",
        fields={"class": "tue-2"},
    )
    kept = case(store, kept_id(desk))
    assert kept.elevation_m == 2310
    assert kept.situation["signs"] == {"paste-body": "pours", "bubbling": "none"}
    assert kept.situation["readings"] == {"paste-temperature": {"value": 78.0, "unit": "degC"}}
    assert kept.bands["paste-temperature"]
    assert (kept.outcome, kept.note, kept.class_code) == (
        "not-quite", "Three pairs had it.", "TUE-2",
    )  # fmt: skip
    assert any("It runs like soup" in line for line in kept.said)
    assert len(photos(store, kept.id)) == 1
    # The next one needs neither the kitchen nor the class again.
    assert "stage=brown&amp;kitchen=summit" in desk.page.text
    text = desk.go(f"{NEW}?stage=brown&kitchen=summit").text
    assert '<option value="summit" selected>' in text
    assert 'name="class" value="TUE-2"' in text


def test_with_its_true_cause_it_is_confirmed_at_once(desk: Phone, store: Store) -> None:
    enter(desk, cause="undercooked-paste")
    id = kept_id(desk)
    assert standing(store, id) == "confirmed"
    (said,) = marks(store, id)
    assert (said.by, said.causes) == (NAME, ("undercooked-paste",))
    assert [found.id for found, _ in confirmed(store)] == [id]


def test_a_form_sent_twice_keeps_and_marks_once(desk: Phone, store: Store) -> None:
    desk.go(f"{NEW}?stage=cook-paste")
    key = desk.key
    ids = set()
    for _ in range(2):
        enter(desk, key=key, cause="undercooked-paste", note="Twice")
        ids.add(kept_id(desk))
    assert len(ids) == 1
    assert len(marks(store, ids.pop())) == 1


@pytest.mark.parametrize(
    ("fields", "field", "sentence"),
    [
        ({"complaint": ""}, "complaint", "Say what went wrong"),
        ({"complaint": "mars"}, "complaint", "Say what went wrong"),
        ({"kitchen": "mars"}, "kitchen", "one of the kitchens"),
        ({"elevation": "high"}, "elevation", "high"),
        ({"elevation": "2310"}, "elevation", "2310"),
        ({"elevation": "20000 m"}, "elevation", "20000"),
        ({"elevation": "10 m", "kitchen": "summit"}, "elevation", "not both"),
        ({"outcome": "eaten"}, "outcome", "one of the answers"),
        ({"cause": "gremlins"}, "cause", "one of the causes"),
        ({"sign__bubbling": "purple"}, "sign-bubbling", "one of the answers"),
        ({"reading__paste__temperature": "hot"}, "reading-paste-temperature", "hot"),
        ({"reading__paste__temperature": "900"}, "reading-paste-temperature", "900"),
        ({"note": "x" * 2_001}, "note", "shorten it by 1"),
    ],
)
def test_a_mistake_is_said_beside_its_box_and_nothing_else_is_lost(
    desk: Phone, store: Store, fields: dict[str, str], field: str, sentence: str
) -> None:
    enter(desk, fields={"note": "A note", "outcome": "not-quite", **fields})
    assert desk.page.status_code == 422
    found = re.search(rf'id="{field}-problem"><b>Problem:</b> ([^<]+)<', desk.page.text)
    assert found, desk.words
    assert sentence in found[1]
    assert fields.get("note", "A note") in desk.page.text
    assert queue(store) == ()


def test_an_unusual_number_is_asked_about_once(desk: Phone, store: Store) -> None:
    fields = {"reading__paste__temperature": "20"}
    enter(desk, fields=fields)
    assert desk.page.status_code == 422
    assert "would be unusual here" in desk.words
    sure = re.search(r'name="sure" value="([^"]+)"', desk.page.text)
    assert sure
    enter(desk, key=desk.key, sure=sure[1], fields=fields)
    assert desk.page.status_code == 200
    assert case(store, kept_id(desk)).situation["readings"]


def test_a_hostile_photo_is_refused_and_the_note_kept(desk: Phone, store: Store) -> None:
    enter(desk, b"<script>alert(1)</script>", note="<script>alert(2)</script>")
    assert desk.page.status_code == 422
    assert "JPEG, PNG and WebP are taken" in desk.words
    assert "&lt;script&gt;alert(2)" in desk.page.text
    assert "<script>alert" not in desk.page.text
    assert queue(store) == ()


def test_any_complaint_of_any_stage_can_be_entered(
    desk: Phone, store: Store, book: OpenBook
) -> None:
    stages = book.book.doughs[0].stages
    for stage in stages:
        for complaint in (stage.complaints[-1].id, "something-else"):
            enter(desk, stage=stage.id, complaint=complaint)
            assert desk.page.status_code == 200, (stage.id, desk.words)
    assert len(queue(store, count=100)) == 2 * len(stages)
