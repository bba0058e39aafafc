"""A change of the book goes live whole or not at all, is never lost, and can be taken back.

The books here are the small ones of ``tests/books``; their rules read quickly.
"""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from casebook.problems import NotStorable
from casebook.publishing import ChangedMeanwhile, Press, Refused, with_revisions
from casebook.revisions import MovedOn, all_revisions, head
from casebook.store import Store, open_store
from desk import DOUGH, TOLD, WET, now, press_on, texts
from diagnose.consulting import OpenBook
from diagnose.inspecting import inspect
from diagnose.knowledge.editions import PartName, part_text
from diagnose.knowledge.loading import fingerprint, load_texts
from diagnose.knowledge.problems import BrokenBook
from diagnose.shelf import Shelf


def weaker(press: Press) -> dict[PartName, str | None]:
    return {WET: now(press).replace("strength: strong", "strength: slight")}


def answer(press: Press) -> str:
    return press.shelf.current.diagnose(TOLD).model_dump_json()


def test_a_change_is_live_at_once_and_after_a_restart(either: Store) -> None:
    press = press_on(either)
    before = answer(press)
    assert press.publish(weaker(press), "Instructor A", "Too sure") == (1,)
    assert answer(press) != before
    again = press_on(either)
    assert answer(again) == answer(press)
    [kept] = all_revisions(either)
    assert (kept.number, kept.who, kept.why, kept.kind) == (1, "Instructor A", "Too sure", "change")
    assert kept.before is not None
    assert "strength: strong" in kept.before


def test_undo_and_roll_back_give_the_same_answers_byte_for_byte(either: Store) -> None:
    press = press_on(either)
    shipped = answer(press)
    press.publish(weaker(press), "A", "First")
    first = answer(press)
    press.publish({WET: now(press).replace("below 85 °C", "below 80 °C")}, "B", "Second")
    press.undo(2, "A", "No")
    assert answer(press) == first
    press.undo(1, "A", "No")
    assert answer(press) == shipped
    press.roll_back(1, "A", "Yes after all")
    assert answer(press) == first
    press.roll_back(0, "A", "As shipped")
    assert answer(press) == shipped
    assert press.texts() == texts()
    assert [one.kind for one in all_revisions(either)] == [
        "change", "change", "undo", "undo", "roll-back", "roll-back",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("strength: strong", "stregth: strong", "stregth"),
        ("paste-body: pours or slumps", "paste-body: slump", "slump"),
        ("rule: silent}", "rule: speaks}", "undercooked-looks-wet"),
        ("source: {see: common-practice}", "source: {see: nowhere-at-all}", "nowhere-at-all"),
        ("why: Starch", "why: &x Starch", "&"),
        ("why: Starch", "why: !!python/name:os.system Starch", "tag"),
        ("undercooked-looks-wet:", "another-name:", "another-name"),
    ],
)
def test_what_does_not_pass_the_checks_is_neither_stored_nor_live(
    either: Store, old: str, new: str, words: str
) -> None:
    press = press_on(either)
    before, opened = answer(press), press.shelf.current
    with pytest.raises(Refused, match=words):
        press.publish({WET: now(press).replace(old, new)}, "A", "Try")
    assert press.shelf.current is opened
    assert answer(press) == before
    assert head(either) == 0


def test_a_change_needs_a_reason_and_something_to_change(either: Store) -> None:
    press = press_on(either)
    for why in ("", "  ", "x" * 501, "a\0b"):
        with pytest.raises(NotStorable):
            press.publish(weaker(press), "A", why)
    with pytest.raises(NotStorable, match="nothing"):
        press.publish({WET: now(press)}, "A", "The same")
    assert head(either) == 0


def test_of_two_who_change_the_same_part_the_second_sees_both(either: Store) -> None:
    press = press_on(either)
    _, seen = press.text_of(WET)
    first, second = weaker(press), {WET: now(press).replace("85 °C", "84 °C")}
    press.publish(first, "Instructor A", "Weaker", bases={WET: seen})
    with pytest.raises(ChangedMeanwhile) as changed:
        press.publish(second, "Instructor B", "Cooler", bases={WET: seen})
    assert changed.value.by.who == "Instructor A"
    assert changed.value.now == first[WET]
    assert head(either) == 1


def test_an_older_change_of_a_part_changed_since_is_not_taken_back_blindly(either: Store) -> None:
    press = press_on(either)
    press.publish(weaker(press), "A", "One")
    press.publish({WET: now(press) + "  # seen\n"}, "B", "Two")
    with pytest.raises(ChangedMeanwhile):
        press.undo(1, "A", "No")
    with pytest.raises(LookupError):
        press.undo(9, "A", "No")


