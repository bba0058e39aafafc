"""What confirmed cases suggest, on the desk: shown with its counts, dismissed, brought back."""

from __future__ import annotations

import gzip
import re

import pytest
from starlette.testclient import TestClient
from suggestion_cases import PLANTED, keep_planted

from casebook.problems import KeyReused, NotStorable
from casebook.store import Store
from casebook.suggestions import all_said, dismissed, say
from desk import ready, words
from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Dough

DOUGH = "milk-panade-slab"
NAME = "pattern-seen-lumps-soft-milk-over"
PAGE = f"/desk/suggestions/{NAME}"


@pytest.fixture
def desk(instructor: TestClient) -> TestClient:
    return instructor


@pytest.fixture
def full(book: OpenBook, store: Store, desk: TestClient) -> TestClient:
    """A desk whose casebook holds cases with one planted pattern, and notes."""
    dough: Dough = book.book.doughs[0]
    notes = dict.fromkeys((3, 50, 51), "It smelled of wet cardboard")
    keep_planted(store, dough, notes=notes)
    return desk


def send(desk: TestClient, say: str, why: str, key: str = "k" * 22) -> tuple[int, str]:
    token = re.search('name="desk-token" value="([0-9a-f]+)"', ready(desk, PAGE))
    assert token
    sent = {"say": say, "why": why, "key": key, "desk-token": token[1]}
    answer = desk.post(PAGE, data=sent)
    return answer.status_code, answer.text


def test_an_empty_casebook_suggests_nothing_and_says_how_it_would(desk: TestClient) -> None:
    page = words(ready(desk, "/desk/suggestions"))
    assert "From 0 confirmed cases" in page
    assert "at least eight that agree" in page


def test_a_planted_pattern_is_suggested_and_little_else(full: TestClient) -> None:
    page = ready(full, "/desk/suggestions")
    names = re.findall(r"/desk/suggestions/(pattern-[a-z0-9-]+)", page)
    assert NAME in names
    assert len([name for name in names if name.endswith(PLANTED[2])]) == 1
    assert "Nothing here changes the book by itself" in page
    assert len(page.encode()) < 12_000
    assert len(gzip.compress(page.encode())) < 5_000


def test_a_suggestion_shows_its_counts_how_sure_it_is_and_where_to_go_on(full: TestClient) -> None:
    page = ready(full, PAGE)
    cells = [int(n) for n in re.findall(r"<td>(\d+)</td>", page)]
    assert sum(cells) == 240
    both, only_seen, only_true, neither = cells
    assert both + only_true == 80
    assert both / (both + only_seen) > 0.5
    said = words(page)
    assert "By luck alone such a table would come up less than once in a million tries" in said
    assert f"{both} of the {both + only_seen} confirmed cases with this" in said
    assert f"/desk/rules/new?suggestion={NAME}" in page
    assert neither > only_true


def test_accepting_opens_the_editor_with_the_draft_filled_in(full: TestClient) -> None:
    page = ready(full, f"/desk/rules/new?suggestion={NAME}")
    assert "seen-lumps-soft-milk-over" in page
    assert 'value="own-cases" selected' in page or "own-cases" in page
    assert full.get("/desk/rules/new?suggestion=pattern-nothing").status_code == 404


def test_a_dismissed_suggestion_is_folded_with_who_and_why_and_can_come_back(
    full: TestClient, store: Store
) -> None:
    ready(full, PAGE)
    assert send(full, "dismiss", "The same class, the same bag of flour")[0] == 200
    page = ready(full, "/desk/suggestions")
    open_part, folded = page.split("<details>")
    assert NAME not in open_part
    assert NAME in folded
    assert "The same bag of flour" in folded or "the same bag of flour" in folded
    one = ready(full, PAGE)
    assert "Instructor A dismissed it" in words(one)
    assert f"suggestion={NAME}" not in one
    assert send(full, "bring back", "It came again", "m" * 22)[0] == 200
    assert NAME in ready(full, "/desk/suggestions").split("<details>")[0]
    said = all_said(store, DOUGH, NAME)
    assert [one.verdict for one in said] == ["dismissed", "brought back"]
    assert len({one.digest for one in said}) == 1


def test_dismissing_asks_for_a_reason_and_keeps_nothing_without(
    full: TestClient, store: Store
) -> None:
    ready(full, PAGE)
    status, page = send(full, "dismiss", "")
    assert status == 422
    assert "Say why, in 1 to 500 characters" in words(page)
    assert all_said(store, DOUGH, NAME) == ()


def test_a_word_that_only_cooks_use_is_suggested_with_its_cases(full: TestClient) -> None:
    page = ready(full, "/desk/suggestions/word-cardboard")
    assert "stands in 3 notes" in words(page)
    assert len(re.findall(r'href="/cases/[a-z0-9]+"', page)) == 3


def test_what_is_not_suggested_any_more_is_said_so(full: TestClient) -> None:
    answer = full.get("/desk/suggestions/pattern-of-nothing")
    while "Working it out" in answer.text:
        answer = full.get("/desk/suggestions/pattern-of-nothing")
    assert answer.status_code == 404
    assert "do not suggest this any more" in answer.text


def test_what_was_said_is_kept_once_on_either_database(either: Store) -> None:
    def dismiss(key: str, why: str = "luck", verdict: str = "dismissed") -> int:
        kept = say(either, key, "Instructor A", DOUGH, "word-x", verdict, why, "d")  # type: ignore[arg-type]  # a verdict
        return kept.number

    assert dismiss("one") == dismiss("one") == 1
    with pytest.raises(KeyReused):
        dismiss("one", "another reason")
    with pytest.raises(NotStorable, match="Say why"):
        dismiss("two", "  ")
    assert set(dismissed(either, DOUGH)) == {"word-x"}
    assert dismiss("three", "more cases", "brought back") == 2
    assert dismissed(either, DOUGH) == {}
    assert dismissed(either, "another-dough") == {}
