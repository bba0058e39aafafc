"""A batch kept as a case: what is in it, what is refused, and that nothing is kept twice."""

from __future__ import annotations

import io
import re
import tracemalloc
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from html import unescape

import anyio
import pytest
from httpx2 import Response
from PIL import Image
from starlette.testclient import TestClient
from starlette.types import ASGIApp, Message

from casebook.cases import case, cases_of, photo, photos, queue
from casebook.consultations import load
from casebook.photos import is_clean
from casebook.store import Store
from diagnose.consulting import OpenBook
from diagnose.knowledge.case import JSON, Case
from diagnose.knowledge.situations import read_situation
from diagnose.learning.cases import answers_of
from phone import Phone
from web.failures import failures
from web.guard import LARGEST_STREAM
from web.keeping import CLASS_COOKIE, LONGEST_CODE


def a_picture(colour: str = "brown", size: tuple[int, int] = (60, 40)) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def phone(client: TestClient) -> Phone:
    return Phone(client)


def keep(
    phone: Phone,
    token: str,
    jpeg: bytes = b"",
    *,
    key: str | None = None,
    code: str = "",
    **fields: str,
) -> Response:
    """Send the page that keeps a batch, as a browser does: with an empty file if none is chosen."""
    if key is None:
        phone.go(f"/c/{token}/keep")
        found = re.search(r'name="failure" value="(\d+)"', phone.page.text)
        fields.setdefault("failure", found[1] if found else "")
        key = phone.key
    phone.page = phone.client.post(
        f"/c/{token}/keep",
        data={"key": key, "class": code, **fields},
        files={"photo": ("dough.jpg" if jpeg else "", jpeg, "image/jpeg")},
    )
    return phone.page


def soupy(phone: Phone) -> str:
    """A paste that runs like soup, one remedy tried without success, and one look more."""
    token = phone.at_stage("cook-paste", "like-soup")
    phone.post(f"/c/{token}/ask/bubbling", answer="none")
    phone.post(f"/c/{token}/ask/paste-temperature", value="78", unit="degC")
    phone.go(f"/c/{token}")
    while "/ask/" in phone.path:
        phone.post(phone.path, answer="not-looked")
    phone.post(f"/c/{token}/remedy/{phone.path.rsplit('/', 1)[1]}", result="no-change", time="1")
    phone.post(f"/c/{token}/ask/bubbling", answer="lazy")
    return token


def only(store: Store, token: str) -> str:
    (id,) = cases_of(store, token)
    return id


def part(kept: Case, name: str) -> Mapping[str, JSON]:
    found = kept.situation[name]
    assert isinstance(found, Mapping)
    return found


def test_the_end_of_a_batch_leads_to_keeping_it(phone: Phone) -> None:
    token = soupy(phone)
    phone.go(f"/c/{token}/end")
    phone.post(f"/c/{token}/end", outcome="not-quite")
    assert phone.path == f"/c/{token}/keep"
    assert "No name is asked" in phone.words
    assert "How did it come out?" not in phone.words
    for path in ("summary", "told"):
        assert f'href="/c/{token}/keep"' in phone.go(f"/c/{token}/{path}").text


