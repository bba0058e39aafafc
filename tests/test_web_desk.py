"""Signing in to the rule desk: who may, from where, how often; and what nobody can do."""

from __future__ import annotations

from casebook.publishing import Press
from casebook.store import Store
from desk import FIELD, NAME, PASSPHRASE, Browser
from diagnose.consulting import OpenBook
from web.app import create_app


def browser(book: OpenBook, store: Store, **where: str) -> Browser:
    return Browser(create_app(book, store, hosts=["testserver"]), **where)


def test_the_first_visit_makes_the_first_instructor_and_shows_the_desk(
    book: OpenBook, store: Store
) -> None:
    phone = browser(book, store)
    assert "The first instructor" in phone.get("/desk").text
    phone.begin()
    home = phone.get("/desk")
    assert f"You are {NAME}." in home.text
    assert home.headers["Cache-Control"] == "no-store"


def test_nobody_gets_in_without_the_passphrase(book: OpenBook, store: Store) -> None:
    browser(book, store).begin()
    stranger = browser(book, store)
    assert stranger.get("/desk").url.path == "/desk/sign-in"
    assert stranger.sign_in(passphrase="wrong").status_code == 401
    assert stranger.get("/desk").url.path == "/desk/sign-in"
    assert stranger.sign_in().status_code == 303
    assert stranger.get("/desk").url.path == "/desk"


def test_signing_in_leads_back_to_the_page_that_was_wanted(book: OpenBook, store: Store) -> None:
    browser(book, store).begin()
    phone = browser(book, store)
    page = phone.get("/desk/instructors")
    assert 'name="back" value="/desk/instructors"' in page.text
    assert phone.sign_in(back="/desk/instructors").headers["Location"] == "/desk/instructors"
    assert phone.sign_in(back="//elsewhere.example/desk").headers["Location"] == "/desk"


def test_signing_out_ends_the_session_also_for_a_kept_cookie(
    instructor: Browser,
) -> None:
    kept = dict(instructor.cookies)
    assert instructor.send_form("/desk/sign-out").url.path == "/desk/sign-in"
    instructor.cookies.update(kept)
    assert instructor.get("/desk").url.path == "/desk/sign-in"


def test_a_form_without_the_token_of_its_page_is_refused(instructor: Browser, store: Store) -> None:
    data = {"name": "Instructor B", "passphrase": PASSPHRASE}
    for extra in ({}, {FIELD: ""}, {FIELD: "0" * 64}, {FIELD: "ß"}):
        answer = instructor.post("/desk/instructors", data={**data, **extra})
        assert answer.status_code == 403
        assert "Open the page again" in answer.text
    assert "Instructor B" not in instructor.get("/desk/instructors").text
    instructor.send_form("/desk/instructors", data)
    assert "Instructor B" in instructor.get("/desk/instructors").text


def test_the_desk_is_closed_to_other_machines_unless_it_is_opened_or_over_https(
    book: OpenBook, store: Store, press: Press
) -> None:
    browser(book, store).begin()
    away = "192.0.2.7"
    closed = browser(book, store, machine=away)
    for answer in (closed.get("/desk"), closed.get("/desk/sign-in"), closed.sign_in()):
        assert answer.status_code == 403
        assert "can be read" in answer.text
    assert closed.get("/").status_code == 200
    app = create_app(book, store, hosts=["testserver"], press=press, desk_on_lan=True)
    assert Browser(app, machine=away).sign_in().status_code == 303
    safe = browser(book, store, machine=away, origin="https://testserver")
    answer = safe.sign_in()
    assert answer.status_code == 303
    assert "; secure" in answer.headers["Set-Cookie"].lower()