def test_another_program_notices_a_change_and_builds_on_it(address: str) -> None:
    with open_store(address) as one, open_store(address) as other:
        here, there = press_on(one), press_on(other)
        here.publish(weaker(here), "A", "Weaker")
        assert answer(there) != answer(here)
        there.look()
        assert answer(there) == answer(here)
        assert there.look() is there.shelf.current
        # Without a look, too, a change is made upon the newest book.
        here.publish({WET: now(here) + "  # a note\n"}, "A", "Noted")
        beads = PartName(DOUGH, "signs", "oil-beads")
        there.publish({beads: now(there, beads).replace("Beads of oil", "Oil beads")}, "B", "Said")
        here.look()
        assert here.shelf.current.book.version == there.shelf.current.book.version
        assert head(one) == 3


def test_many_at_once_lose_nothing_and_nobody_overwrites_unseen(address: str) -> None:
    with open_store(address) as one, open_store(address) as other:
        presses = [press_on(one), press_on(other)]
        tried = [0]

        def change(number: int) -> tuple[int, ...] | str:
            press = presses[number % 2]
            part = PartName(DOUGH, "signs", "oil-beads")
            for _ in range(30):
                text, seen = press.text_of(part)
                assert text is not None
                tried[0] += 1
                try:
                    return press.publish(
                        {part: f"{text}  # {number}\n"}, f"I{number}", "Note", bases={part: seen}
                    )
                except (ChangedMeanwhile, MovedOn):
                    time.sleep(0.01 * number)
            return "never"

        with ThreadPoolExecutor(4) as pool:
            done = list(pool.map(change, range(8)))
        assert sorted(number for numbers in done for number in numbers) == list(range(1, 9))
        last = presses[0].text_of(PartName(DOUGH, "signs", "oil-beads"))[0]
        assert last is not None
        # Each wrote its mark behind what it had seen, so that nobody's mark is missing.
        assert all(f"# {number}\n" in last for number in range(8))


def test_a_revision_that_fits_no_more_is_set_aside_and_the_rest_stays(either: Store) -> None:
    press = press_on(either)
    press.publish(weaker(press), "A", "Weaker")
    beads = PartName(DOUGH, "signs", "oil-beads")
    press.publish({beads: now(press, beads).replace("No", "Not any")}, "A", "Clearer")
    shipped = texts()
    # A newer program ships the dough without the answer that the changed rule names.
    name = "ten-minutes.yaml"
    shipped[name] = shipped[name].replace("pours:", "runs:").replace("pours or slumps", "slumps")
    newer = Press(either, Shelf(OpenBook(load_texts(shipped))), shipped)
    newer.start()
    [aside] = newer.set_aside
    assert aside.part == WET
    assert any("pours" in str(problem) for problem in aside.problems)
    assert "Not any" in now(newer, beads)
    assert "strength: strong" in now(newer)
    assert head(either) == 2


def test_a_book_opened_anew_is_the_same_book_with_what_else_it_shall_know(store: Store) -> None:
    shipped, made = texts(), []

    def opened(book: object) -> OpenBook:
        made.append(book)
        return OpenBook(load_texts(shipped))

    press = Press(store, Shelf(OpenBook(load_texts(shipped))), shipped, opened)
    before = press.shelf.current
    press.reopen()
    assert press.shelf.current is not before
    assert len(made) == 1


def test_a_name_that_was_taken_out_is_not_given_to_another_rule(either: Store) -> None:
    press = press_on(either)
    wetter = PartName(DOUGH, "rules", "wetter")
    text = now(press).replace(WET.name, "wetter", 1)
    press.publish({wetter: text}, "A", "Seen on Monday")
    press.publish({wetter: None}, "A", "Wrong")
    with pytest.raises(Refused, match="was used before"):
        press.publish({wetter: text.replace("strong", "slight")}, "A", "Something else")
    assert head(either) == 2
    press.undo(2, "A", "It was right")
    assert now(press, wetter) == text


def test_what_a_book_shall_know_besides_is_noticed_from_another_program(store: Store) -> None:
    shipped, known = texts(), ["before"]
    press = Press(
        store,
        Shelf(OpenBook(load_texts(shipped))),
        shipped,
        lambda book: OpenBook(book),
        lambda: known[0],
    )
    first = press.start()
    assert press.look() is first
    known[0] = "after"
    second = press.look()
    assert second is not first
    assert press.look() is second


STRENGTHS = ("slight", "moderate", "strong", "decisive")