def test_a_kept_case_holds_the_whole_story_and_the_situation_before_the_first_remedy(
    phone: Phone, store: Store, book: OpenBook
) -> None:
    dough = book.book.doughs[0]
    token = soupy(phone)
    keep(phone, token, note="Heat first,\r\nflour second.", outcome="not-quite")
    assert phone.path == f"/c/{token}/keep"
    assert "This batch is kept" in phone.words
    kept = case(store, only(store, token))
    assert (kept.title, kept.stage) == ("It runs like soup", "cook-paste")
    assert (kept.note, kept.outcome) == ("Heat first,\nflour second.", "not-quite")
    assert (kept.entered_by, kept.elevation_m) == ("cook", 2310)
    told = load(store, token)
    assert [(t.at, t.kind, t.name, t.value) for t in kept.told] == [
        (e.at, e.kind, e.name, e.value) for e in told.entries
    ]
    # What was seen after the remedy is in the story, and not in what is learned from.
    assert part(kept, "signs")["bubbling"] == "none"
    assert kept.situation["tried"] == []
    assert kept.bands["paste-temperature"]
    situation, problems = read_situation(dict(kept.situation), book.book)
    assert problems == []
    assert situation is not None
    answers = answers_of(dough, situation)
    assert answers["bubbling"] == "none"
    assert {k: v for k, v in answers.items() if k in kept.bands} == kept.bands
    diagnosis = book.diagnose(situation)
    assert kept.thought is not None
    assert kept.thought.causes == tuple((c.id, c.chance) for c in diagnosis.causes)
    assert kept.thought.first_remedy == diagnosis.plan[0].remedy
    assert kept.book == book.book.version
    assert any(line.startswith("Tried: ") and line.endswith("No change") for line in kept.said)
    assert [head.id for head in queue(store)] == [kept.id]


def test_a_form_sent_twice_keeps_one_case(phone: Phone, store: Store) -> None:
    token = soupy(phone)
    phone.go(f"/c/{token}/keep")
    key = phone.key
    for _ in range(3):
        keep(phone, token, a_picture(), key=key, note="Twice", outcome="not-quite")
        assert phone.page.status_code == 200
    assert photos(store, only(store, token))[0].endswith("It runs like soup")


def test_other_words_from_the_same_page_are_kept_only_when_asked_for(
    phone: Phone, store: Store
) -> None:
    token = soupy(phone)
    phone.go(f"/c/{token}/keep")
    key = phone.key
    keep(phone, token, key=key, note="First")
    keep(phone, token, key=key, note="Second")
    assert phone.page.status_code == 409
    assert "is kept already" in phone.words
    assert "Second" in phone.words
    assert 'name="again" value="yes"' in phone.page.text
    keep(phone, token, key=phone.key, note="Second", again="yes")
    first, second = cases_of(store, token)
    assert [case(store, id).note for id in (first, second)] == ["First", "Second"]


def test_a_picture_added_afterwards_is_not_silently_dropped(phone: Phone, store: Store) -> None:
    token = soupy(phone)
    keep(phone, token, note="The same")
    keep(phone, token, a_picture(), key="A" * 16, note="The same")
    assert phone.page.status_code == 409
    assert "Choose the picture again" in phone.words
    assert photos(store, only(store, token)) == ()


def test_a_batch_is_kept_once_more_only_when_more_was_told(phone: Phone, store: Store) -> None:
    token = soupy(phone)
    keep(phone, token)
    phone.go(f"/c/{token}/keep")
    assert "This batch is kept" in phone.words
    assert "<form" not in phone.page.text
    assert f"/cases/{only(store, token)}" in phone.page.text
    assert "Kept as a case" in phone.go(f"/c/{token}/summary").text
    phone.post(f"/c/{token}/end", outcome="thrown-away")
    assert phone.path == f"/c/{token}/keep"
    assert "You told more since" in phone.words
    keep(phone, token)
    second = cases_of(store, token)[1]
    assert case(store, second).outcome == "thrown-away"
    assert "<form" not in phone.go(f"/c/{token}/keep").text


