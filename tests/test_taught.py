"""What confirmed cases teach, by way of the casebook: what counts, acts, and the numbers.

The reference for the numbers is categorical naive Bayes of the general library scikit-learn
(https://scikit-learn.org), with the written table as weighted cases.
"""

from __future__ import annotations

import importlib
import itertools
import math
import random
from collections.abc import Iterable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import text

from casebook.acts import acts, in_force, stop, use
from casebook.before import UNKNOWN_STAGE, NotReadable, Reader
from casebook.cases import keep_case, mark
from casebook.judged import compare, report, spread
from casebook.listing import listing
from casebook.problems import KeyReused, NotStorable
from casebook.situation import as_request
from casebook.store import Store
from casebook.taught import learned, opened, records
from casemaking import DOUGH, NOON, PLAIN
from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Dough
from diagnose.knowledge.case import JSON, Case, EnteredBy, Told
from diagnose.knowledge.situation import Situation
from diagnose.learning.cases import ConfirmedCase
from diagnose.learning.counting import UNKNOWN_CAUSE
from diagnose.learning.recalibrating import PSEUDO_CASES, learn
from diagnose.reasoning.likelihood import tables
from diagnose.rejudging import rejudge, situation_of
from learning_cases import World, log_loss, world

# untyped
naive_bayes: Any = importlib.import_module("sklearn.naive_bayes")
numpy: Any = importlib.import_module("numpy")

STAGE = "cook-paste"


@pytest.fixture
def dough(book: OpenBook) -> Dough:
    return book.book.doughs[0]


def told(kind: str, name: str, value: Any, minute: int) -> Told:
    return Told(NOON + timedelta(minutes=minute), kind, name, value)


STORY = (
    told("kitchen", "elevation_m", 2310.0, 0),
    told("stage", "stage", STAGE, 1),
    told("complaint", STAGE, {"id": "slumps", "told": ["paste-body"]}, 1),
    told("sign", "paste-body", "slumps", 1),
    told("sign", "bubbling", "never", 2),
    told("not-looked", "held-hot", None, 3),
    told("tried", "cook-on-hotter#1", {"remedy": "cook-on-hotter", "result": "no-change"}, 9),
    told("sign", "paste-body", "one-mass", 10),
    told("sign", "raw-flour-taste", "raw", 11),
)


def story_case(dough: Dough) -> Case:
    bubbling = next(s for s in dough.signs if s.id == "bubbling").answers[0].id
    story = tuple(replace(t, value=bubbling) if t.name == "bubbling" else t for t in STORY)
    return replace(PLAIN, told=story, elevation_m=2310.0)


def kept(
    store: Store, case: Case, name: str, causes: Iterable[str], by: EnteredBy = "cook"
) -> None:
    keep_case(store, replace(case, id=name, entered_by=by), f"keep {name}")
    mark(store, name, f"mark {name}", by="Instructor A", verdict="confirmed", causes=tuple(causes))


def drawn(dough: Dough, count: int, seed: int, error: float = 0.7) -> tuple[World, list[Case]]:
    """Cases of a stated truth beside the shipped book, as the casebook keeps them."""
    truth = world(random.Random(1), dough, STAGE, error)
    cases = [as_kept(dough, c) for c in truth.cases(random.Random(seed), count, answered=0.15)]
    return truth, cases


def as_kept(dough: Dough, one: ConfirmedCase) -> Case:
    """Only what was looked at is told; what was drawn of the kitchen's height is its height."""
    situation = situation_of(dough, one)
    given = {part.id for part in dough.given}
    signs = {name: a for name, a in situation.signs.items() if name not in given}
    situation = situation.model_copy(update={"signs": signs})
    return replace(
        PLAIN,
        id=one.id,
        title=one.causes[0],
        situation=as_request(situation, dough),
        elevation_m=one.elevation_m,
    )


# --- what was seen before the first remedy ---


def test_what_was_seen_after_a_remedy_is_no_longer_the_failure(dough: Dough) -> None:
    before = Reader(dough).before(story_case(dough))
    assert before.situation.signs["paste-body"] == "slumps"
    assert "raw-flour-taste" not in before.situation.signs
    assert before.situation.tried == ()
    assert [one.result for one in before.tried] == ["no-change"]
    assert before.situation.kitchen.elevation_m == 2310.0


def test_what_was_not_looked_at_is_asked_and_absent(dough: Dough) -> None:
    before = Reader(dough).before(story_case(dough))
    assert before.asked == ("bubbling", "held-hot")
    assert "held-hot" not in before.situation.signs
    assert before.situation.not_looked == frozenset({"held-hot"})