def edit(luck: random.Random, press: Press, names: list[str]) -> dict[PartName, str | None]:
    """One thing an instructor, or an opponent, might do; about half of them are mistakes."""
    name = luck.choice(names)
    part = PartName(DOUGH, "rules", name)
    text, _ = press.text_of(part)
    if text is None:
        model = part_text(press.shipped, WET)
        assert model is not None
        text = model.replace(WET.name, name, 1)
    pick = luck.randrange(9)
    if pick == 0:
        return {part: None}
    if pick == 1:
        return {part: text + f"  # {luck.random()}\n"}
    if pick == 2:
        old = next(s for s in STRENGTHS if f"strength: {s}" in text)
        return {part: text.replace(f"strength: {old}", f"strength: {luck.choice(STRENGTHS)}")}
    if pick == 3:
        return {part: text.replace("85 °C", f"{luck.randrange(60, 100)} °C")}
    if pick == 4:
        cut = luck.randrange(len(text))
        return {part: text[:cut] + text[cut + luck.randrange(1, 9) :]}
    if pick == 5:
        at = luck.randrange(len(text))
        return {part: text[:at] + luck.choice(":-#{}[]&*!'\"\t\n\0é") + text[at:]}
    if pick == 6:
        return {PartName(DOUGH, "signs", "paste-body"): None}
    if pick == 7:
        return {part: text.replace("wet", luck.choice(["{{ 7*7 }}", "${x}", "<b>", "slack"]))}
    other = PartName(DOUGH, "rules", luck.choice(names))
    return {part: text, other: None}


@pytest.mark.parametrize("seed", range(4))
def test_of_a_thousand_random_edits_none_makes_an_unsound_book_and_none_is_lost(
    store: Store, seed: int
) -> None:
    """Beside the press stands a plain list of what was acknowledged: it must be what is stored."""
    luck = random.Random(seed)
    names = [WET.name, *(f"made-up-{n}" for n in range(12))]
    press = press_on(store)
    told: list[tuple[int, PartName, str | None]] = []
    sound: set[str] = set()
    states = {0: press.shelf.current.book.version}
    refused = 0
    for _ in range(250):
        kind = luck.random()
        try:
            if told and kind < 0.08:
                numbers = press.undo(luck.randrange(1, len(told) + 1), "A", "Back")
            elif told and kind < 0.11:
                to = luck.choice(sorted(states))
                numbers = press.roll_back(to, "A", "Back to then")
                assert press.shelf.current.book.version == states[to]
            else:
                numbers = press.publish(edit(luck, press, names), "A", "Random")
        except (Refused, ChangedMeanwhile, NotStorable):
            refused += 1
        else:
            kept = all_revisions(store)[len(told) :]
            assert tuple(one.number for one in kept) == numbers
            told += [(one.number, one.part, one.after) for one in kept]
            states[numbers[-1]] = press.shelf.current.book.version
        book = press.shelf.current.book
        if book.version not in sound:
            assert not [p for lint, p in inspect(book) if lint.level == "error"]
            sound.add(book.version)
    assert [(o.number, o.part, o.after) for o in all_revisions(store)] == told
    assert [number for number, _, _ in told] == list(range(1, len(told) + 1))
    assert fingerprint(press.texts()) == press.shelf.current.book.version
    again, aside = with_revisions(texts(), all_revisions(store))
    assert aside == ()
    assert again.version == press.shelf.current.book.version
    assert refused > 50
    assert len(told) > 50


WRITER = """
import sys
sys.path[:0] = {path!r}
from casebook.store import open_store
from desk import press_on, now, WET
with open_store(sys.argv[1]) as store:
    press = press_on(store)
    while True:
        text = now(press).split("  # n")[0]
        [number] = press.publish({{WET: f"{{text}}  # n{{len(text)}} {{press.text_of(WET)[1]}}\\n"}}, "A", "On")
        print(number, flush=True)
"""  # noqa: E501


def _collect(out: Iterable[str], lines: list[int]) -> None:
    lines.extend(int(line) for line in out)


def test_a_program_killed_while_publishing_loses_nothing_it_had_said_was_done(address: str) -> None:
    root = Path(__file__).parent
    said = 0
    for go in range(4):
        program = subprocess.Popen(
            [sys.executable, "-c", WRITER.format(path=[str(root.parent), str(root)]), address],
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert program.stdout is not None
        lines: list[int] = []
        reader = threading.Thread(target=_collect, args=(program.stdout, lines))
        reader.start()
        begun = time.monotonic()
        while len(lines) < 3 and time.monotonic() - begun < 60:
            time.sleep(0.005)
        time.sleep(0.004 * go)
        program.send_signal(signal.SIGKILL)
        program.wait()
        reader.join()
        program.stdout.close()
        assert len(lines) >= 3
        said = lines[-1]
        with open_store(address) as store:
            kept = all_revisions(store)
            assert [one.number for one in kept] == list(range(1, len(kept) + 1))
            # One more may be stored than was said: it was on the disk when the program ended.
            assert len(kept) in (said, said + 1)
            press = press_on(store)
            assert press.set_aside == ()
            assert now(press) == kept[-1].after


def test_the_book_of_broken_shipped_files_is_refused_whatever_the_revisions(store: Store) -> None:
    with pytest.raises(BrokenBook):
        with_revisions({"a.yaml": "format: 1\n"}, all_revisions(store))
