"""Cases are kept once and found again as they were; marks are appended, and the last one counts."""

from __future__ import annotations

import re
import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import inspect, select

from casebook.cases import (
    Mark,
    Photo,
    UnknownCase,
    case,
    cases_of,
    confirmed,
    doubles,
    keep_case,
    mark,
    marks,
    photo,
    photos,
    queue,
    standing,
)
from casebook.consultations import append, load, open_consultation
from casebook.migrations import STEPS
from casebook.problems import KeyReused, NotStorable
from casebook.store import Store, open_store
from casebook.tables import kept_case, metadata
from casemaking import DOUGH, MADE_EACH, NOON, PLAIN, TORN
from diagnose.knowledge.case import OUTCOMES, Told, check_case
from web import summary


def keep_all(store: Store) -> list[str]:
    return [
        keep_case(store, replace(made, id=name, kept=NOON + timedelta(minutes=n)), f"form {n}")
        for n, (name, made) in enumerate(MADE_EACH.items())
    ]


def test_a_case_is_found_again_exactly_as_it_was_kept(either: Store) -> None:
    id = keep_case(either, TORN, "form")
    assert case(either, id) == replace(TORN, id=id)


def test_an_id_can_be_read_aloud(either: Store) -> None:
    """House rule: no letter or digit that is mistaken for another."""
    ids = [keep_case(either, PLAIN, f"form {n}") for n in range(30)]
    assert len(set(ids)) == 30
    assert all(re.fullmatch("[a-hjkmnp-z][a-hjkmnp-z2-9]{9}", id) for id in ids)


def test_a_form_sent_twice_keeps_one_case(either: Store) -> None:
    first = keep_case(either, TORN, "form")
    later = replace(TORN, kept=NOON + timedelta(days=1), situation={"batch": {"serve_in_min": 3}})
    assert keep_case(either, later, "form") == first
    assert case(either, first) == replace(TORN, id=first)
    assert len(queue(either)) == 1


def test_a_form_cannot_keep_another_case_under_the_same_key(either: Store) -> None:
    keep_case(either, TORN, "form")
    with pytest.raises(KeyReused, match="load the page again"):
        keep_case(either, replace(TORN, outcome="thrown-away"), "form")


def test_one_form_sent_by_many_at_once_keeps_one_case(either: Store) -> None:
    kept: list[str] = []

    def send() -> None:
        kept.append(keep_case(either, TORN, "form"))

    senders = [threading.Thread(target=send) for _ in range(6)]
    for sender in senders:
        sender.start()
    for sender in senders:
        sender.join()
    assert len(kept) == 6
    assert len(set(kept)) == 1


def test_cases_kept_at_once_are_numbered_without_gaps(either: Store) -> None:
    senders = [
        threading.Thread(target=keep_case, args=(either, PLAIN, f"form {n}")) for n in range(8)
    ]
    for sender in senders:
        sender.start()
    for sender in senders:
        sender.join()
    with either.reading() as connection:
        numbers = sorted(connection.scalars(select(kept_case.c.number)))
    assert numbers == list(range(1, 9))


def test_a_case_remembers_its_consultation_and_never_shows_it(either: Store) -> None:
    token = open_consultation(either, DOUGH, "opening")
    append(either, token, "tap", "outcome", "batch", "not-quite")
    id = keep_case(either, TORN, "form", token=token)
    assert cases_of(either, token) == (id,)
    assert token not in repr(case(either, id))
    assert len(load(either, token).entries) == 1


def test_a_name_that_is_taken_is_refused(either: Store) -> None:
    keep_case(either, replace(PLAIN, id="soupy-one"), "form 1")
    with pytest.raises(NotStorable, match="already a case soupy-one"):
        keep_case(either, replace(PLAIN, id="soupy-one"), "form 2")


