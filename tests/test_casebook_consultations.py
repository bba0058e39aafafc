"""Consultations are appended to, stored once, and found again whatever happened."""

import base64
import json
import os
import subprocess
import sys
import tempfile
import threading
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import casebook
from casebook.consultations import (
    JSON,
    Consultation,
    Entry,
    KeyReused,
    NotStorable,
    UnknownConsultation,
    append,
    append_all,
    latest,
    load,
    open_consultation,
)
from casebook.store import Store, StoreProblem, open_store

DOUGH = "milk-panade-slab"
NOON = datetime(2024, 2, 29, 12, 0, tzinfo=UTC)
ROOT = Path(casebook.__file__).parent.parent


@pytest.fixture
def store(either: Store) -> Store:
    return either


def told(consultation: Consultation) -> list[tuple[int, str, str, JSON]]:
    return [(one.number, one.kind, one.name, one.value) for one in consultation.entries]


def test_what_was_told_is_loaded_in_the_order_told(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening", at=NOON)
    append(store, token, "k1", "kitchen", "elevation_m", 2310, at=NOON)
    append(
        store,
        token,
        "k2",
        "sign",
        "paste-body",
        "slumps",
        at=NOON + timedelta(seconds=5),
    )
    loaded = load(store, token)
    assert loaded == Consultation(
        token,
        DOUGH,
        NOON,
        (
            Entry(1, "kitchen", "elevation_m", 2310, NOON),
            Entry(2, "sign", "paste-body", "slumps", NOON + timedelta(seconds=5)),
        ),
    )


def test_a_new_consultation_has_no_entries(store: Store) -> None:
    assert load(store, open_consultation(store, DOUGH, "opening")).entries == ()


def test_a_token_is_128_random_bits_that_may_stand_in_an_address(store: Store) -> None:
    """Alphabet and length by RFC 4648 section 5, decoded by the standard library."""
    tokens = [open_consultation(store, DOUGH, f"opening {n}") for n in range(20)]
    assert len(set(tokens)) == 20
    for token in tokens:
        assert len(token) == 22
        assert len(base64.b64decode(token + "==", altchars=b"-_", validate=True)) * 8 == 128


def test_opening_twice_with_one_key_gives_the_same_token(store: Store) -> None:
    first = open_consultation(store, DOUGH, "opening", at=NOON)
    assert open_consultation(store, DOUGH, "opening") == first
    assert load(store, first).opened == NOON


def test_an_opening_key_is_refused_for_another_dough(store: Store) -> None:
    open_consultation(store, DOUGH, "opening")
    with pytest.raises(KeyReused, match=f'"{DOUGH}" and cannot open one about "another-dough"'):
        open_consultation(store, "another-dough", "opening")


def test_one_key_may_open_and_append(store: Store) -> None:
    token = open_consultation(store, DOUGH, "one form")
    assert append(store, token, "one form", "stage", "now", "cook-paste")


def test_a_double_tap_is_one_entry(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening")
    assert append(store, token, "tap", "sign", "paste-body", "slumps", at=NOON) is True
    assert append(store, token, "tap", "sign", "paste-body", "slumps") is False
    (entry,) = load(store, token).entries
    assert entry.at == NOON


def test_twenty_taps_at_once_are_one_entry(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening")
    start = threading.Barrier(20)
    new: list[bool] = []

    def tap() -> None:
        start.wait()
        new.append(append(store, token, "tap", "sign", "paste-body", "slumps"))

    threads = [threading.Thread(target=tap) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(new) == [False] * 19 + [True]
    assert told(load(store, token)) == [(1, "sign", "paste-body", "slumps")]


def test_a_form_is_stored_whole_and_once(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening")
    batch: list[tuple[str, str, JSON]] = [
        ("batch", "milk_g", 500),
        ("batch", "flour_g", 100.5),
        ("batch", "flour_measured", "dipped"),
    ]
    assert append_all(store, token, "form", batch) is True
    assert append_all(store, token, "form", batch) is False
    assert told(load(store, token)) == [(n, *one) for n, one in enumerate(batch, start=1)]


def test_a_form_with_one_bad_value_stores_nothing(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening")
    with pytest.raises(NotStorable, match="batch flour_g"):
        append_all(
            store,
            token,
            "form",
            [("batch", "milk_g", 500), ("batch", "flour_g", float("nan"))],
        )
    assert load(store, token).entries == ()


def test_an_empty_form_is_refused(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening")
    with pytest.raises(NotStorable, match="at least one entry"):
        append_all(store, token, "form", [])


def test_a_key_is_refused_in_another_consultation(store: Store) -> None:
    mine = open_consultation(store, DOUGH, "mine")
    theirs = open_consultation(store, DOUGH, "theirs")
    append(store, mine, "tap", "sign", "paste-body", "slumps")
    with pytest.raises(KeyReused, match="another consultation"):
        append(store, theirs, "tap", "sign", "paste-body", "slumps")
    assert load(store, theirs).entries == ()


@pytest.mark.parametrize(
    "again",
    [
        [("sign", "paste-body", "pours")],
        [("sign", "bubbling", "slumps")],
        [("reading", "paste-body", "slumps")],
        [("sign", "paste-body", "slumps"), ("sign", "bubbling", "none")],
    ],
)
def test_a_key_is_refused_for_another_answer(
    store: Store, again: list[tuple[str, str, JSON]]
) -> None:
    """A page found again with Back still holds its old key; the new answer must not vanish."""
    token = open_consultation(store, DOUGH, "opening")
    append(store, token, "tap", "sign", "paste-body", "slumps")
    with pytest.raises(KeyReused, match="already sent with another answer"):
        append_all(store, token, "tap", again)
    assert told(load(store, token)) == [(1, "sign", "paste-body", "slumps")]


@pytest.mark.parametrize("token", ["A" * 22, "", "A" * 21, "../../etc/passwd", "ü" * 22, "A\x00"])
def test_an_unknown_token_is_refused_without_repeating_it(store: Store, token: str) -> None:
    with pytest.raises(UnknownConsultation) as reading:
        load(store, token)
    with pytest.raises(UnknownConsultation) as writing:
        append(store, token, "tap", "sign", "paste-body", "slumps")
    for refused in (reading, writing):
        assert str(refused.value).startswith("There is no consultation at this address")
        assert not token or token not in str(refused.value)


def test_an_unknown_token_does_not_use_up_the_key(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening")
    with pytest.raises(UnknownConsultation):
        append(store, "A" * 22, "tap", "sign", "paste-body", "slumps")
    assert append(store, token, "tap", "sign", "paste-body", "slumps")


def test_a_changed_answer_counts_and_the_first_stays(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening")
    append(store, token, "k1", "sign", "paste-body", "slumps")
    append(store, token, "k2", "sign", "bubbling", "none")
    append(store, token, "k3", "sign", "paste-body", "sticks")
    loaded = load(store, token)
    assert [one.value for one in loaded.entries] == ["slumps", "none", "sticks"]
    assert {name: one.value for (_, name), one in latest(loaded).items()} == {
        "paste-body": "sticks",
        "bubbling": "none",
    }
    assert [name for _, name in latest(loaded)] == ["paste-body", "bubbling"]


def test_an_answer_taken_back_is_an_entry_with_no_value(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening")
    append(store, token, "k1", "sign", "paste-body", "slumps")
    append(store, token, "k2", "sign", "paste-body", None)
    assert latest(load(store, token))["sign", "paste-body"].value is None


def test_names_of_different_kinds_do_not_meet(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening")
    append(store, token, "k1", "sign", "colour", "pale")
    append(store, token, "k2", "tried", "colour", "no-change")
    assert set(latest(load(store, token))) == {("sign", "colour"), ("tried", "colour")}


@pytest.mark.parametrize(
    "value",
    [
        float("nan"),
        float("inf"),
        (1, 2),
        {1: "one"},
        {"a": {None: 1}},
        b"bytes",
        NOON,
        {"set"},
        object(),
    ],
)
def test_a_value_that_json_cannot_give_back_is_refused(store: Store, value: JSON) -> None:
    """RFC 8259 sections 2 to 6: no NaN, no infinity, names of members are strings."""
    token = open_consultation(store, DOUGH, "opening")
    with pytest.raises(NotStorable, match="value of sign paste-body"):
        append(store, token, "tap", "sign", "paste-body", value)
    assert load(store, token).entries == ()


@pytest.mark.parametrize("bad", ["", "x" * 201, "a\nb", "a\x00b", "\ud800"])
@pytest.mark.parametrize("field", ["dough", "key", "kind", "name"])
def test_words_that_no_form_would_send_are_refused(store: Store, field: str, bad: str) -> None:
    words = {
        "dough": DOUGH,
        "key": "k",
        "kind": "sign",
        "name": "paste-body",
        field: bad,
    }
    with pytest.raises(NotStorable, match=f"The {field} .* 1 to 200 printable characters"):
        token = open_consultation(store, words["dough"], words["key"])
        append(store, token, words["key"], words["kind"], words["name"], "slumps")


def test_a_moment_without_a_time_zone_is_refused(store: Store) -> None:
    with pytest.raises(ValueError, match="has no time zone"):
        open_consultation(store, DOUGH, "opening", at=NOON.replace(tzinfo=None))


def test_moments_come_back_in_utc(store: Store) -> None:
    east = timezone(timedelta(hours=5, minutes=45))
    token = open_consultation(store, DOUGH, "opening", at=NOON.astimezone(east))
    opened = load(store, token).opened
    assert opened == NOON
    assert opened.utcoffset() == timedelta(0)


def test_a_moment_not_given_is_the_present(store: Store) -> None:
    before = datetime.now(UTC)
    token = open_consultation(store, DOUGH, "opening")
    append(store, token, "tap", "sign", "paste-body", "slumps")
    loaded = load(store, token)
    assert before <= loaded.opened <= loaded.entries[0].at <= datetime.now(UTC)


def test_consultations_do_not_mix(store: Store) -> None:
    one, two = (open_consultation(store, DOUGH, key) for key in ("one", "two"))
    for n in range(6):
        append(store, (one, two)[n % 2], f"tap {n}", "sign", f"sign-{n}", n)
    assert told(load(store, one)) == [
        (i + 1, "sign", f"sign-{n}", n) for i, n in enumerate((0, 2, 4))
    ]
    assert told(load(store, two)) == [
        (i + 1, "sign", f"sign-{n}", n) for i, n in enumerate((1, 3, 5))
    ]


def test_two_threads_appending_lose_and_double_nothing(store: Store) -> None:
    token = open_consultation(store, DOUGH, "opening")
    start = threading.Barrier(2)

    def tell(who: str) -> None:
        start.wait()
        for n in range(100):
            append(store, token, f"{who} {n}", "sign", f"{who}-{n}", n)

    threads = [threading.Thread(target=tell, args=(who,)) for who in ("phone", "laptop")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    entries = load(store, token).entries
    assert [one.number for one in entries] == list(range(1, 201))
    for who in ("phone", "laptop"):
        mine = [one.value for one in entries if one.name.startswith(who)]
        assert mine == list(range(100))


def test_everything_is_there_after_opening_again(address: str) -> None:
    with open_store(address) as store:
        token = open_consultation(store, DOUGH, "opening")
        for n in range(30):
            append(
                store,
                token,
                f"tap {n}",
                "sign",
                f"sign-{n % 7}",
                {"n": [n, None, "½ cup"]},
            )
        before = load(store, token)
    with open_store(address) as store:
        assert load(store, token) == before
        assert append(store, token, "tap 29", "sign", "sign-1", {"n": [29, None, "½ cup"]}) is False
        assert open_consultation(store, DOUGH, "opening") == token


def test_a_closed_store_refuses_to_be_used(address: str) -> None:
    with open_store(address) as store:
        token = open_consultation(store, DOUGH, "opening")
    with pytest.raises(StoreProblem, match="was closed"):
        load(store, token)
    with pytest.raises(StoreProblem, match="was closed"):
        append(store, token, "tap", "sign", "paste-body", "slumps")


APPENDING = """
import sys
from casebook.consultations import append
from casebook.store import open_store
with open_store(sys.argv[1]) as store:
    for n in range(200):
        append(store, sys.argv[2], f"tap {n}", "sign", f"sign-{n % 9}", n)
        print(n, flush=True)
"""


@pytest.mark.parametrize("after", [1, 40, 120])
def test_a_killed_process_loses_nothing_acknowledged(tmp_path: Path, after: int) -> None:
    """Kills the process, which shows that acknowledging follows storing; what a power cut
    spares is up to synchronous FULL, which its own test looks at."""
    file = tmp_path / "casebook.sqlite3"
    with open_store(file) as store:
        token = open_consultation(store, DOUGH, "opening")
    with subprocess.Popen(
        [sys.executable, "-c", APPENDING, str(file), token],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    ) as child:
        assert child.stdout is not None
        acknowledged = [int(child.stdout.readline()) for _ in range(after)]
        child.kill()
        acknowledged += [int(line) for line in child.stdout.read().splitlines()]
    assert child.returncode != 0
    with open_store(file) as store:
        with store.reading() as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar_one() == "ok"
        stored = [one.value for one in load(store, token).entries]
        assert stored == list(range(len(stored)))
        # One more may have been stored than was acknowledged: that is what the key is for.
        assert acknowledged == stored[: len(acknowledged)]
        assert len(stored) - len(acknowledged) <= 1
        new = [append(store, token, f"tap {n}", "sign", f"sign-{n % 9}", n) for n in range(200)]
        assert new == [n >= len(stored) for n in range(200)]
        assert [one.value for one in load(store, token).entries] == list(range(200))


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)
tellings = st.lists(
    st.tuples(
        st.sampled_from(["kitchen", "sign", "reading"]),
        st.sampled_from("abcd"),
        json_values,
    ),
    max_size=20,
)


@settings(max_examples=25, deadline=None)
@given(tellings)
def test_what_counts_is_what_was_told_last(what: list[tuple[str, str, JSON]]) -> None:
    with (
        tempfile.TemporaryDirectory() as folder,
        open_store(f"{folder}/casebook.db") as store,
    ):
        token = open_consultation(store, DOUGH, "opening")
        for n, (kind, name, value) in enumerate(what):
            append(store, token, f"tap {n}", kind, name, value)
        loaded = load(store, token)
    assert told(loaded) == [(n, *one) for n, one in enumerate(what, start=1)]
    counts = latest(loaded)
    assert list(counts) == list(dict.fromkeys((kind, name) for kind, name, _ in what))
    for place, entry in counts.items():
        same = [value for kind, name, value in what if (kind, name) == place]
        # Compared as text too, since Python takes 1 and true for the same.
        assert json.dumps(entry.value, sort_keys=True) == json.dumps(same[-1], sort_keys=True)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(0, 9), max_size=30))
def test_any_order_of_retries_stores_each_key_once(keys: list[int]) -> None:
    with (
        tempfile.TemporaryDirectory() as folder,
        open_store(f"{folder}/casebook.db") as store,
    ):
        token = open_consultation(store, DOUGH, "opening")
        new = [append(store, token, f"tap {key}", "sign", f"sign-{key}", key) for key in keys]
        stored = [one.value for one in load(store, token).entries]
    assert stored == list(dict.fromkeys(keys))
    assert new == [key not in keys[:place] for place, key in enumerate(keys)]
