"""What a request must be like to be answered, and what every answer carries."""

from __future__ import annotations

import gzip
import logging
import re
from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from phone import Phone
from web.guard import LIMIT_BYTES, path_for_log


@pytest.mark.parametrize(
    "origin",
    [
        None,
        "null",
        "http://evil.test",
        "http://testserver:8001",
        "https://testserver.evil.test",
        "file://testserver",
        "http://[",
    ],
)
def test_an_answer_from_elsewhere_is_refused_and_nothing_is_stored(
    client: TestClient, origin: str | None
) -> None:
    phone = Phone(client)
    token = phone.start()
    del client.headers["Origin"]
    headers = {} if origin is None else {"Origin": origin}
    answer = client.post(f"/c/{token}/stage", data={"stage": "temper"}, headers=headers)
    assert answer.status_code == 403
    assert "nothing was stored" in answer.text
    assert client.get(f"/c/{token}").url.path.endswith("/stage")


@pytest.mark.parametrize("host", ["evil.test", "testserver.evil.test", "", "127.0.0.2:80"])
def test_a_foreign_host_is_refused(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 400


@pytest.mark.parametrize("host", ["testserver", "testserver:8000", "TESTSERVER"])
def test_our_own_host_is_answered_on_any_port(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


def test_a_body_over_the_limit_is_refused_by_its_length(client: TestClient) -> None:
    answer = client.post("/start", data={"kitchen": "x" * LIMIT_BYTES})
    assert answer.status_code == 413
    assert "64 kB" in answer.text


def test_a_body_over_the_limit_is_refused_by_counting(client: TestClient) -> None:
    def endless() -> Iterator[bytes]:
        for _ in range(100):
            yield b"x" * 1024

    answer = client.post("/api/v1/diagnose", content=endless())
    assert answer.status_code == 413
    assert answer.json()["problems"] == ["That is too much to send: at most 64 kB is accepted."]


@pytest.mark.parametrize("path", ["/", "/nowhere", "/api/v1/doughs"])
def test_every_answer_confines_the_page_to_itself(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["Content-Security-Policy"]
    for part in ("default-src 'none'", "form-action 'self'", "frame-ancestors 'none'"):
        assert part in policy
    assert "unsafe" not in policy
    assert "upgrade-insecure-requests" not in policy
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["X-Content-Type-Options"] == "nosniff"


def test_the_nonce_is_new_for_each_page_and_on_its_style_and_script(client: TestClient) -> None:
    nonces = set()
    for _ in range(2):
        page = client.get("/")
        found = re.search(r"script-src 'nonce-([^']+)'", page.headers["Content-Security-Policy"])
        assert found
        nonces.add(found[1])
        assert f'<style nonce="{found[1]}">' in page.text
        assert f'<script nonce="{found[1]}">' in page.text
    assert len(nonces) == 2


def test_no_page_has_inline_handlers_or_style_attributes(client: TestClient) -> None:
    phone = Phone(client)
    phone.at_stage("cook-paste", "slumps")
    for path in ("/", "/start", "/right/cook-paste", f"/c/{phone.token}/complaint", phone.path):
        assert not re.search(r"<[^>]+\s(style|on[a-z]+)=", phone.go(path).text)


def test_the_log_holds_no_token_and_no_answer(
    client: TestClient, caplog: pytest.LogCaptureFixture
) -> None:
    phone = Phone(client)
    with caplog.at_level(logging.INFO, logger="web.access"):
        token = phone.at_stage("cook-paste", "slumps")
    lines = [record.getMessage() for record in caplog.records if record.name == "web.access"]
    assert any(line.startswith("POST /c/-/complaint 303") for line in lines)
    assert token not in "".join(lines)
    assert "slumps" not in "".join(lines)


def test_a_path_cannot_forge_a_line_of_the_log() -> None:
    assert "\n" not in path_for_log("/x\n200 OK")


def test_pages_are_sent_compressed(client: TestClient) -> None:
    with client.stream("GET", "/", headers={"Accept-Encoding": "gzip"}) as answer:
        raw = b"".join(answer.iter_raw())
    assert answer.headers["Content-Encoding"] == "gzip"
    assert b"<!doctype html>" in gzip.decompress(raw)


def test_the_batch_cookie_is_out_of_reach_of_scripts_and_other_sites(client: TestClient) -> None:
    client.follow_redirects = False
    key = Phone(client).key
    answer = client.post("/start", data={"key": key, "kitchen": "summit"})
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie


def test_a_form_of_another_kind_is_refused(client: TestClient) -> None:
    answer = client.post("/start", content="{}", headers={"Content-Type": "application/json"})
    assert answer.status_code == 415
