"""Signing in to the rule desk: who may, from where, how often; and what nobody can do."""

from __future__ import annotations

from contextvars import copy_context
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select

from casebook import instructors
from casebook.publishing import Press
from casebook.store import Store
from casebook.tables import desk_session
from desk import FIELD, NAME, PASSPHRASE, WET, Browser, now, press_on
from desk import TOLD as SAID
from diagnose.consulting import OpenBook
from diagnose.knowledge.loading import fingerprint
from web.app import create_app
from web.running_book import RunningBook


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


def test_a_planted_session_is_not_taken_over_and_each_sign_in_has_a_new_one(
    book: OpenBook, store: Store
) -> None:
    first = browser(book, store)
    first.begin()
    planted = str(first.cookies["panadier-desk"])
    victim = browser(book, store)
    victim.cookies.set("panadier-desk", planted)
    victim.sign_in()
    mine = {c.value for c in victim.cookies.jar if c.name == "panadier-desk"} - {planted}
    assert mine
    # The session that was planted is over, so whoever planted it is out.
    assert first.get("/desk").url.path == "/desk/sign-in"


def test_a_made_up_cookie_opens_nothing(instructor: Browser) -> None:
    for cookie in ("", "x", "x.y", "../../etc/passwd", "a" * 5000, "1.2.3.4"):
        instructor.headers["Cookie"] = f"panadier-desk={cookie}"
        assert instructor.get("/desk").url.path == "/desk/sign-in"


def test_the_id_in_the_database_is_not_the_one_in_the_cookie(
    instructor: Browser, store: Store
) -> None:
    value = str(instructor.cookies["panadier-desk"])
    with store.reading() as connection:
        kept = connection.scalars(select(desk_session.c.id)).all()
    assert kept
    assert all(one not in value for one in kept)
    stranger = Browser(instructor.app)  # type: ignore[arg-type]
    stranger.headers["Cookie"] = f"panadier-desk={kept[0]}"
    assert stranger.get("/desk").url.path == "/desk/sign-in"


def test_signing_out_everywhere_ends_the_sessions_on_other_machines(
    book: OpenBook, store: Store
) -> None:
    one, other = browser(book, store), browser(book, store)
    one.begin()
    other.sign_in()
    other.send_form("/desk/sign-out", {"everywhere": "yes"})
    assert one.get("/desk").url.path == "/desk/sign-in"


def test_a_session_lasts_eight_hours(book: OpenBook, store: Store) -> None:
    clock = [datetime(2026, 1, 5, 8, tzinfo=UTC)]
    phone = Browser(create_app(book, store, hosts=["testserver"], now=lambda: clock[0]))
    phone.begin()
    clock[0] += timedelta(hours=7, minutes=59)
    assert phone.get("/desk").url.path == "/desk"
    clock[0] += timedelta(minutes=1)
    assert phone.get("/desk").url.path == "/desk/sign-in"


def test_guessing_gets_slow_after_five_misses_and_the_right_one_waits_too(
    book: OpenBook, store: Store
) -> None:
    browser(book, store).begin()
    guesser = browser(book, store)
    seen = [guesser.sign_in(passphrase=f"guess number {n}") for n in range(12)]
    assert [answer.status_code for answer in seen] == [401] * 5 + [429] * 7
    assert 1 <= int(seen[-1].headers["Retry-After"]) <= 3
    assert "Wait 2 seconds" in seen[5].text
    assert guesser.sign_in().status_code == 429


def test_the_first_instructor_is_made_once_and_only_on_this_computer(
    book: OpenBook, store: Store, press: Press
) -> None:
    app = create_app(book, store, hosts=["testserver"], press=press, desk_on_lan=True)
    data = {"name": "Mallory", "passphrase": PASSPHRASE}
    away = Browser(app, machine="192.0.2.7")
    assert "on the computer" in away.get("/desk").text
    assert away.post("/desk/first", data=data).status_code == 403
    here = Browser(app)
    assert here.post("/desk/first", data={**data, "passphrase": "too short"}).status_code == 422
    here.begin()
    second = Browser(app)
    assert second.post("/desk/first", data=data).status_code == 422
    assert instructors.names(store) == (NAME,)


def test_a_page_elsewhere_can_do_nothing_in_the_name_of_an_instructor(
    instructor: Browser,
) -> None:
    token = instructor.token()
    del instructor.headers["Origin"]
    elsewhere = (None, "null", "http://evil.test", "http://testserver:8001", "https://testserver.x")
    for path in ("sign-in", "first", "sign-out", "instructors", "history/1/undo", "history/0/x"):
        for origin in elsewhere:
            headers = {} if origin is None else {"Origin": origin}
            data = {FIELD: token, "why": "x"}
            answer = instructor.post(f"/desk/{path}", data=data, headers=headers)
            assert answer.status_code == 403
    assert instructor.get("/desk").url.path == "/desk"


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(
    book: OpenBook, store: Store
) -> None:
    phone = browser(book, store)
    phone.begin()
    kept = phone.sign_in().headers["Set-Cookie"].lower()
    assert "httponly" in kept
    assert "samesite=strict" in kept
    assert "max-age=28800" in kept