def test_a_case_that_is_not_there_is_unknown(either: Store) -> None:
    looks: list[Callable[[Store, str], object]] = [case, marks, standing, photos]
    for look in looks:
        with pytest.raises(UnknownCase, match="no case at this address"):
            look(either, "../etc/passwd")
    with pytest.raises(UnknownCase):
        queue(either, after="nobody")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"title": ""}, "title"),
        ({"title": "two\nlines"}, "title"),
        ({"title": "x" * 121}, "1 to 120"),
        ({"id": "Not A Name"}, "small letters"),
        ({"stage": "Brown"}, "stage"),
        ({"outcome": "eaten"}, "no outcome"),
        ({"entered_by": "nobody"}, "no entered by"),
        ({"note": " \n"}, "note"),
        ({"note": "a\x00b"}, "note"),
        ({"note": "x" * 2001}, "2,000"),
        ({"elevation_m": 9001.0}, "9000 m"),
        ({"elevation_m": float("nan")}, "not possible"),
        ({"opened": NOON.replace(tzinfo=None)}, "no time zone"),
        ({"situation": {"a": (1, 2)}}, "tuple is not JSON"),
        ({"situation": {"a": float("inf")}}, "not a number"),
        ({"situation": {1: 2}}, "cannot be a key"),
        ({"told": (Told(NOON, "sign", "x", 2**63),)}, "too large"),
        ({"said": ("x",) * 101}, "too many"),
        ({"class_code": "a\tb"}, "class"),
        ({"bands": {"x y": "low"}}, "bands"),
    ],
)
def test_what_cannot_be_kept_is_refused_with_a_sentence(
    store: Store, change: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(NotStorable, match=sentence):
        keep_case(store, replace(PLAIN, **change), "form")
    assert queue(store) == ()


def test_deep_nesting_is_refused(store: Store) -> None:
    deep: Any = 1
    for _ in range(13):
        deep = [deep]
    with pytest.raises(NotStorable, match="nested more than 12 deep"):
        keep_case(store, replace(PLAIN, situation={"a": deep}), "form")


def test_every_mistake_is_told_at_once() -> None:
    found = check_case(replace(PLAIN, title="", outcome="eaten", stage="X"))
    assert {problem.where for problem in found} == {"title", "outcome", "stage"}


def test_the_outcomes_are_those_of_the_last_page() -> None:
    assert set(OUTCOMES) == set(summary.OUTCOMES)


def test_pictures_are_kept_with_their_sentences(either: Store) -> None:
    jpeg = b"\xff\xd8 a picture"
    id = keep_case(either, TORN, "form", photos=[Photo(jpeg, "The torn crust")])
    assert photos(either, id) == ("The torn crust",)
    assert photo(either, id, 1) == Photo(jpeg, "The torn crust")
    with pytest.raises(UnknownCase):
        photo(either, id, 2)


@pytest.mark.parametrize(
    ("photo", "sentence"),
    [
        (Photo(b"\xff\xd8", ""), "describe the picture"),
        (Photo(b"<svg/>", "A drawing"), "has to be a JPEG"),
        (Photo(b"\xff\xd8" + b"x" * 400_000, "Large"), "at most 400,000 bytes"),
    ],
)
def test_a_picture_that_was_not_drawn_again_is_refused(
    store: Store, photo: Photo, sentence: str
) -> None:
    with pytest.raises(NotStorable, match=sentence):
        keep_case(store, TORN, "form", photos=[photo])


def test_the_last_mark_is_the_standing_and_none_is_lost(either: Store) -> None:
    id = keep_case(either, TORN, "form")
    assert standing(either, id) == "new"
    first = mark(either, id, "m1", by="Instructor", verdict="doubtful", at=NOON)
    assert standing(either, id) == "doubtful"
    second = mark(
        either, id, "m2", by="Instructor", verdict="confirmed", causes=["pan-too-cool"],
        first_remedy="carry-on", at=NOON,
    )  # fmt: skip
    assert standing(either, id) == "confirmed"
    assert marks(either, id) == (first, second)
    assert second == Mark(2, NOON, "Instructor", "confirmed", ("pan-too-cool",), "carry-on", None)
    assert case(either, id) == replace(TORN, id=id)


def test_a_mark_sent_twice_is_one_mark(either: Store) -> None:
    id = keep_case(either, TORN, "form")
    sent = {"by": "A", "verdict": "confirmed", "causes": ["pan-too-cool"]}
    first = mark(either, id, "m1", **sent)  # type: ignore[arg-type]
    assert mark(either, id, "m1", **sent) == first  # type: ignore[arg-type]
    with pytest.raises(KeyReused):
        mark(either, id, "m1", by="A", verdict="doubtful")
    assert marks(either, id) == (first,)


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"verdict": "confirmed"}, "needs its true cause"),
        ({"verdict": "confirmed", "causes": ["x1", "x1"]}, "named twice"),
        ({"verdict": "perhaps"}, "no verdict"),
        ({"verdict": "same-as"}, "names another"),
        ({"verdict": "doubtful", "other": "torn-two"}, "names another"),
        ({"verdict": "same-as", "other": "nobody-here"}, "no case nobody-here"),
        ({"verdict": "same-as", "other": "torn-one"}, "or is torn-one"),
        ({"verdict": "doubtful", "by": ""}, "by"),
    ],
)
def test_a_mark_that_says_nothing_is_refused(
    store: Store, said: dict[str, Any], sentence: str
) -> None:
    keep_case(store, replace(TORN, id="torn-one"), "form")
    with pytest.raises(NotStorable, match=sentence):
        mark(store, "torn-one", "m1", **{"by": "A", **said})
    assert marks(store, "torn-one") == ()


