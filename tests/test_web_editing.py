"""The editor's pages: a rule from a case, looked at, saved as a draft, taken back; nothing lost."""

from __future__ import annotations

import gzip
import re

import pytest
from desk_form import form_in
from starlette.testclient import TestClient

from casebook.revisions import all_revisions
from casebook.store import Store
from desk import words
from diagnose.knowledge.editions import PartName, part_text
from diagnose.knowledge.loading import texts_of
from web import previewing

NEW = "/desk/rules/new"
CASE = "smears-on-the-knife"
SAYS = "A slab that smears though nobody wiped the knife is still warm"
NAME = "slab-smears-though-nobody-wiped-knife"
FORM = (46_000, 13_000)
"""Most bytes of a page of the desk, raw and gzip: lists of every cause and source stand in it."""
TEXTS = texts_of()


def text_of(name: str) -> str:
    found = part_text(TEXTS, PartName("milk-panade-slab", "rules", name))
    assert found is not None
    return found


@pytest.fixture
def desk(instructor: TestClient) -> TestClient:
    return instructor


def test_what_takes_long_says_how_far_it_has_come_and_loses_nothing(
    desk: TestClient, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(previewing, "PATIENCE_S", 0.0)
    form = filled(desk, gaps="Not tried at height")
    page = desk.post(NEW, data={**form, "act": "preview"})
    assert "Still working it out" in words(page.text)
    assert "Save as draft" not in words(page.text)
    again = form_in(page.text)
    for box in ("says", "why", "gaps", "when-4-low", "reason", "see", "target"):
        assert again[box] == form[box]
    assert "when-2-keep" not in again
    monkeypatch.setattr(previewing, "PATIENCE_S", 300.0)
    looked = desk.post(NEW, data={**again, "act": "preview"})
    assert "Where it would have spoken In 1 of" in words(looked.text)
    assert all_revisions(store) == ()


def filled(desk: TestClient, **more: str) -> dict[str, str]:
    """The form of a new rule from a case, with what a person has to say in it."""
    form = form_in(desk.get(f"{NEW}?case={CASE}").text)
    for struck in ("when-2-keep", "when-3-keep"):
        del form[struck]
    return {**form, "when-4-low": "10 °C", "says": SAYS, "why": "Warm butter smears", **more}


def test_a_rule_from_a_case_has_what_was_seen_filled_in(desk: TestClient) -> None:
    page = desk.get(f"{NEW}?case={CASE}")
    assert page.status_code == 200
    form = form_in(page.text)
    assert form["when-1"] == "knife-cut"
    assert form["when-1-is-smears"] == "yes"
    assert form["when-4-low"] == "12 °C"
    assert form["target"] == "chilled-too-short"
    assert form["see"] == "own-cases"
    assert form["at"] == f"case {CASE}"
    assert form["case-0-rule"] == "speaks"


def test_looking_stores_nothing_and_says_what_the_rule_does(desk: TestClient, store: Store) -> None:
    page = desk.post(NEW, data={**filled(desk), "act": "preview"})
    assert page.status_code == 200
    said = words(page.text)
    for part in (
        "Before you save it",
        SAYS,
        "What does the knife leave behind? A smear, and dough on the blade",
        "How cold is the middle of the slab? above 10 °C",
        "Where it would have spoken In 1 of",
        "1 rightly, 0 wrongly",
        "better",
        "Save as draft",
    ):
        assert part in said
    assert all_revisions(store) == ()
    form = form_in(page.text)
    assert "when-2-keep" not in form  # what was struck is still there, struck
    assert form["when-2-is-cold-dry"] == "yes"
    raw, packed = FORM
    assert len(page.content) <= raw
    assert len(gzip.compress(page.content, 6)) <= packed


def test_a_rule_is_saved_as_a_draft_with_its_reason_and_taken_back_in_one_tap(
    desk: TestClient, store: Store
) -> None:
    looked = desk.post(NEW, data={**filled(desk), "standing": "trusted", "act": "preview"})
    assert "not from here" in words(looked.text)
    saved = desk.post(NEW, data={**form_in(looked.text), "act": "save"})
    assert saved.url.path == f"/desk/rules/{NAME}/saved/1"
    (one,) = all_revisions(store)
    assert (one.part.name, one.why, one.before) == (NAME, f"Made from case {CASE}", None)
    assert one.after is not None
    assert "standing: draft" in one.after
    assert desk.get(f"/desk/rules/{NAME}").status_code == 200
    again = desk.post(NEW, data={**form_in(looked.text), "act": "save"})
    assert again.url.path == f"/desk/rules/{NAME}/saved/1"  # the same tap, sent twice
    back = desk.post("/desk/rules/take-back/1", data=form_in(saved.text))
    assert "Taken back" in words(back.text)
    assert desk.get(f"/desk/rules/{NAME}").status_code == 404
    assert len(all_revisions(store)) == 2
    once_more = desk.post("/desk/rules/take-back/1", data=form_in(saved.text))
    assert once_more.status_code == 200
    assert len(all_revisions(store)) == 2
    # A name stands for one thing for ever, also after it was taken back.
    named = desk.post(NEW, data={**filled(desk, name=NAME), "act": "preview"})
    assert named.status_code == 422
    assert "never used again" in words(named.text)


def test_what_was_not_looked_at_is_not_saved(desk: TestClient, store: Store) -> None:
    looked = desk.post(NEW, data={**filled(desk), "act": "preview"})
    other = {**form_in(looked.text), "why": "Something else", "act": "save"}
    page = desk.post(NEW, data=other)
    assert "Before you save it" in words(page.text)
    assert form_in(page.text)["why"] == "Something else"
    assert all_revisions(store) == ()


def test_a_refused_form_loses_nothing_and_links_every_mistake_to_its_box(
    desk: TestClient,
) -> None:
    form = filled(desk, says="", why="", target="", strength="", name="Mein Name")
    form |= {"when-4-low": "hot", "gaps": "Not tried at height", "act": "preview"}
    del form["when-1-is-smears"]
    page = desk.post(NEW, data=form)
    assert page.status_code == 422
    for box in ("says", "why", "target", "strength", "name", "when-1", "when-4"):
        assert f'href="#{box}"' in page.text, box
        assert f'id="{box}"' in page.text, box
    back = form_in(page.text)
    for name in ("when-4-low", "gaps", "name", "at", "see"):
        assert back[name] == form[name]


@pytest.mark.parametrize("name", ["smears-though-cold", "smears-and-warm", "smears-on-a-wet-knife"])
def test_a_rule_opened_and_sent_untouched_keeps_every_letter(desk: TestClient, name: str) -> None:
    page = desk.get(f"/desk/rules/{name}")
    form = form_in(page.text)
    assert form["typed"].replace("\r\n", "\n") == text_of(name)
    again = desk.post(f"/desk/rules/{name}", data={**form, "act": "choose-when"})
    assert form_in(again.text)["text"].replace("\r\n", "\n").strip() == text_of(name).strip()
    assert "Which condition" in words(again.text)


def test_units_read_first_change_no_letter_of_a_rule(desk: TestClient) -> None:
    text = text_of("crumbs-from-ice")
    assert "0 °C (32 °F)" in text
    desk.cookies.set("panadier-units", "us")
    form = form_in(desk.get("/desk/rules/crumbs-from-ice").text)
    assert form["typed"].replace("\r\n", "\n") == text
    assert "0 °C (32 °F)" in form["says"]


def test_the_text_changes_the_boxes_and_the_boxes_the_text(desk: TestClient) -> None:
    at = "/desk/rules/smears-though-cold"
    form = form_in(desk.get(at).text)
    typed = form["typed"].replace("strength: decisive", "strength: strong  # since Monday")
    page = desk.post(at, data={**form, "typed": typed, "act": "text"})
    back = form_in(page.text)
    assert back["strength"] == "strong"
    assert "# since Monday" in back["text"]
    page = desk.post(at, data={**back, "strength": "slight", "act": "preview"})
    back = form_in(page.text)
    assert "strength: slight  # since Monday" in back["typed"]
    assert "It cannot be saved" not in words(page.text)


def test_boxes_and_text_changed_at_once_are_both_kept_until_somebody_chooses(
    desk: TestClient,
) -> None:
    at = "/desk/rules/smears-though-cold"
    form = form_in(desk.get(at).text)
    typed = form["typed"].replace("decisive", "strong")
    both = {**form, "typed": typed, "why": "Another reason", "act": "preview"}
    page = desk.post(at, data=both)
    assert page.status_code == 422
    back = form_in(page.text)
    assert (back["typed"], back["why"]) == (typed, "Another reason")
    boxes = form_in(desk.post(at, data={**back, "act": "boxes"}).text)
    assert "Another reason" in boxes["typed"]
    assert boxes["strength"] == "decisive"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("smears-though-cold: &a\n  says: x\n", "marks a place"),
        ("smears-though-cold:\n  says: x\n  until: y\n", 'no field "until"'),
        ("smears-though-cold: {{{{\n", "typed"),
        ("other-name:\n  says: x\n", "called"),
    ],
)
def test_a_text_that_is_no_rule_is_refused_and_stays_as_typed(
    desk: TestClient, typed: str, said: str
) -> None:
    at = "/desk/rules/smears-though-cold"
    form = form_in(desk.get(at).text)
    page = desk.post(at, data={**form, "typed": typed, "act": "text"})
    assert page.status_code == 422
    assert form_in(page.text)["typed"].replace("\r\n", "\n").strip() == typed.strip()
    assert said in page.text or said in words(page.text)


