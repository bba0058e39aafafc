"""What a book covers: walks from the complaint to the first remedy, and the report on them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from diagnose.__main__ import main
from diagnose.consulting import OpenBook, open_book
from diagnose.covering import Coverage, Step, complaint_of, cover, told_in, walk
from diagnose.knowledge.book import Complaint, Dough, WholeCase
from diagnose.tabulating import report

HERE = Path(__file__).parent
BOOKS = HERE / "books"
DOUGH = "milk-panade-slab"


@pytest.fixture(scope="module")
def small() -> OpenBook:
    return open_book(BOOKS)


def dough_of(opened: OpenBook, name: str = "small-paste") -> Dough:
    dough = opened.book.dough(name)
    assert dough is not None
    return dough


def with_case(opened: OpenBook, **changes: object) -> Dough:
    """The small paste, its whole case changed."""
    dough = dough_of(opened)
    case = dough.whole_cases[0].model_copy(update=changes)
    return dough.model_copy(update={"whole_cases": (case,)})


def small_case(dough: Dough) -> WholeCase:
    return dough.whole_cases[0]


def changed(text_from: str, text_to: str, tmp_path: Path) -> OpenBook:
    """The made-up books, the small one changed in one place of its text."""
    folder = Path(shutil.copytree(BOOKS, tmp_path / "books"))
    file = folder / "small.yaml"
    text = file.read_text(encoding="utf-8")
    assert text.count(text_from) == 1
    file.write_text(text.replace(text_from, text_to), encoding="utf-8")
    return open_book(folder)


def test_a_walk_begins_with_the_complaint_and_ends_in_the_remedy_of_its_case(
    small: OpenBook,
) -> None:
    dough = dough_of(small)
    found = walk(small, dough, small_case(dough))
    assert (found.stage, found.complaint) == ("cook-paste", "slumps")
    assert found.first_remedy == "cook-on-hotter"
    assert found.word == "needs-a-remedy"
    assert found.wrong is None
    assert found.taps == len(found.steps)


def test_a_case_that_fits_no_complaint_is_walked_as_something_else(small: OpenBook) -> None:
    situation = {"stage": "cook-paste", "signs": {"paste-body": "one-mass"}}
    dough = with_case(small, situation=situation, first_cause="nothing-wrong", first_remedy=None)
    found = walk(small, dough, small_case(dough))
    assert found.complaint is None
    assert Step("paste-body", "one-mass") in found.steps  # asked, since nothing was told
    assert found.taps >= 1


def test_what_the_case_does_not_say_is_answered_with_did_not_look(small: OpenBook) -> None:
    dough = with_case(small, situation={"stage": "cook-paste"})
    found = walk(small, dough, small_case(dough))
    assert found.steps
    assert all(step.answer is None for step in found.steps)


def test_a_number_is_told_when_it_is_asked_for(small: OpenBook) -> None:
    hot = {"value": 194, "unit": "degF"}
    situation = {"stage": "cook-paste", "readings": {"paste-temperature": hot}}
    dough = with_case(small, situation=situation)
    found = walk(small, dough, small_case(dough))
    told = {step.question: step.answer for step in found.steps}
    assert told["paste-temperature"] == pytest.approx(90)


def test_every_walk_asks_nothing_twice(small: OpenBook) -> None:
    for dough in small.book.doughs:
        for case in dough.whole_cases:
            steps = [step.question for step in walk(small, dough, case).steps]
            assert len(set(steps)) == len(steps)


@pytest.mark.parametrize(
    ("expected", "said"),
    [
        ({"first_remedy": "start-over"}, "it ends in cook-on-hotter, not start-over"),
        (
            {"first_remedy": None, "first_cause": "scorched"},
            "it ends with undercooked-paste as the likeliest, not scorched",
        ),
        (
            {"first_remedy": None, "never": ("cook-on-hotter",)},
            "it ends in cook-on-hotter, which must never be",
        ),
    ],
)
def test_a_walk_that_ends_elsewhere_says_where_and_what_nobody_asked(
    small: OpenBook, expected: dict[str, object], said: str
) -> None:
    dough = with_case(small, **expected)
    wrong = walk(small, dough, small_case(dough)).wrong
    assert wrong is not None
    assert wrong.startswith(said)
    assert "nobody asked for paste-temperature" in wrong


def test_the_complaint_that_says_most_is_chosen_and_the_earlier_of_two_alike(
    small: OpenBook,
) -> None:
    stage = dough_of(small).stages[0]
    vague = Complaint(id="vague", say="x", told={"paste-body": "pours"})
    alike = Complaint(id="alike", say="x", told={"burnt-smell": "yes"})
    exact = Complaint(id="exact", say="x", told={"paste-body": "pours", "burnt-smell": "yes"})
    seen = {"paste-body": "pours", "burnt-smell": "yes", "flour-measured": "dipped"}

    def chosen(*complaints: Complaint) -> str | None:
        found = complaint_of(stage.model_copy(update={"complaints": complaints}), seen)
        return found.id if found else None

    assert chosen(vague, exact, alike) == "exact"
    assert chosen(vague, alike) == "vague"
    assert chosen(alike, vague) == "alike"
    assert chosen(Complaint(id="other", say="x", told={"paste-body": "slumps"})) is None
    assert chosen() is None


def test_what_the_form_tells_can_be_part_of_a_complaint(small: OpenBook) -> None:
    """The complaint of the second stage tells how the flour was measured, a thing of the form."""
    situation = {
        "stage": "temper",
        "batch": {"flour_measured": "weighed"},
        "signs": {"paste-body": "pours"},
    }
    dough = with_case(small, situation=situation)
    assert walk(small, dough, small_case(dough)).complaint == "strands"


def test_a_case_that_cannot_be_told_is_refused_with_every_reason(small: OpenBook) -> None:
    dough = with_case(small, situation={"stage": "cook-pasta", "signs": {"paste-bod": "pours"}})
    with pytest.raises(ValueError, match=r"slack-and-cool.*cook-pasta.*paste-bod"):
        told_in(dough, small_case(dough))


def test_a_book_is_complete_when_every_mode_is_reached_or_explained(small: OpenBook) -> None:
    coverage = cover(small, dough_of(small))
    assert coverage.complete
    assert [shown.mode.id for shown in coverage.reached] == ["runs-and-is-not-hot"]
    assert [mode.id for mode in coverage.not_covered] == ["smells-of-the-shelf"]
    assert (coverage.median_taps, coverage.worst_taps) == (0, 0)
    assert coverage.others == ()
    assert coverage.never_spoke == ()


def test_a_mode_that_ends_elsewhere_is_unreachable(tmp_path: Path) -> None:
    opened = changed("first remedy: cook-on-hotter", "first remedy: start-over", tmp_path)
    coverage = cover(opened, dough_of(opened))
    assert not coverage.complete
    assert [shown.mode.id for shown in coverage.unreachable] == ["runs-and-is-not-hot"]
    assert coverage.reached == ()
    lines = "\n".join(report(coverage))
    assert "it ends in cook-on-hotter, not start-over" in lines
    assert "  NO\n" in lines


def test_a_book_without_failure_modes_says_so_and_walks_its_whole_cases(small: OpenBook) -> None:
    dough = dough_of(small).model_copy(update={"failure_modes": ()})
    coverage = cover(small, dough)
    assert coverage.complete
    assert (coverage.median_taps, coverage.worst_taps) == (None, None)
    assert [walked.case for walked in coverage.others] == ["slack-and-cool"]
    assert "It lists no failure modes" in "\n".join(report(coverage))


def test_a_rule_that_no_case_fires_is_named_and_a_retired_one_is_not(small: OpenBook) -> None:
    dough = dough_of(small)
    dumb = dough.rules[0].model_copy(update={"id": "dumb", "cases": ()})
    retired = dumb.model_copy(update={"id": "gone", "standing": "retired"})
    more = dough.model_copy(update={"rules": (*dough.rules, dumb, retired)})
    coverage = cover(small, more)  # the book that answers has no rule "dumb": it cannot speak
    assert coverage.never_spoke == ("dumb",)
    assert "dumb" in coverage.in_no_whole_case
    assert not coverage.complete


def test_rules_that_speak_only_beside_themselves_and_causes_never_first_are_listed(
    small: OpenBook,
) -> None:
    coverage = cover(small, dough_of(small))
    assert "curdled-and-burnt-is-spoiled" in coverage.in_no_whole_case
    assert "pan-looks-slack" not in coverage.in_no_whole_case
    assert "undercooked-paste" not in coverage.never_first
    assert "flour-short" in coverage.never_first


def test_the_columns_of_the_report_stand_under_their_heads(small: OpenBook) -> None:
    lines = list(report(cover(small, dough_of(small))))
    head = next(line for line in lines if line.startswith("failure mode "))
    row = next(line for line in lines if line.startswith("runs-and-is-not-hot"))
    for name, entry in (("stage", "cook-paste"), ("complaint", "slumps"), ("taps", "0")):
        assert row.startswith(entry, head.index(name))
    assert row.endswith("yes")


def test_the_command_prints_the_report_and_says_by_its_code_whether_all_is_well(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = BOOKS / "small.yaml"
    assert main(["cover", str(file)]) == 0
    assert "rules never fired by any case      none" in capsys.readouterr().out
    text = file.read_text(encoding="utf-8")
    for name, wrong in (("cook-on-hotter", "start-over"), ("cook-on-hotter", "cook-on-hot")):
        shutil.copy(BOOKS / "sources.yaml", tmp_path)
        broken = tmp_path / f"{wrong}.yaml"
        broken.write_text(text.replace(f"remedy: {name}", f"remedy: {wrong}"), encoding="utf-8")
        assert main(["cover", str(broken)]) == 1
    told = capsys.readouterr()
    assert "Unreachable:" in told.out
    assert 'no remedy "cook-on-hot"' in told.err


@pytest.fixture(scope="module")
def shipped(book: OpenBook) -> Coverage:
    return cover(book, dough_of(book, DOUGH))


def test_the_shipped_book_reaches_every_failure_mode_it_lists(shipped: Coverage) -> None:
    assert [f"{shown.mode.id}: {shown.walk}" for shown in shipped.unreachable] == []
    listed = len(shipped.dough.failure_modes)
    assert len(shipped.reached) + len(shipped.not_covered) == listed
    assert all(mode.why_not for mode in shipped.not_covered)


def test_no_rule_of_the_shipped_book_is_silent_in_all_its_cases(shipped: Coverage) -> None:
    assert shipped.never_spoke == ()


def test_the_shipped_book_is_quick_to_its_first_remedies(shipped: Coverage) -> None:
    """At most four taps in the middle, whether or not a whole case shows a failure mode."""
    taps = sorted(walked.taps for walked in shipped.walks)
    assert taps[len(taps) // 2] <= 4
    if shipped.median_taps is not None:
        assert shipped.median_taps <= 4


def test_a_walk_is_a_consultation_that_could_be_had(book: OpenBook, shipped: Coverage) -> None:
    """Each walk ends without a question, in a remedy of its stage, after questions of its stage."""
    remedies = {remedy.id: remedy for remedy in shipped.dough.remedies}
    asked = {sign.id: sign.stages for sign in shipped.dough.signs}
    asked |= {reading.id: reading.stages for reading in shipped.dough.readings}
    for walked in shipped.walks:
        assert walked.word != "needs-an-answer"
        assert walked.stage in remedies[walked.first_remedy].stages
        assert all(walked.stage in asked[step.question] for step in walked.steps)