def test_without_a_story_a_look_that_the_remedy_changes_is_left_out(dough: Dough) -> None:
    taste = next(s for s in dough.signs if s.id == "raw-flour-taste").answers[0].id
    signs = {"paste-body": "slumps", "raw-flour-taste": taste}
    tried = [{"remedy": "cook-on-hotter", "result": "worked"}]
    before = Reader(dough).before(replace(PLAIN, situation={"signs": signs, "tried": tried}))
    assert before.situation.signs == {"paste-body": "slumps"}
    untried = Reader(dough).before(replace(PLAIN, situation={"signs": signs}))
    assert set(untried.situation.signs) == {"paste-body", "raw-flour-taste"}


def test_words_that_the_book_lost_are_left_out_and_the_rest_stays(dough: Dough) -> None:
    situation: dict[str, JSON] = {
        "signs": {"paste-body": "slumps", "gone": "a"},
        "readings": {"gone": 1},
    }
    before = Reader(dough).before(replace(PLAIN, situation=situation))
    assert before.situation.signs == {"paste-body": "slumps"}
    with pytest.raises(NotReadable, match=UNKNOWN_STAGE):
        Reader(dough).before(replace(PLAIN, stage="gone"))


# --- what counts ---


def test_only_confirmed_cases_that_somebody_cooked_count(store: Store, dough: Dough) -> None:
    case = story_case(dough)
    kept(store, case, "true", ["undercooked-paste"])
    keep_case(store, replace(case, id="invented", entered_by="shipped"), "keep invented")
    with pytest.raises(NotStorable, match="is a teaching case"):
        mark(store, "invented", "mark", by="A", verdict="confirmed", causes=("undercooked-paste",))
    kept(store, replace(case, stage="gone", told=()), "elsewhere", ["undercooked-paste"])
    kept(store, case, "lost", ["no-such-cause"])
    kept(store, case, "changed", ["undercooked-paste"])
    mark(store, "changed", "again", by="Instructor A", verdict="doubtful")
    keep_case(store, replace(case, id="new"), "keep new")
    listed = listing(store, DOUGH)
    found = records(store, dough, listed)
    assert [one.id for one in found.cases] == ["true", "lost"]
    assert listed.shipped == 0
    assert found.aside == (("elsewhere", UNKNOWN_STAGE),)
    assert learn(dough, found.cases).counts.set_aside == (("lost", UNKNOWN_CAUSE),)


# --- acts ---


def test_nothing_is_learned_without_an_act_and_stopped_in_one(
    either: Store, book: OpenBook, dough: Dough
) -> None:
    kept(either, story_case(dough), "one", ["flour-short"])
    asked = Situation(dough=DOUGH, stage=STAGE, signs={"paste-body": "slumps"})
    assert opened(either, book.book).diagnose(asked).learned == 0
    use(either, "act one", "Instructor A", listing(either, DOUGH), 1)
    said = opened(either, book.book).diagnose(asked)
    assert said.learned == 1
    row = next(b for b in said.because if b.learned)
    assert row.learned is not None
    assert "after 1 case" in row.learned
    stop(either, "act two", "Instructor B", DOUGH)
    assert opened(either, book.book).diagnose(asked).learned == 0
    assert [(a.number, a.who, a.in_use, a.cases) for a in acts(either, DOUGH)] == [
        (1, "Instructor A", True, 1),
        (2, "Instructor B", False, 0),
    ]


def test_what_is_in_use_comes_from_the_marks_up_to_the_act(
    either: Store, book: OpenBook, dough: Dough
) -> None:
    kept(either, story_case(dough), "one", ["flour-short"])
    kept(either, story_case(dough), "two", ["undercooked-paste"])
    use(either, "act", "Instructor A", listing(either, DOUGH), 2)
    before = learned(either, book.book)[DOUGH]
    kept(either, story_case(dough), "three", ["flour-short"])
    mark(either, "one", "again", by="B", verdict="confirmed", causes=["undercooked-paste"])
    # also a mark that an earlier clock dates before the act
    mark(either, "two", "early", by="B", verdict="doubtful", at=NOON)
    again = learned(either, book.book)[DOUGH]
    assert again == before
    assert again.counts.ids == {"one", "two"}
    assert listing(either, DOUGH).digest != in_force(either)[DOUGH].digest


def test_an_act_is_done_once_for_a_form(either: Store, dough: Dough) -> None:
    kept(either, story_case(dough), "one", ["flour-short"])
    listed = listing(either, DOUGH)
    first = use(either, "act", "Instructor A", listed, 1)
    assert use(either, "act", "Instructor A", listed, 1) == first
    assert len(acts(either)) == 1
    with pytest.raises(KeyReused):
        stop(either, "act", "Instructor A", DOUGH)