def test_an_error_of_the_checks_stands_before_saving_and_nothing_can_be_saved(
    desk: TestClient, store: Store
) -> None:
    at = "/desk/rules/smears-though-cold"
    form = form_in(desk.get(at).text) | {"reason": "To see", "case-0-rule": "silent"}
    page = desk.post(at, data={**form, "case-1-rule": "speaks", "act": "preview"})
    said = words(page.text)
    assert "It cannot be saved like this" in said
    assert "Save as draft" not in said
    assert form_in(page.text)["seen"] == ""
    assert all_revisions(store) == ()


def test_a_condition_an_exception_and_a_case_can_be_added(desk: TestClient) -> None:
    form = filled(desk)
    page = desk.post(NEW, data={**form, "act": "choose-unless"})
    form = form_in(page.text)
    page = desk.post(NEW, data={**form, "act": "add-unless", "subject": "slab-is-cold"})
    form = form_in(page.text)
    assert form["unless-0"] == "slab-is-cold"
    del form["in-step"]
    before = sum(re.fullmatch(r"case-\d+", name) is not None for name in form)
    page = desk.post(NEW, data={**form, "act": "without-1"})
    after = sum(re.fullmatch(r"case-\d+", name) is not None for name in form_in(page.text))
    assert after == before + 1


