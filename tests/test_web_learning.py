"""Confirming cases, the switch of learning, and what everybody can read of it."""

from __future__ import annotations

import gzip
import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from typing import Any

import pytest

import desk
from casebook.acts import acts
from casebook.cases import keep_case, marks, queue, standing
from casebook.publishing import Press
from casebook.store import Store
from casebook.taught import Teacher
from casemaking import DOUGH, MADE_EACH, NOON, TORN
from diagnose.consulting import OpenBook
from diagnose.knowledge.case import Case
from diagnose.knowledge.loading import texts_of
from diagnose.shelf import Shelf
from phone import Phone
from web.app import create_app
from web.works import Work

PLAIN_PAGE, LONG_PAGE = (12_500, 5_000), (28_000, 9_000)
SOUPY = MADE_EACH["soupy-at-harbour"]
SAID = {"paste-body": "slumps"}


@pytest.fixture
def teacher(book: OpenBook, store: Store) -> Iterator[desk.Browser]:
    """An instructor's browser, on a site whose book can learn."""
    press = Press(store, Shelf(book), texts_of(), Teacher(store))
    app = create_app(book, store, hosts=["testserver"], press=press)
    with desk.Browser(app) as browser:
        browser.begin()
        yield browser


def keep(store: Store, name: str, case: Case = SOUPY, **more: Any) -> None:
    keep_case(store, replace(case, id=name, **more), f"keep {name}")


def patiently(browser: Any, path: str) -> str:
    """The page, once what it shows is worked out."""
    for _ in range(100):
        answer = browser.get(path)
        assert answer.status_code == 200, answer.text
        if "refresh" not in answer.headers:
            return str(answer.text)
    raise AssertionError(f"{path} is never worked out")


def words(text: str) -> str:
    main = re.search(r"<main>(.*)</main>", text, re.DOTALL)
    plain = re.sub(r"<svg.*?</svg>|<[^>]+>", " ", main[1] if main else "", flags=re.DOTALL)
    return " ".join(unescape(plain).split())


def key_of(text: str) -> str:
    found = re.search(r'name="key" value="([^"]+)"', text)
    assert found
    return found[1]


def confirm(browser: desk.Browser, name: str, **form: str) -> Any:
    page = browser.get(f"/desk/queue/{name}").text
    return browser.send_form(f"/desk/queue/{name}", {"key": key_of(page), **form})


# --- the queue ---


def test_one_case_a_page_and_after_it_the_next(teacher: desk.Browser, store: Store) -> None:
    keep(store, "aaa")
    keep(store, "bbb", TORN, kept=NOON.replace(hour=15))
    first = teacher.get("/desk/queue")
    assert first.url.path == "/desk/queue/aaa"
    said = words(first.text)
    for part in ("Soupy after ten minutes", "It pours off the spoon", "80 in 100", "it worked",
                 "It came out as it should"):  # fmt: skip
        assert part in said
    then = confirm(teacher, "aaa", say="cause:undercooked-paste")
    assert then.url.path == "/desk/queue/bbb"
    assert "Noted: Soupy after ten minutes" in words(then.text)
    (mark,) = marks(store, "aaa")
    assert (mark.by, mark.verdict, mark.causes) == (desk.NAME, "confirmed", ("undercooked-paste",))
    last = confirm(teacher, "bbb", say="doubtful")
    assert standing(store, "bbb") == "doubtful"
    assert "Nothing waits" in words(last.text)


def test_a_correction_names_two_causes_and_the_remedy_that_should_have_come_first(
    teacher: desk.Browser, store: Store, book: OpenBook
) -> None:
    keep(store, "aaa")
    page = teacher.get("/desk/queue/aaa?more=1").text
    causes = book.book.doughs[0].causes
    assert all(f'<option value="{cause.id}"' in page for cause in causes)
    confirm(teacher, "aaa", say="another", another="flour-short", second="over-reduced",
            remedy="cook-on-hotter")  # fmt: skip
    (mark,) = marks(store, "aaa")
    assert mark.causes == ("flour-short", "over-reduced")
    assert mark.first_remedy == "cook-on-hotter"