def test_no_page_of_the_desk_keeps_what_is_typed_on_the_phone(instructor: Browser) -> None:
    for path in ("/desk", "/desk/instructors", "/desk/history"):
        page = instructor.get(path)
        assert page.headers["Cache-Control"] == "no-store"
        assert "localStorage" not in page.text
    instructor.send_form("/desk/sign-out")
    page = instructor.get("/desk/sign-in")
    assert page.headers["Cache-Control"] == "no-store"
    assert "localStorage" not in page.text


def test_a_change_that_is_not_there_is_a_plain_404(instructor: Browser) -> None:
    for number in ("..%2f1", "%2e%2e/1", "-1", "0", "1e3", "9" * 20, "{{7*7}}", "1;drop"):
        answer = instructor.get(f"/desk/history/{number}")
        assert answer.status_code == 404
        assert "not here" in answer.text


@pytest.fixture
def small(store: Store) -> Press:
    """Publishes changes of a book that is read quickly."""
    return press_on(store)


@pytest.fixture
def editor(small: Press, store: Store) -> Browser:
    """An instructor's browser at a site with that book."""
    app = create_app(small.shelf.current, store, hosts=["testserver"], press=small)
    browser = Browser(app)
    browser.begin()
    return browser


TOLD = {
    "dough": "ten-minutes",
    "stage": "cook-paste",
    "signs": {"paste-body": "slumps"},
    "readings": {"paste-temperature": {"value": 78, "unit": "degC"}},
}


def change(press: Press, why: str) -> None:
    text = now(press).replace("strength: strong", "strength: slight")
    press.publish({WET: text}, NAME, why)


def test_history_tells_who_when_why_and_what_and_takes_back(editor: Browser, small: Press) -> None:
    shipped = editor.post("/api/v1/diagnose", json=TOLD)
    assert shipped.status_code == 200
    change(small, "{{ 7*7 }} <b>bold</b>")
    changed = editor.post("/api/v1/diagnose", json=TOLD)
    assert changed.json()["book"] != shipped.json()["book"]
    assert "Changed rule undercooked-looks-wet" in editor.get("/desk/history").text
    one = editor.get("/desk/history/1").text
    for words in (NAME, "strength: was “strong”, is now “slight”", "{{ 7*7 }} &lt;b&gt;"):
        assert words in one
    back = editor.send_form("/desk/history/1/undo", {"why": "Not so"})
    assert back.url.path == "/desk/history/2"
    assert editor.post("/api/v1/diagnose", json=TOLD).content == shipped.content
    editor.send_form("/desk/history/1/roll-back", {"why": "So after all"})
    assert editor.post("/api/v1/diagnose", json=TOLD).content == changed.content
    editor.send_form("/desk/history/0/roll-back", {"why": "As shipped"})
    assert editor.post("/api/v1/diagnose", json=TOLD).content == shipped.content
    assert "There are 4" not in editor.get("/desk/history?page=2").text
    refused = editor.send_form("/desk/history/3/roll-back", {"why": ""})
    assert refused.status_code == 422
    assert "Say why" in refused.text


def test_taking_back_what_was_changed_since_shows_both(editor: Browser, small: Press) -> None:
    change(small, "Too sure")
    small.publish({WET: now(small).replace("swollen", "grown")}, "Instructor B", "Plainer")
    answer = editor.send_form("/desk/history/1/undo", {"why": "Not so"})
    assert answer.status_code == 409
    assert "Instructor B changed" in answer.text
    assert "grown" in answer.text
    assert "strength: strong" in answer.text


def test_a_request_keeps_to_one_book_though_another_is_put_in_use_meanwhile(
    small: Press,
) -> None:
    """The book is replaced between two questions of one request; both have the same answerer."""
    first = small.shelf.current
    second = OpenBook(first.book.model_copy(update={"version": "another-one"}))
    running = RunningBook(lambda: small.shelf.current)

    def one_request() -> set[str]:
        running.hold()
        seen = set()
        for other in (second, first, second):
            small.shelf.put(other)
            seen |= {running.consultant.book.version, running.consultant.diagnose(SAID).book}
        return seen

    assert copy_context().run(one_request) == {first.book.version}
    assert copy_context().run(one_request) == {"another-one"}


def test_a_change_made_by_another_program_is_seen_at_the_desk_at_once(
    editor: Browser, small: Press, store: Store
) -> None:
    change(press_on(store), "From elsewhere")
    assert "From elsewhere" in editor.get("/desk/history").text
    assert editor.post("/api/v1/diagnose", json=TOLD).json()["book"] == fingerprint(small.texts())