@pytest.mark.parametrize(
    "path",
    ["/desk/rules/none", f"{NEW}?case=none", f"{NEW}?copy=none", "/desk/rules/none/saved/1",
     "/desk/rules/taken-back/7", "/desk/rules/..%2f..%2fetc", "/desk/rules/%7B%7B7*7%7D%7D"],
)  # fmt: skip
def test_what_is_not_there_is_said(desk: TestClient, path: str) -> None:
    page = desk.get(path)
    assert page.status_code == 404
    assert "49" not in words(page.text)


def test_the_rules_words_are_words_and_never_marks(desk: TestClient) -> None:
    nasty = '<script>alert(1)</script> {{ 7 * 7 }} "quoted"'
    page = desk.post(NEW, data={**filled(desk, says=nasty), "act": "preview"})
    assert "<script>alert" not in page.text
    assert form_in(page.text)["says"] == nasty


def test_of_two_who_change_one_rule_the_later_sees_both_and_loses_nothing(
    desk: TestClient, store: Store
) -> None:
    at = "/desk/rules/smears-though-cold"
    looked = []
    for who in ("one", "two"):
        form = form_in(desk.get(at).text) | {"gaps": f"Said by {who}", "reason": f"From {who}"}
        looked.append(form_in(desk.post(at, data={**form, "act": "preview"}).text))
    assert desk.post(at, data={**looked[0], "act": "save"}).url.path == f"{at}/saved/1"
    late = desk.post(at, data={**looked[1], "act": "save"})
    assert late.status_code == 409
    said = words(late.text)
    assert "From one" in said
    assert "Said by one" in said
    back = form_in(late.text)
    assert back["gaps"] == "Said by two"
    assert len(all_revisions(store)) == 1
    again = form_in(desk.post(at, data={**back, "act": "preview"}).text)
    assert desk.post(at, data={**again, "act": "save"}).url.path == f"{at}/saved/2"


def test_nobody_who_has_not_signed_in_sees_or_sends_anything(
    desk: TestClient, store: Store
) -> None:
    desk.cookies.clear()
    for path in (NEW, "/desk/rules/smears-though-cold", "/desk/parts", "/desk/parts/causes/new"):
        assert desk.get(path).url.path == "/desk/sign-in"
        desk.post(path, data={"act": "save", "typed": "x:\n  says: y\n"})
    desk.post("/desk/rules/take-back/1", data={"act": "save"})
    assert all_revisions(store) == ()


def test_a_form_of_another_session_is_refused(desk: TestClient, store: Store) -> None:
    form = {**filled(desk), "desk-token": "0" * 64, "act": "preview"}
    assert desk.post(NEW, data=form).status_code == 403
    assert all_revisions(store) == ()