def test_an_act_that_cannot_be_made_again_leaves_the_words(
    store: Store, book: OpenBook, dough: Dough
) -> None:
    kept(store, story_case(dough), "one", ["flour-short"])
    use(store, "act", "Instructor A", listing(store, DOUGH), 1)
    with store.writing() as connection:
        connection.execute(text("UPDATE case_mark SET causes = '[\"undercooked-paste\"]'"))
    assert learned(store, book.book) == {}


# --- the numbers ---


def test_through_the_casebook_it_equals_categorical_naive_bayes(
    either: Store, book: OpenBook, dough: Dough
) -> None:
    _, cases = drawn(dough, 60, seed=5)
    for case in cases:
        kept(either, case, case.id, [case.title])
    use(either, "act", "Instructor A", listing(either, DOUGH), len(cases))
    found = learned(either, book.book)[DOUGH]
    assert found.cases == len(cases)
    signs = {case.id: case.situation["signs"] for case in cases}
    worst, compared = 0.0, 0
    for look in (sign.id for sign in dough.signs if sign.given_by is None):
        table = tables(dough)[look]
        answers, causes = table.asked.answers, list(table.rows)
        if not causes:
            continue
        samples, classes, weights = [], [], []
        for cause, answer in itertools.product(causes, answers):
            samples.append([answers.index(answer)])
            classes.append(cause)
            weights.append(PSEUDO_CASES * math.exp(table.log_for(cause, answer)))
        for case in cases:
            seen = signs[case.id]
            assert isinstance(seen, dict)
            if look in seen and case.title in causes:
                samples.append([answers.index(seen[look])])
                classes.append(case.title)
                weights.append(1.0)
        model = naive_bayes.CategoricalNB(alpha=0.0, force_alpha=True)
        model.fit(numpy.array(samples), numpy.array(classes), sample_weight=numpy.array(weights))
        logs = dict(zip(model.classes_, model.feature_log_prob_[0], strict=True))
        for row in found.rows.values():
            if row.look == look:
                for cell in row.cells:
                    theirs = math.exp(logs[row.cause][answers.index(cell.answer)])
                    worst = max(worst, abs(cell.chance - theirs))
                    compared += row.cases > 0
    assert worst < 1e-9
    assert compared > 50


@pytest.mark.parametrize("count", [20, 80])
def test_on_cases_held_out_the_log_loss_is_no_worse_with_learning(
    store: Store, book: OpenBook, dough: Dough, count: int
) -> None:
    """The generator: words off by 0.7 nats, three looks in twenty taken, seeds stated."""
    truth, cases = drawn(dough, count, seed=7)
    for case in cases:
        kept(store, case, case.id, [case.title])
    use(store, "act", "Instructor A", listing(store, DOUGH), count)
    taught = opened(store, book.book)
    held_out = truth.cases(random.Random(8), 150, answered=0.15, start=10_000)
    losses = []
    for one in (book, taught):
        judged = list(rejudge(one.ready(DOUGH), held_out, remedies=False))
        losses.append(log_loss([j.chances.get(j.case.causes[0], 1e-9) for j in judged]))
    assert losses[1] <= losses[0]


# --- how well the house does ---


def test_a_report_leaves_each_case_out_and_says_how_many(
    store: Store, book: OpenBook, dough: Dough
) -> None:
    _, cases = drawn(dough, 12, seed=3)
    for case in cases:
        kept(store, case, case.id, [case.title])
    found = records(store, dough, listing(store, DOUGH))
    lessons = learn(dough, found.cases)
    told: list[tuple[str, int, int]] = []
    said = report(book.ready(DOUGH), lessons, found.cases, lambda *what: told.append(what))
    assert (said.cases, said.judged, said.followed) == (12, 12, 12)
    assert said.cause.of == 12
    assert len(said.thin) >= len(dough.causes) - 2
    assert told
    expected = list(rejudge(replace(book.ready(DOUGH), learned=None), found.cases, remedies=False))
    both = compare(book.ready(DOUGH), lessons, found.cases)
    assert both.words.log_loss == pytest.approx(
        log_loss([j.chances[j.case.causes[0]] for j in expected])
    )
    one = found.cases[0]
    without = learn(dough, found.cases[1:])
    alone = OpenBook(book.book, {DOUGH: without})
    first = next(iter(rejudge(OpenBook(book.book, {DOUGH: lessons}).ready(DOUGH), [one])))
    assert first.chances == pytest.approx(
        next(iter(rejudge(alone.ready(DOUGH), [one]))).chances, abs=1e-12
    )


def test_of_many_cases_the_same_even_spread_is_judged_every_time() -> None:
    cases = [ConfirmedCase(f"case-{n:02}", "d", "s", {}, ("c",)) for n in range(50)]
    some = spread(random.Random(1).sample(cases, 50), 5)
    assert [one.id for one in some] == ["case-00", "case-10", "case-20", "case-30", "case-40"]
    assert spread(cases, 50) == cases
