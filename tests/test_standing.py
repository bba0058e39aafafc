"""The life of a rule: what each step asks for, and the page on which a person decides."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient
from suggestion_cases import keep_confirmed
from test_replaying import new_rule

from casebook.revisions import all_revisions
from casebook.store import Store
from desk import ready, words
from diagnose.checking.used_names import used_again
from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Dough, Rule, Standing
from diagnose.knowledge.editions import PartName
from diagnose.learning.cases import ConfirmedCase
from diagnose.learning.reporting import Judged
from diagnose.standing import Evidence, evidence, not_allowed

DRAFT = new_rule(("paste-body", "slumps"), cause="undercooked-paste", standing="draft")
THREE = Evidence(("a", "b", "c"))


def asked(rule: Rule, wanted: Standing, found: Evidence = THREE, **more: object) -> str | None:
    given = {"wrote": "Instructor A", "asks": "Instructor B", "read_the_source": True, **more}
    return not_allowed(rule, wanted, found, **given)  # type: ignore[arg-type]  # as given above


def test_a_draft_is_tried_after_three_cases_that_turned_out_as_it_said() -> None:
    assert asked(DRAFT, "tried") is None
    refused = asked(DRAFT, "tried", Evidence(("a", "b")))
    assert refused is not None
    assert "rightly in 2 confirmed cases so far; it takes 3" in refused


def test_one_case_that_turned_out_otherwise_keeps_a_draft_a_draft() -> None:
    refused = asked(DRAFT, "tried", Evidence(("a", "b", "c", "d"), ("e",)))
    assert refused is not None
    assert "wrongly in one confirmed case" in refused


def test_a_tried_rule_is_trusted_by_a_second_person_who_read_the_source() -> None:
    tried = DRAFT.model_copy(update={"standing": "tried"})
    assert asked(tried, "trusted") is None
    assert asked(tried, "trusted", asks="instructor a") is not None
    assert asked(tried, "trusted", read_the_source=False) is not None
    assert asked(tried, "trusted", Evidence(("a",), ("b",))) is not None
    assert asked(tried, "trusted", wrote=None) is None
    assert asked(DRAFT, "trusted") is not None


@pytest.mark.parametrize("now", ["draft", "tried", "trusted"])
def test_a_rule_can_always_be_retired_or_be_a_draft_again(now: Standing) -> None:
    rule = DRAFT.model_copy(update={"standing": now})
    assert asked(rule, "retired", Evidence()) is None
    assert (asked(rule, "draft", Evidence()) is None) is (now != "draft")


@pytest.mark.parametrize("wanted", ["draft", "tried", "trusted", "retired"])
def test_a_retired_rule_never_comes_back(wanted: Standing) -> None:
    rule = DRAFT.model_copy(update={"standing": "retired"})
    assert asked(rule, wanted) is not None


def test_a_rule_for_a_finding_is_not_tried_by_cases() -> None:
    rule = DRAFT.model_copy(update={"points_to": None, "concludes": "paste-slack"})
    refused = asked(rule, "tried", Evidence())
    assert refused is not None
    assert "concludes a finding" in refused


def test_a_rule_spoke_rightly_where_what_it_says_of_its_cause_was_true() -> None:
    against = new_rule(cause="x", id="against", points_to=None, points_away_from="milk-over")
    findings = new_rule(cause="x", id="finds", points_to=None, concludes="paste-slack")

    def judged(name: str, cause: str, *spoke: str) -> Judged:
        case = ConfirmedCase(name, "milk-panade-slab", "cook-paste", {}, (cause,))
        return Judged(case, {}, None, None, frozenset(spoke))

    found = evidence(
        [DRAFT, against, findings],
        [
            judged("one", "undercooked-paste", DRAFT.id, "against", "finds"),
            judged("two", "milk-over", DRAFT.id, "against"),
            judged("three", "milk-over"),
        ],
    )
    assert found == {
        DRAFT.id: Evidence(("one",), ("two",)),
        "against": Evidence(("one",), ("two",)),
    }


def test_a_name_that_was_taken_out_is_not_used_again() -> None:
    old, new = PartName("d", "rules", "old"), PartName("d", "rules", "new")
    assert used_again([new, old], [old], [old]) == []
    assert [p.where for p in used_again([new, old], [], [old])] == ["rules old"]


# --- the page ---


@pytest.fixture
def dough(book: OpenBook) -> Dough:
    return book.book.doughs[0]


@pytest.fixture
def desk(instructor: TestClient) -> TestClient:
    return instructor


def send(desk: TestClient, name: str, **fields: str) -> tuple[int, str]:
    page = ready(desk, f"/desk/rules/{name}/standing")
    revision = re.search('name="revision" value="([0-9]+)"', page)
    token = re.search('name="desk-token" value="([0-9a-f]+)"', page)
    assert revision
    assert token
    sent = {"desk-token": token[1], "revision": revision[1], "key": "k" * 22, **fields}
    answer = desk.post(f"/desk/rules/{name}/standing", data=sent, follow_redirects=False)
    return answer.status_code, answer.text


def test_the_page_counts_the_cases_and_refuses_what_they_do_not_bear_out(
    desk: TestClient, dough: Dough
) -> None:
    rule = next(r for r in dough.rules if r.standing == "draft" and r.points_to)
    page = words(ready(desk, f"/desk/rules/{rule.id}/standing"))
    assert "It is a draft" in page
    assert "in 0 of 0 confirmed cases" in page
    status, text = send(desk, rule.id, standing="tried", why="It looks right")
    assert status == 422
    assert "it takes 3 confirmed cases" in words(text)
    assert "Somebody" not in text


def seen_at_the_paste(rule: Rule, dough: Dough) -> bool:
    """Whether it is a draft about looks alone, for a cause that shows while the paste cooks."""
    cause = next((c for c in dough.causes if c.id == rule.points_to), None)
    looks = all(c.kind in ("sign", "stage") for c in (*rule.when, *rule.unless))
    at = cause is not None and "cook-paste" in cause.shows_at
    return rule.standing == "draft" and looks and at and not rule.unless


def test_three_right_cases_make_a_draft_tried_and_the_revision_says_who_and_why(
    desk: TestClient, store: Store, dough: Dough
) -> None:
    rule = next(rule for rule in dough.rules if seen_at_the_paste(rule, dough))
    told = next(case for case in rule.cases if case.speaks).told
    signs = {name: str(value) for name, value in told.items() if name != "stage"}
    for number in range(3):
        keep_confirmed(store, number, signs, str(rule.points_to))
    assert "in 3 of 3 confirmed cases" in words(ready(desk, f"/desk/rules/{rule.id}/standing"))
    assert send(desk, rule.id, standing="tried", why="Three batches bore it out")[0] == 303
    (revision,) = all_revisions(store)
    assert (revision.who, revision.why) == ("Instructor A", "Three batches bore it out")
    assert revision.after is not None
    assert "standing: tried" in revision.after


def test_a_retired_rule_keeps_its_name_date_and_reason_in_the_book(
    desk: TestClient, store: Store, dough: Dough
) -> None:
    # nothing else in the book rests on it
    name = "crowd-cools-the-pan"
    assert send(desk, name, standing="retired", why="Twice: it was wrong")[0] == 303
    kept = {one.part.section: one.after for one in all_revisions(store)}
    assert kept["rules"] is None
    assert "when: 20" in str(kept["retired"])
    assert 'why: "Twice: it was wrong"' in str(kept["retired"])


def test_a_change_without_a_reason_or_of_an_older_page_is_not_made(
    desk: TestClient, store: Store, dough: Dough
) -> None:
    name = dough.rules[0].id
    status, text = send(
        desk, name, standing="draft" if dough.rules[0].standing != "draft" else "retired"
    )
    assert status == 422
    assert "Say why" in words(text)
    status, text = send(desk, name, standing="retired", why="x", revision="7")
    assert status == 422
    assert "Somebody changed this rule meanwhile" in words(text)
    assert all_revisions(store) == ()