def test_a_mark_is_taken_back_by_another_and_a_form_counts_once(
    teacher: desk.Browser, store: Store
) -> None:
    keep(store, "aaa")
    page = teacher.get("/desk/queue/aaa").text
    form = {"key": key_of(page), "say": "cause:undercooked-paste"}
    for _ in range(2):
        assert teacher.send_form("/desk/queue/aaa", form).status_code == 200
    assert len(marks(store, "aaa")) == 1
    assert "Said of it so far" in words(teacher.get("/desk/queue/aaa").text)
    confirm(teacher, "aaa", say="doubtful")
    assert [one.verdict for one in marks(store, "aaa")] == ["confirmed", "doubtful"]


def test_a_double_is_suggested_and_can_be_named(teacher: desk.Browser, store: Store) -> None:
    keep(store, "aaa")
    keep(store, "bbb", kept=NOON.replace(hour=14))
    keep(store, "elsewhere", TORN)
    page = teacher.get("/desk/queue/bbb").text
    assert 'value="same:aaa"' in page
    assert 'value="same:elsewhere"' not in page
    confirm(teacher, "bbb", say="same:aaa")
    assert marks(store, "bbb")[-1].other == "aaa"
    refused = confirm(teacher, "elsewhere", say="same", other="nobody")
    assert refused.status_code == 422
    assert "no case nobody" in words(refused.text)


def test_a_case_that_is_skipped_still_waits(teacher: desk.Browser, store: Store) -> None:
    keep(store, "aaa")
    page = teacher.get("/desk/queue?after=aaa")
    assert "Cases that you skipped still wait" in words(page.text)
    assert [head.id for head in queue(store)] == ["aaa"]


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({}, "Choose what it really was"),
        ({"say": "another"}, "Choose the cause from the list"),
        ({"say": "cause:no-such"}, 'The book has no cause "no-such"'),
        ({"say": "same"}, "Give the name of the case that stays"),
        ({"say": "cause:flour-short", "second": "flour-short"}, "the same as the first"),
        ({"say": "cause:flour-short", "remedy": "no-such"}, 'The book has no remedy "no-such"'),
    ],
)
def test_what_cannot_be_noted_is_said_and_nothing_is_kept(
    teacher: desk.Browser, store: Store, form: dict[str, str], sentence: str
) -> None:
    keep(store, "aaa")
    answer = confirm(teacher, "aaa", **form)
    assert answer.status_code == 422
    assert sentence in words(answer.text)
    assert marks(store, "aaa") == ()


def test_nobody_else_sees_the_queue_or_the_switch(client: Any, store: Store) -> None:
    keep(store, "aaa")
    for path in ("/desk/queue", "/desk/queue/aaa", "/desk/learning"):
        assert client.get(path, follow_redirects=False).status_code in (303, 403), path
    for path in ("/desk/queue/aaa", "/desk/learning/use", "/desk/learning/stop"):
        answer = client.post(path, data={"say": "doubtful"}, follow_redirects=False)
        assert answer.status_code in (303, 403), path
    assert marks(store, "aaa") == ()
    assert acts(store) == ()


# --- the switch ---


def test_learning_is_shown_then_used_then_switched_off_in_one_tap(
    teacher: desk.Browser, store: Store
) -> None:
    for name in ("aaa", "bbb", "ccc"):
        keep(store, name)
        confirm(teacher, name, say="another", another="flour-short")
    page = patiently(teacher, "/desk/learning")
    said = words(page)
    assert "Not in use" in said
    assert "3 confirmed cases: too few to say" in said
    assert "Surprise at the true cause" in said
    digest = re.search(r'name="digest" value="([0-9a-f]{64})"', page)
    assert digest
    form = {"key": key_of(page), "digest": digest[1]}
    used = teacher.send_form("/desk/learning/use", form)
    assert used.status_code == 200
    assert "In use: what 3 confirmed cases teach" in words(patiently(teacher, "/desk/learning"))
    request = {"dough": DOUGH, "stage": "cook-paste", "signs": SAID}
    said_now = teacher.post("/api/v1/diagnose", json=request).json()
    assert said_now["learned"] == 3
    assert any(one.get("learned") for one in said_now["because"])
    row = next(one["rule"] for one in said_now["because"] if one.get("learned"))
    beside = words(patiently(teacher, f"/learning/rules/{row}"))
    for part in ("Written", "Seen", "Cases make it", "Used now"):
        assert part in beside
    off = patiently(teacher, "/desk/learning")
    teacher.send_form("/desk/learning/stop", {"key": key_of(off)})
    assert teacher.post("/api/v1/diagnose", json=request).json()["learned"] == 0
    assert [act.in_use for act in acts(store)] == [True, False]