def test_doubles_are_merged_by_a_mark_and_parted_by_the_next(either: Store) -> None:
    keep_all(either)
    mark(either, "torn-at-summit", "m1", by="A", verdict="same-as", other="greasy-somewhere")
    assert doubles(either, "greasy-somewhere") == ("torn-at-summit",)
    with pytest.raises(NotStorable, match="itself marked the same"):
        mark(either, "greasy-somewhere", "m2", by="A", verdict="same-as", other="torn-at-summit")
    mark(either, "torn-at-summit", "m3", by="A", verdict="doubtful")
    assert doubles(either, "greasy-somewhere") == ()
    mark(either, "greasy-somewhere", "m4", by="A", verdict="same-as", other="torn-at-summit")
    assert doubles(either, "torn-at-summit") == ("greasy-somewhere",)


def test_a_ring_of_doubles_cannot_be_closed(either: Store) -> None:
    a, b, c, _ = keep_all(either)
    mark(either, a, "m1", by="A", verdict="same-as", other=b)
    mark(either, b, "m2", by="A", verdict="same-as", other=c)
    with pytest.raises(NotStorable):
        mark(either, c, "m3", by="A", verdict="same-as", other=a)


def test_the_queue_gives_what_nobody_marked_oldest_first(either: Store) -> None:
    ids = keep_all(either)
    keep_case(either, replace(PLAIN, id="shipped-one", entered_by="shipped"), "form s")
    assert [head.id for head in queue(either)] == ids
    assert [head.id for head in queue(either, ids[1])] == ids[2:]
    assert [head.id for head in queue(either, count=2)] == ids[:2]
    assert [head.id for head in queue(either, class_code="TUE-2")] == ["torn-at-summit"]
    mark(either, ids[0], "m", by="A", verdict="doubtful")
    assert [head.id for head in queue(either)] == ids[1:]


def test_two_cases_kept_in_the_same_moment_are_both_in_the_queue(either: Store) -> None:
    for n in range(5):
        keep_case(either, replace(PLAIN, id=f"same-moment-{n}"), f"form {n}")
    seen: list[str] = []
    while found := queue(either, seen[-1] if seen else None, count=2):
        seen += [head.id for head in found]
    assert Counter(seen) == Counter(f"same-moment-{n}" for n in range(5))


def test_only_cases_whose_last_mark_confirms_them_count_for_learning(either: Store) -> None:
    a, b, c, _ = keep_all(either)
    for id in (a, b, c):
        mark(either, id, f"1 {id}", by="A", verdict="confirmed", causes=["flour-over"])
    mark(either, b, "2", by="A", verdict="doubtful")
    mark(either, c, "3", by="A", verdict="confirmed", causes=["pan-too-cool"])
    found = {kept.id: last.causes for kept, last in confirmed(either, DOUGH)}
    assert found == {a: ("flour-over",), c: ("pan-too-cool",)}
    assert list(confirmed(either, "another-dough")) == []


def test_the_standing_at_hand_is_the_verdict_of_the_last_mark(either: Store) -> None:
    ids = keep_all(either)
    for n, id in enumerate(ids):
        for k in range(n):
            verdict = ("doubtful", "confirmed")[k % 2]
            causes = ["flour-over"] if verdict == "confirmed" else []
            mark(either, id, f"{id} {k}", by="A", verdict=verdict, causes=causes)  # type: ignore[arg-type]
    for id in ids:
        said = marks(either, id)
        assert standing(either, id) == (said[-1].verdict if said else "new")


def test_each_database_has_the_columns_that_queries_use(either: Store) -> None:
    with either.reading() as connection:
        looking = inspect(connection)
        for table in metadata.sorted_tables:
            found = {one["name"]: one["nullable"] for one in looking.get_columns(table.name)}
            # The searched form of the words is PostgreSQL's own business.
            found.pop("search", None)
            assert found == {column.name: column.nullable for column in table.columns}
            keys = looking.get_pk_constraint(table.name)["constrained_columns"]
            assert keys == [column.name for column in table.primary_key]


def test_a_casebook_from_before_there_were_cases_keeps_its_consultations(address: str) -> None:
    with open_store(address, steps=STEPS[:2]) as older:
        token = open_consultation(older, DOUGH, "opening")
        append(older, token, "tap", "sign", "paste-body", "slumps")
        before = load(older, token)
    with open_store(address) as store:
        assert load(store, token) == before
        assert cases_of(store, token) == ()
        assert keep_case(store, TORN, "form", token=token) in cases_of(store, token)