def test_two_failures_of_one_batch_are_two_cases(phone: Phone, store: Store) -> None:
    token = soupy(phone)
    phone.post(f"/c/{token}/stage", stage="brown")
    phone.post(f"/c/{token}/complaint", stage="brown", complaint="stick-and-tear")
    phone.post(f"/c/{token}/end", outcome="not-quite")
    dough_names = re.findall(r'name="failure" value="(\d+)"', phone.page.text)
    assert len(dough_names) == 2
    for number in dough_names:
        keep(phone, token, failure=number)
        assert phone.page.status_code == 200
    first, second = (case(store, id) for id in cases_of(store, token))
    assert (first.title, first.stage) == ("It runs like soup", "cook-paste")
    assert (second.title, second.stage) == ("They stick and tear when I turn them", "brown")
    assert first.outcome == second.outcome == "not-quite"
    # What was tried for the first is in the pan, but is no answer to the second.
    assert [t.kind for t in first.told].count("tried") == 1
    assert [t.kind for t in second.told].count("tried") == 0
    settled = second.situation["settled"]
    assert isinstance(settled, list)
    assert len(settled) == 1
    assert "bubbling" not in part(second, "signs")
    assert second.elevation_m == 2310
    assert {t.name for t in second.told if t.kind == "kitchen"} >= {"place", "elevation_m"}
    assert "This batch is kept" in phone.words


def test_which_of_two_failures_is_asked_and_never_guessed(phone: Phone, store: Store) -> None:
    token = soupy(phone)
    phone.post(f"/c/{token}/stage", stage="brown")
    phone.post(f"/c/{token}/complaint", stage="brown", complaint="stick-and-tear")
    for failure in ("", "99", "x"):
        keep(phone, token, key="B" * 16, failure=failure, note="Which?")
        assert phone.page.status_code == 422
        assert "Say which of these" in phone.words
        assert "Which?" in phone.words
    assert cases_of(store, token) == ()


def test_a_batch_that_came_out_right_can_be_kept_too(phone: Phone, store: Store) -> None:
    token = phone.start()
    assert "Nothing to keep yet" in phone.go(f"/c/{token}/keep").text
    keep(phone, token, key="C" * 16)
    assert phone.page.status_code == 422
    phone.post(f"/c/{token}/right/weigh", right="yes")
    phone.post(f"/c/{token}/end", outcome="as-it-should")
    keep(phone, token)
    kept = case(store, only(store, token))
    assert (kept.title, kept.outcome) == ("It came out as it should", "as-it-should")
    assert kept.stage == "simmer"


@pytest.mark.parametrize(
    ("note", "sentence"),
    [
        ("x" * 2_001, "The note has 2,001 characters and up to 2,000 are kept; shorten it by 1."),
        ("It tore\x07 off", 'a character that cannot be shown, after "It tore"'),
    ],
)
def test_a_refused_note_is_not_lost(phone: Phone, store: Store, note: str, sentence: str) -> None:
    token = soupy(phone)
    keep(phone, token, note=note, code="TUE-2", outcome="thrown-away")
    assert phone.page.status_code == 422
    assert sentence in phone.words
    text = unescape(phone.page.text)
    assert f"\n{note}</textarea>" in text
    assert 'value="TUE-2"' in text
    assert re.search(r'value="thrown-away" checked', text)
    assert "<title>Error: " in text
    assert cases_of(store, token) == ()


def test_line_ends_of_other_programs_are_line_ends(phone: Phone, store: Store) -> None:
    token = soupy(phone)
    keep(phone, token, note="One\u2028two\u2029three\r\nfour\x85five")
    assert case(store, only(store, token)).note == "One\ntwo\nthree\nfour\nfive"


@pytest.mark.parametrize(
    "data",
    [
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"\xff\xd8\xff\xd9",
        a_picture()[:200],
        b"PK\x03\x04",
    ],
)
def test_a_hostile_photo_is_refused_and_the_note_kept(
    phone: Phone, store: Store, data: bytes
) -> None:
    token = soupy(phone)
    keep(phone, token, data, note="My note")
    assert phone.page.status_code == 422
    assert "My note</textarea>" in phone.page.text
    assert 'id="photo-problem"' in phone.page.text
    assert cases_of(store, token) == ()