def test_what_was_shown_is_what_is_used(teacher: desk.Browser, store: Store) -> None:
    keep(store, "aaa")
    confirm(teacher, "aaa", say="another", another="flour-short")
    page = patiently(teacher, "/desk/learning")
    keep(store, "bbb")
    confirm(teacher, "bbb", say="another", another="flour-short")
    digest = re.search(r'name="digest" value="([0-9a-f]{64})"', page)
    assert digest
    late = teacher.send_form("/desk/learning/use", {"key": key_of(page), "digest": digest[1]})
    assert late.status_code == 409
    assert "marked meanwhile" in words(late.text)
    assert acts(store) == ()


def test_a_cook_is_told_that_cases_were_used(teacher: desk.Browser, store: Store) -> None:
    keep(store, "aaa")
    confirm(teacher, "aaa", say="another", another="flour-short")
    page = patiently(teacher, "/desk/learning")
    digest = re.search(r'name="digest" value="([0-9a-f]{64})"', page)
    assert digest
    teacher.send_form("/desk/learning/use", {"key": key_of(page), "digest": digest[1]})
    phone = Phone(teacher)
    token = phone.at_stage("cook-paste", "slumps")
    for _ in range(20):
        if "/ask/" not in phone.path:
            break
        phone.post(phone.path, answer="not-looked")
    assert "/remedy/" in phone.path
    assert "what 1 confirmed case teaches" in phone.words
    assert "1 confirmed case teaches" in phone.go(f"/c/{token}/summary").text


# --- for everybody ---


def test_with_few_cases_the_reports_say_so(teacher: desk.Browser, store: Store) -> None:
    nothing = words(patiently(teacher, "/reports"))
    assert "No confirmed cases yet" in nothing
    for n in range(7):
        keep(store, f"case-{n}")
        confirm(teacher, f"case-{n}", say="cause:undercooked-paste")
    said = words(patiently(teacher, "/reports"))
    assert "7 confirmed cases: too few to say" in said
    assert "First cause right, judged now" in said
    assert "Cook on hotter" in said or "7 of 7" in said


def test_every_cause_row_and_rule_has_a_page_beside_it(
    teacher: desk.Browser, store: Store, book: OpenBook
) -> None:
    keep(store, "aaa")
    confirm(teacher, "aaa", say="cause:undercooked-paste")
    dough = book.book.doughs[0]
    first = patiently(teacher, "/learning")
    assert "The paste has not been hot enough for long enough 1 case" in words(first)
    paths = ["/learning", "/learning?page=2", "/reports", "/desk/learning", "/desk/queue/aaa"]
    paths += [f"/learning/causes/{cause.id}" for cause in dough.causes]
    paths += [f"/learning/rules/{row.id}" for row in dough.evidence[:40]]
    paths += [f"/learning/rules/{rule.id}" for rule in dough.rules[:10]]
    for path in paths:
        text = patiently(teacher, path)
        raw, packed = LONG_PAGE if "<svg" in text else PLAIN_PAGE
        assert len(text.encode()) <= raw, path
        assert len(gzip.compress(text.encode(), 6)) <= packed, path
        assert text.count("<h1") == 1, path
    for path in ("/learning/causes/none", "/learning/rules/none", "/learning?page=99"):
        assert teacher.get(path).status_code == 404


def test_something_long_shows_how_far_it_has_come_and_fails_with_a_sentence(
    teacher: desk.Browser, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Work.wait
    monkeypatch.setattr(Work, "wait", lambda self, seconds=0.0: False)
    answer = teacher.get("/learning")
    assert answer.headers["refresh"] == "2"
    assert "Working it out" in words(answer.text)
    monkeypatch.setattr(Work, "wait", real)
    assert "What the cases teach" in words(patiently(teacher, "/learning"))
