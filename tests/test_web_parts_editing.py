"""Other parts of the book on the desk: begun with boxes, written as text, looked at, saved."""

from __future__ import annotations

import pytest
from desk_form import form_in
from starlette.testclient import TestClient

from casebook.revisions import all_revisions
from casebook.store import Store
from desk import words
from diagnose.knowledge.editions import PartName, part_text
from diagnose.knowledge.loading import texts_of

SIGN = {
    "ask": "Which edge of the slab gives first?",
    "stages-cut": "yes",
    "effort": "touch",
    "answers-0": "The thick edge",
    "answers-1": "The thin edge: a little",
    "answers-2": "None",
}
CAUSE = {
    "say": "The slab was pressed thicker at one edge",
    "how-common": "occasional",
    "shows-at-cut": "yes",
    "shows-at-chill": "yes",
    "try-0": "chill-longer",
    "try-0-how": "usually",
    "next-time": "Press it between two rulers",
}
REMEDY = {
    "kind": "chill",
    "first": "Chill the thick edge for 30 minutes more",
    "do": "Turn the tray round\nCover it",
    "minutes": "30",
    "look-for": "It is firm all over",
    "give-up-when": "It is still soft after an hour",
    "stages-cut": "yes",
    "label": "house rule",
    "source": "house-rule",
}


@pytest.fixture
def desk(instructor: TestClient) -> TestClient:
    return instructor


@pytest.mark.parametrize(
    ("section", "filled", "name", "lines"),
    [
        ("signs", SIGN, "edge-slab-gives-first", ["    thin-edge-little: ", "  stages: [cut]"]),
        ("causes", CAUSE, "slab-pressed-thicker-one-edge", ["    chill-longer: usually"]),
        ("remedies", REMEDY, "chill-thick-edge-30-minutes-more", ["    - Cover it"]),
    ],
)
def test_a_new_part_is_begun_with_boxes_looked_at_and_saved(
    desk: TestClient, store: Store, section: str, filled: dict[str, str], name: str,
    lines: list[str],
) -> None:  # fmt: skip
    at = f"/desk/parts/{section}/new"
    form = form_in(desk.get(at).text)
    page = desk.post(at, data={**form, **filled, "act": "write"})
    assert "Before you save it" in words(page.text)
    back = form_in(page.text)
    assert back["typed"].startswith(f"{name}:")
    for line in lines:
        assert line in back["typed"]
    assert all_revisions(store) == ()
    saved = desk.post(at, data={**back, "act": "save"})
    assert "Saved" in words(saved.text)
    (one,) = all_revisions(store)
    assert one.after == back["typed"].replace("\r\n", "\n")
    desk.post(f"/desk/rules/take-back/{one.number}", data=form_in(saved.text))
    assert len(all_revisions(store)) == 2


def test_boxes_that_are_missing_are_named_and_what_was_filled_in_stays(desk: TestClient) -> None:
    at = "/desk/parts/causes/new"
    form = {**form_in(desk.get(at).text), **CAUSE, "say": "", "act": "write"}
    page = desk.post(at, data=form)
    assert page.status_code == 422
    assert 'href="#say"' in page.text
    back = form_in(page.text)
    for name in ("try-0", "try-0-how", "next-time", "shows-at-cut"):
        assert back[name] == form[name]


def test_a_part_opened_and_sent_untouched_keeps_every_letter(desk: TestClient) -> None:
    text = part_text(texts_of(), PartName("milk-panade-slab", "remedies", "freezer-shortcut"))
    assert text is not None
    at = "/desk/parts/remedies/freezer-shortcut"
    form = form_in(desk.get(at).text)
    assert form["typed"].replace("\r\n", "\n") == text
    page = desk.post(at, data={**form, "act": "preview"})
    assert form_in(page.text)["typed"].replace("\r\n", "\n") == text


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "begins with a name"),
        ("knife-drags:\n  say: x\n", "called"),
        ("freezer-shortcut: !!python/name:os\n", "tags are not read"),
        ("freezer-shortcut:\n  kind: chill\n", "freezer-shortcut"),
    ],
)
def test_a_text_that_is_no_part_is_refused_and_stays(
    desk: TestClient, store: Store, typed: str, said: str
) -> None:
    at = "/desk/parts/remedies/freezer-shortcut"
    form = form_in(desk.get(at).text)
    page = desk.post(at, data={**form, "typed": typed, "reason": "To see", "act": "save"})
    assert said in words(page.text)
    assert form_in(page.text)["typed"].replace("\r\n", "\n").strip() == typed.strip()
    assert all_revisions(store) == ()


def test_a_name_that_stands_for_something_is_not_given_twice(desk: TestClient) -> None:
    at = "/desk/parts/causes/new"
    form = form_in(desk.get(at).text)
    page = desk.post(at, data={**form, **CAUSE, "name": "knife-drags", "act": "write"})
    assert page.status_code == 422
    assert "Choose another name" in words(page.text)


@pytest.mark.parametrize(
    "path", ["/desk/parts/rules/x", "/desk/parts/evidence/x", "/desk/parts/causes/none",
             "/desk/parts/causes/none/saved/1"],
)  # fmt: skip
def test_what_is_not_there_is_said(desk: TestClient, path: str) -> None:
    assert desk.get(path).status_code == 404


def test_every_part_is_listed(desk: TestClient) -> None:
    page = desk.get("/desk/parts")
    assert "/desk/parts/computed-readings/" in page.text
    assert "/desk/parts/signs/new" in page.text