def body_with(size: int, boundary: bytes = b"xx") -> Iterator[bytes]:
    """A form with a note and then a picture of so many bytes, made as it is sent."""
    for name, value in ((b"key", b"D" * 16), (b"note", b"Written before the picture")):
        yield b'--%b\r\nContent-Disposition: form-data; name="%b"\r\n\r\n%b\r\n' % (
            boundary, name, value,
        )  # fmt: skip
    yield (
        b'--%b\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n'
        b"Content-Type: image/jpeg\r\n\r\n" % boundary
    )
    piece = b"\xff" * 100_000
    for _ in range(size // len(piece)):
        yield piece
    yield b"\r\n--%b--\r\n" % boundary


KIND = {"Content-Type": "multipart/form-data; boundary=xx"}


def answered(
    app: ASGIApp, path: str, body: Iterator[bytes], cookies: str = ""
) -> tuple[int, str, int]:
    """Status and text of what a site answers to a body that is made as it is read.

    And the most memory it took. A test client would hold the whole body itself.
    """
    scope = {
        "type": "http", "method": "POST", "path": path, "raw_path": path.encode(),
        "query_string": b"", "scheme": "http", "http_version": "1.1", "root_path": "",
        "client": ("127.0.0.1", 1), "server": ("testserver", 80),
        "headers": [(b"host", b"testserver"), (b"origin", b"http://testserver"),
                    (b"content-type", KIND["Content-Type"].encode()),
                    (b"cookie", cookies.encode())],
    }  # fmt: skip
    sent: list[Message] = []

    async def receive() -> Message:
        piece = next(body, None)
        return {"type": "http.request", "body": piece or b"", "more_body": piece is not None}

    async def send(message: Message) -> None:
        sent.append(message)

    async def ask() -> None:
        await app(scope, receive, send)

    tracemalloc.start()
    # In a thread of its own: a browser driven before in this one has a loop running in it.
    with ThreadPoolExecutor(1) as thread:
        thread.submit(anyio.run, ask).result()
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    text = b"".join(message.get("body", b"") for message in sent).decode()
    return sent[0]["status"], text, most


@pytest.mark.parametrize(
    ("megabytes", "status", "sentence"),
    [
        (9, 422, "The picture takes 9.0 MB; up to 8 MB are taken."),
        (100, 422, "The picture takes 100.0 MB; up to 8 MB are taken."),
        (140, 413, "at most 128 MB is accepted"),
    ],
)
def test_an_upload_that_is_too_large_is_refused_and_never_held_in_memory(
    phone: Phone, store: Store, megabytes: int, status: int, sentence: str
) -> None:
    token = soupy(phone)
    got, text, most = answered(
        phone.client.app, f"/c/{token}/keep", body_with(megabytes * 1_000_000)
    )
    assert got == status
    assert sentence in text
    assert most < 8_000_000
    if status == 422:
        assert "Written before the picture</textarea>" in text
    assert cases_of(store, token) == ()


@pytest.mark.parametrize("length", [str(LARGEST_STREAM + 1), "9" * 5_000, "-1", "x"])
def test_an_upload_that_says_it_is_too_large_is_not_read(phone: Phone, length: str) -> None:
    token = soupy(phone)
    answer = phone.client.post(
        f"/c/{token}/keep", content=b"", headers={**KIND, "Content-Length": length}
    )
    assert answer.status_code == 413


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 400),
        (b"--xx\r\nContent-Disposition: form-data; name=note\r\n\r\nhalf", 400),
        (b"nonsense", 400),
        (b"--xx\r\nContent-Disposition: form-data; name=a\r\n\r\n\r\n" * 400 + b"--xx--\r\n", 413),
        (b"--xx\r\nContent-Disposition: form-data; name=a\r\n\r\n" + b"x" * 300_000, 413),
    ],
)
def test_a_form_that_is_no_form_is_refused(phone: Phone, body: bytes, status: int) -> None:
    token = soupy(phone)
    answer = phone.client.post(f"/c/{token}/keep", content=body, headers=KIND)
    assert answer.status_code == status
    assert phone.client.post(f"/c/{token}/keep", data={"note": "x"}).status_code == 415


