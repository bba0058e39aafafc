"""One school's additions read by another: seen first, checked whole, and nothing of it runs."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from casebook.additions import LIMITS, NotAdditions, compare, read, written
from casebook.publishing import Press
from casebook.revisions import head
from casebook.store import Store, open_store
from desk import WET, Browser, now, press_on
from diagnose.knowledge.editions import Edit, PartName, check_part
from web.app import create_app

ONE = PartName("ten-minutes", "rules", "one")
BOMB = "a: &a [x, x]\nb: &b [*a, *a]\nadditions: 1\nparts: [*b, *b]\n"


@example("\r")
@example("a\x85b\u2028c\u2029d\ufeff")
@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=60))
def test_what_is_written_is_read_back_exactly(words: str) -> None:
    text = f"one:\n  says: plain\n  # {words}\n"
    if not check_part(ONE, text):
        [edit] = read(written([Edit(ONE, text)], "0"))
        assert edit.text is not None
        assert edit.text.rstrip("\n") == text.rstrip("\n")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "hello",
        "additions: 2\nparts: []\n",
        "additions: 1\n",
        "additions: 1\nparts:\n  - {dough: d, section: ../../etc, name: x, text: y}\n",
        "additions: 1\nparts:\n  - {dough: d, section: rules, name: ../../etc/passwd, text: y}\n",
        "additions: 1\nparts:\n  - {dough: d, section: rules, name: one, text: 'two: {}'}\n",
        "additions: 1\nparts:\n  - {dough: d, section: rules, name: one, text: 'one: &a {}'}\n",
        "additions: 1\nparts:\n  - {dough: d, section: rules, name: one, text: 'one: !!map {}'}\n",
        "additions: !!python/object:os.system 1\nparts: []\n",
        BOMB,
        "additions: 1\nparts: " + "[" * 500 + "]" * 500 + "\n",
        "additions: 1\nparts: []\nnote: " + "x" * LIMITS.bytes + "\n",
        "additions: 1\nparts: [" + "x, " * LIMITS.nodes + "x]\n",
    ],
)
def test_a_text_that_is_not_additions_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(NotAdditions) as refused:
        read(text)
    assert all(problem.what for problem in refused.value.problems)


def test_a_part_that_both_changed_is_never_taken_unasked() -> None:
    theirs = Edit(ONE, "one: {says: b}\n")
    for here, changed, kind in (
        (None, {}, "new"),
        ("one: {says: a}\n", {}, "changed"),
        ("one: {says: a}\n", {ONE: "one: {says: a}\n"}, "changed here too"),
        ("one: {says: b}\n", {ONE: "one: {says: b}\n"}, "same"),
    ):
        [found] = compare([theirs], {ONE: here}, changed)
        assert found.kind == kind


def editor(press: Press, store: Store) -> Browser:
    browser = Browser(create_app(press.shelf.current, store, hosts=["testserver"], press=press))
    browser.begin()
    return browser


def test_one_school_saves_and_another_sees_then_takes(store: Store, address: str) -> None:
    with open_store(address) as other:
        here, there = press_on(store), press_on(other)
        here.publish({WET: now(here).replace("strength: strong", "strength: slight")}, "A", "Why")
        text = editor(here, store).get("/desk/additions.yaml").text
        browser = editor(there, other)
        seen = browser.send_form("/desk/additions", {"text": text, "act": "look"})
        assert "strength: was “strong”, is now “slight”" in seen.text
        assert "no error" in seen.text
        assert head(other) == 0
        ticked = {"text": text, "act": "take", "why": "From the other school"}
        answer = browser.send_form("/desk/additions", {**ticked, f"take ten-minutes {WET}": "yes"})
        assert answer.url.path == "/desk/history/1"
        assert there.shelf.current.book.version == here.shelf.current.book.version


def test_a_bomb_or_a_huge_text_pasted_is_refused_beside_its_box(store: Store) -> None:
    browser = editor(press_on(store), store)
    answer = browser.send_form("/desk/additions", {"text": BOMB, "act": "look"})
    assert answer.status_code == 422
    assert "There is a problem" in answer.text
    huge = browser.send_form("/desk/additions", {"text": "x" * 70_000, "act": "look"})
    assert huge.status_code == 413