def test_a_photo_is_drawn_again_and_shown_at_an_address_of_its_own(
    phone: Phone, store: Store
) -> None:
    token = soupy(phone)
    exif = Image.Exif()
    exif[0x010F] = "SECRET maker"
    out = io.BytesIO()
    Image.new("RGB", (2000, 1000), "tan").save(out, "JPEG", exif=exif)
    keep(phone, token, out.getvalue())
    id = only(store, token)
    answer = phone.client.get(f"/cases/{id}/photos/1.jpg")
    assert answer.content == photo(store, id, 1).jpeg
    assert is_clean(answer.content)
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "immutable" in answer.headers["Cache-Control"]
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    for path in (f"/cases/{id}/photos/2.jpg", f"/cases/{id}/photos/0.jpg", f"/cases/{id}/photos/"
                 f"{'9' * 30}.jpg", "/cases/none/photos/1.jpg"):  # fmt: skip
        assert phone.client.get(path).status_code == 404


def test_script_in_a_note_or_a_class_code_is_only_text(phone: Phone, store: Store) -> None:
    token = soupy(phone)
    keep(phone, token, note="<script>alert(1)</script></textarea><b>", code="<script>")
    assert phone.page.status_code == 422
    assert "<script>alert" not in phone.page.text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;&lt;/textarea&gt;" in phone.page.text
    keep(phone, token, note="<script>alert(1)</script>")
    assert case(store, only(store, token)).note == "<script>alert(1)</script>"


def test_a_lesson_types_its_class_code_once(phone: Phone, store: Store) -> None:
    token = soupy(phone)
    keep(phone, token, code=" tue-2 ")
    assert case(store, only(store, token)).class_code == "TUE-2"
    assert phone.client.cookies[CLASS_COOKIE] == "TUE-2"
    assert [head.class_code for head in queue(store, class_code="TUE-2")] == ["TUE-2"]
    other = soupy(phone)
    assert 'name="class" value="TUE-2"' in phone.go(f"/c/{other}/keep").text
    keep(phone, other, code="")
    assert case(store, only(store, other)).class_code is None
    assert CLASS_COOKIE not in phone.client.cookies


@pytest.mark.parametrize("code", ["x" * (LONGEST_CODE + 1), "a;b", "a=b", "\x07"])
def test_a_class_code_is_letters_digits_and_hyphens(phone: Phone, store: Store, code: str) -> None:
    token = soupy(phone)
    keep(phone, token, code=code, note="Kept")
    assert phone.page.status_code == 422
    assert "like TUE-2" in phone.words
    assert "Kept</textarea>" in phone.page.text


def test_a_foreign_class_cookie_is_not_believed(phone: Phone) -> None:
    token = soupy(phone)
    phone.client.cookies.set(CLASS_COOKIE, "%22%3E%3Cscript%3E")
    assert 'name="class" value=""' in phone.go(f"/c/{token}/keep").text


def test_a_consultation_this_kitchen_does_not_know_cannot_be_kept(phone: Phone) -> None:
    assert phone.go(f"/c/{'A' * 22}/keep").status_code == 404
    keep(phone, "A" * 22, key="E" * 16, failure="0")
    assert phone.page.status_code == 404


def test_every_failure_of_every_stage_can_be_kept(
    phone: Phone, store: Store, book: OpenBook
) -> None:
    dough = book.book.doughs[0]
    for stage in dough.stages:
        token = phone.at_stage(stage.id, stage.complaints[0].id)
        (found,) = failures(load(store, token), dough)
        keep(phone, token)
        kept = case(store, only(store, token))
        assert (kept.title, kept.stage) == (stage.complaints[0].say, stage.id)
        assert found.situation.signs.items() >= stage.complaints[0].told.items() - {
            ("flour-measured", stage.complaints[0].told.get("flour-measured"))
        }
