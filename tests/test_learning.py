"""What confirmed cases make of the written words.

The reference is categorical naive Bayes of the general library scikit-learn
(https://scikit-learn.org), with the written table as weighted cases; it is needed by these tests
only.
"""

from __future__ import annotations

import importlib
import itertools
import math
import random
import statistics
from collections.abc import Callable, Sequence
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import faultbooks
from diagnose.consulting import OpenBook, open_book
from diagnose.knowledge.book import Dough, Reading
from diagnose.knowledge.situation import Kitchen, Situation
from diagnose.learning.cases import HIGH, LOW, POOL, ConfirmedCase, answers_of, band_of
from diagnose.learning.counting import TWO_CAUSES, UNKNOWN_CAUSE, UNKNOWN_STAGE
from diagnose.learning.recalibrating import (
    PSEUDO_CASES,
    PSEUDO_CASES_COMMON,
    Learned,
    learn,
    nearest_word,
)
from diagnose.reasoning.belief import chances_of, prior, scores_of
from diagnose.reasoning.likelihood import tables
from diagnose.reasoning.pairs import two_causes
from diagnose.reasoning.posterior import weigh
from diagnose.reasoning.words import SOMETHING_ELSE
from learning_cases import World, log_loss, named, retold, shuffled, world

# untyped
naive_bayes: Any = importlib.import_module("sklearn.naive_bayes")
numpy: Any = importlib.import_module("numpy")


@pytest.fixture(scope="module")
def book() -> OpenBook:
    return open_book()


KITCHENS = {LOW: 6.0, HIGH: 2310.0, POOL: None}


def made_up(seed: int, error: float = 0.7, **size: Any) -> World:
    dice = random.Random(seed)
    return world(dice, named(faultbooks.random_faultbook(dice, **size)), "now", error)


def seen(*answers: str, cause: str = "c", look: str = "s", **more: Any) -> list[ConfirmedCase]:
    return [
        ConfirmedCase(f"case-{n}", "made-up", "now", {look: a}, (cause,), **more)
        for n, a in enumerate(answers)
    ]


def one_row(**words: Any) -> Dough:
    """A cause c with one row about a look of two answers, a and b."""
    dough = faultbooks.faultbook(
        [faultbooks.cause("c"), faultbooks.cause("d")],
        [faultbooks.sign("s", "ab")],
        [faultbooks.row("s", "c", **words)],
    )
    return named(dough)


def believer(learned: Learned) -> Callable[[ConfirmedCase], dict[str, float]]:
    """Chances of the causes from the answers of a case, by the reasoning itself."""
    dough = learned.dough
    made = tables(dough, learned.taught)
    heights = {b: learned.log_weights("now", h) for b, h in KITCHENS.items()}

    def believed(case: ConfirmedCase) -> dict[str, float]:
        before = prior(dough, "now", (), heights[case.band])
        return chances_of(scores_of(before, weigh(before.causes, made, case.answers, ())))

    return believed


# --- the same numbers as a general library ---


@pytest.mark.parametrize("seed", range(8))
def test_it_equals_categorical_naive_bayes_with_the_written_words_as_weighted_cases(
    seed: int,
) -> None:
    made = made_up(seed, causes=5, looks=6, density=1.0)
    dice = random.Random(1000 + seed)
    cases = made.cases(dice, dice.choice((1, 7, 60, 400)))
    learned = learn(made.dough, cases)
    looks = {name: reference_rows(made.dough, cases, name) for name in learned.words.tables}
    worst = 0.0
    for row in learned.rows.values():
        theirs = looks[row.look][row.cause]
        worst = max(worst, *(abs(cell.chance - theirs[cell.answer]) for cell in row.cells))
    believed = believer(learned)
    for case in made.cases(random.Random(2000 + seed), 30, start=10_000):
        common = reference_common(made.dough, cases, case.band)
        scores = {
            name: weight
            + math.fsum(math.log(looks[look][name][a]) for look, a in case.answers.items())
            for name, weight in common.items()
        }
        top = max(scores.values())
        whole = math.fsum(math.exp(score - top) for score in scores.values())
        for name, chance in believed(case).items():
            worst = max(worst, abs(chance - math.exp(scores[name] - top) / whole))
    assert worst < 1e-9


def reference_rows(
    dough: Dough, cases: list[ConfirmedCase], look: str
) -> dict[str, dict[str, float]]:
    """cause -> answer -> P(answer | cause), fitted by scikit-learn on one look."""
    table = tables(dough)[look]
    answers, causes = table.asked.answers, list(table.rows)
    samples, classes, weights = [], [], []
    for cause, answer in itertools.product(causes, answers):
        samples.append([answers.index(answer)])
        classes.append(cause)
        weights.append(PSEUDO_CASES * math.exp(table.log_for(cause, answer)))
    for case in cases:
        if look in case.answers and case.causes[0] in causes:
            samples.append([answers.index(case.answers[look])])
            classes.append(case.causes[0])
            weights.append(1.0)
    # no smoothing of its own: the words are the pseudo-counts
    model = naive_bayes.CategoricalNB(alpha=0.0, force_alpha=True)
    model.fit(numpy.array(samples), numpy.array(classes), sample_weight=numpy.array(weights))
    logs = dict(zip(model.classes_, model.feature_log_prob_[0], strict=True))
    found = {c: dict(zip(answers, map(math.exp, logs[c]), strict=True)) for c in causes}
    usual = {answer: math.exp(table.log_usual(answer)) for answer in answers}
    return {**dict.fromkeys((c.id for c in dough.causes), usual), SOMETHING_ELSE: usual, **found}


def reference_common(dough: Dough, cases: list[ConfirmedCase], band: str) -> dict[str, float]:
    """Log of the share of each cause in a band, fitted by scikit-learn."""
    before = prior(dough, "now", ())
    written = chances_of(before.common)
    names = list(written)
    counted = [c.causes[0] for c in cases if band in (POOL, c.band)]
    weights = [PSEUDO_CASES_COMMON * written[name] for name in names] + [1.0] * len(counted)
    model = naive_bayes.CategoricalNB(alpha=1.0)  # smooths the looks; there are none
    classes = numpy.array([*names, *counted])
    model.fit(numpy.zeros((len(classes), 1), dtype=int), classes, sample_weight=weights)
    return dict(zip(model.classes_, map(float, model.class_log_prior_), strict=True))


# --- learning pays ---


@pytest.mark.parametrize(
    ("error", "least"),
    [(1.4, 0.0), (0.7, 0.0), (0.5, 0.0), (0.2, -0.03)],
    ids=["far off", "off as measured", "off by half a nat", "true to a fifth of a nat"],
)
@pytest.mark.parametrize(("causes", "looks"), [(4, 6), (10, 12)])
def test_on_cases_held_out_learning_is_never_worse_than_the_words(
    error: float, least: float, causes: int, looks: int
) -> None:
    """Mean over made-up domains, whose truth is off the words by a normal error in nats.

    Words that are true to a fifth of a nat can only lose, and lose little.
    """
    domains = []
    for seed in range(10):
        made = made_up(seed, error, causes=causes, looks=looks)
        held_out = made.cases(random.Random(seed + 500), 120, start=10_000)
        domains.append((made, held_out, loss_of(learn(made.dough, ()), held_out)))
    for count in (20, 100, 400):
        gains = []
        for seed, (made, held_out, by_words) in enumerate(domains):
            learned = learn(made.dough, made.cases(random.Random(seed), count))
            gains.append(by_words - loss_of(learned, held_out))
        assert statistics.fmean(gains) >= least, (count, gains)


def loss_of(learned: Learned, held_out: Sequence[ConfirmedCase]) -> float:
    believed = believer(learned)
    return log_loss([believed(case)[case.causes[0]] for case in held_out])


@given(st.integers(0, 10_000))
@settings(max_examples=6, deadline=None)
def test_learning_from_many_cases_finds_the_truth_of_the_rows(seed: int) -> None:
    made = made_up(seed, 1.0, causes=2, looks=2, density=1.0)
    learned = learn(made.dough, made.cases(random.Random(seed), 8_000, answered=1.0))
    for row in learned.rows.values():
        if row.cases < 1_000:
            continue
        truth = made.truth[row.look][row.cause]
        # four standard errors of a share, and what the 20 written cases can still move
        apart = 4 * math.sqrt(0.25 / row.cases) + PSEUDO_CASES / row.cases
        assert all(abs(cell.chance - truth[cell.answer]) < apart for cell in row.cells)


# --- a law or two ---


@given(st.integers(0, 10_000), st.integers(0, 60))
@settings(max_examples=40, deadline=None)
def test_the_order_of_the_cases_makes_no_difference(seed: int, count: int) -> None:
    made = made_up(seed % 7, causes=4, looks=5)
    cases = made.cases(random.Random(seed), count)
    one = learn(made.dough, cases)
    other = learn(made.dough, shuffled(random.Random(seed + 1), cases))
    assert one == other
    assert one.taught == other.taught
    assert all(one.log_weights("now", h) == other.log_weights("now", h) for h in KITCHENS.values())


@given(st.integers(0, 10_000), st.integers(1, 40))
@settings(max_examples=40, deadline=None)
def test_leaving_one_case_out_is_learning_from_the_others(seed: int, count: int) -> None:
    made = made_up(seed % 7, causes=4, looks=5)
    cases = made.cases(random.Random(seed), count)
    everything = learn(made.dough, cases)
    case = random.Random(seed).choice(cases)
    lighter = everything.without(retold(random.Random(seed), case))
    others = learn(made.dough, [c for c in cases if c is not case])
    assert lighter == others
    made_before = tables(made.dough, everything.taught)
    made_after = lighter.tables_for(case, made_before)
    for name, table in tables(made.dough, others.taught).items():
        for cause, row in table.log_chance.items():
            assert made_after[name].log_chance[cause] == pytest.approx(row, abs=1e-12)


@given(st.integers(0, 10_000), st.integers(0, 80))
@settings(max_examples=40, deadline=None)
def test_every_row_and_every_share_adds_up_to_one(seed: int, count: int) -> None:
    made = made_up(seed % 7, causes=4, looks=5)
    learned = learn(made.dough, made.cases(random.Random(seed), count))
    for row in learned.rows.values():
        assert math.fsum(cell.chance for cell in row.cells) == pytest.approx(1, abs=1e-12)
    for band in KITCHENS:
        shares = [c.share for c in learned.common("now", band)]
        assert math.fsum(shares) == pytest.approx(1, abs=1e-12)
        assert min(shares) > 0


# --- said in the open ---


def test_with_no_cases_every_word_is_the_one_that_was_written(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    learned = learn(dough, ())
    assert learned.cases == 0
    assert not learned.taught
    for row in learned.rows.values():
        for cell in row.cells:
            assert cell.word == (cell.written or "says nothing")
            assert cell.chance == pytest.approx(cell.written_chance, abs=1e-15)


def test_a_strong_word_that_cases_do_not_bear_out_is_called_moderate() -> None:
    """Strong for is 8 to 1 (house scale): 16 of 18 written; 20 written and 37 seen cases."""
    learned = learn(one_row(a="strong for"), seen(*["a"] * 25, *["b"] * 12))
    row = learned.row("s", "c")
    cell = row.cells[0]
    assert row.cases == 37
    assert cell.chance == pytest.approx((20 * 8 / 9 + 25) / 57)
    assert row.says(cell) == "written: strong for; after 37 cases: moderate for (× 3)"


def test_the_answer_the_author_left_out_keeps_saying_nothing_when_the_other_is_confirmed() -> None:
    learned = learn(one_row(a="strong for"), seen(*["a"] * 8, "b"))
    assert [cell.word for cell in learned.row("s", "c").cells] == ["strong for", "says nothing"]


@pytest.mark.parametrize(
    ("factor", "word"),
    [(20, "decisive for"), (8, "strong for"), (1, "says nothing"), (1 / 50, "rules out")],
)
def test_the_nearest_word_to_the_factor_of_a_word_is_that_word(factor: float, word: str) -> None:
    assert nearest_word(factor) == word


def test_a_look_that_nobody_took_counts_for_no_answer() -> None:
    cases = [ConfirmedCase(f"case-{n}", "made-up", "now", {}, ("c",)) for n in range(50)]
    learned = learn(one_row(a="strong for"), cases)
    assert learned.cases == 50
    assert learned.row("s", "c").cases == 0
    assert not learned.taught


def test_a_case_of_two_causes_or_of_one_not_in_the_book_is_set_aside_with_the_reason() -> None:
    cases = [
        ConfirmedCase("both", "made-up", "now", {"s": "a"}, ("c", "d")),
        ConfirmedCase("other", "made-up", "now", {"s": "a"}, ("retired",)),
        ConfirmedCase("elsewhere", "made-up", "later", {"s": "a"}, ("c",)),
    ]
    learned = learn(one_row(a="strong for"), cases)
    assert learned.cases == 0
    assert dict(learned.counts.set_aside) == {
        "both": TWO_CAUSES,
        "other": UNKNOWN_CAUSE,
        "elsewhere": UNKNOWN_STAGE,
    }
    assert all(learned.without(case) is learned for case in cases)


def test_an_answer_the_book_no_longer_has_is_left_out_and_the_rest_of_the_case_counts() -> None:
    learned = learn(one_row(a="strong for"), seen("a", "gone"))
    assert learned.cases == 2
    assert learned.row("s", "c").cases == 1


def test_a_double_is_refused() -> None:
    with pytest.raises(ValueError, match="case-0 is in the list twice"):
        learn(one_row(a="strong for"), [*seen("a"), *seen("b")])


@pytest.mark.parametrize("causes", [(), ("c", "c")])
def test_a_record_that_confirms_no_cause_or_one_twice_is_refused(causes: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match=r"names? (at least )?one cause"):
        ConfirmedCase("x", "made-up", "now", {}, causes)


@pytest.mark.parametrize("many", [0.0, -1.0, math.nan])
def test_words_that_count_for_nothing_are_refused(many: float) -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        learn(one_row(a="strong for"), (), pseudo_cases=many)


# --- how common, by elevation ---


def test_a_kitchen_counts_as_high_from_900_m() -> None:
    assert [band_of(h) for h in (-430, 899.9, 900, 3500, None)] == [LOW, LOW, HIGH, HIGH, POOL]


def test_high_kitchens_teach_nothing_about_low_ones_but_both_teach_the_pool() -> None:
    cases = seen(*["a"] * 30, elevation_m=2310.0)
    learned = learn(one_row(a="strong for"), cases)

    def share(band: str) -> float:
        return next(
            c.share / c.written_share for c in learned.common("now", band) if c.cause == "c"
        )

    assert share(HIGH) > 1.5
    assert share(POOL) == share(HIGH)
    assert share(LOW) == 1.0


def test_height_is_counted_once_where_the_book_has_rows_on_it(book: OpenBook) -> None:
    """Many cases that come as often as the words and rows together say change no chance."""
    dough = book.book.doughs[0]
    stage, height = "cook-paste", 2310.0
    words = learn(dough, ())
    expected = {c.cause: c.written_share for c in words.common(stage, HIGH)}
    many = 20_000
    cases = [
        ConfirmedCase(f"{name}-{n}", dough.id, stage, {"elevation": "high"}, (name,), height)
        for name, share in expected.items()
        for n in range(round(share * many))
    ]
    learned = learn(dough, cases)
    told = Situation(dough=dough.id, stage=stage, kitchen=Kitchen(elevation_m=height))
    before = book.diagnose(told)
    after = OpenBook(book.book, {dough.id: learned}).diagnose(told)
    assert [c.id for c in after.causes] == [c.id for c in before.causes]
    for one, other in zip(before.causes, after.causes, strict=True):
        assert one.chance == pytest.approx(other.chance, abs=0.0101)


# --- in the house ---


SLUMPS = Situation(dough="milk-panade-slab", stage="cook-paste", signs={"paste-body": "slumps"})


def confirmed(dough: Dough, many: int, cause: str, **signs: str) -> list[ConfirmedCase]:
    told = SLUMPS.model_copy(update={"signs": signs})
    answers = answers_of(dough, told)
    return [
        ConfirmedCase(f"{cause}-{n}", dough.id, "cook-paste", answers, (cause,), situation=told)
        for n in range(many)
    ]


def test_a_book_without_learning_says_so_and_answers_as_before(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    nothing = OpenBook(book.book, {dough.id: learn(dough, ())})
    assert book.diagnose(SLUMPS).learned == 0
    assert nothing.diagnose(SLUMPS) == book.diagnose(SLUMPS)


def test_learning_moves_the_chances_and_is_never_silent(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    row = next(r for r in dough.evidence if r.of == "paste-body" and "slumps" in r.answers)
    cases = confirmed(dough, 60, row.about, **{"paste-body": "stiff-crumbly"})
    learned = learn(dough, cases)
    found = OpenBook(book.book, {dough.id: learned}).diagnose(SLUMPS)
    assert found.learned == 60
    assert found.causes != book.diagnose(SLUMPS).causes
    said = [b.learned for b in found.because if b.rule == row.id]
    assert all(say and "after 60 cases" in say for say in said)


def test_why_not_says_what_cases_made_of_a_word(book: OpenBook) -> None:
    """A word for a cause that came to count against it: other answers took its place."""
    dough = book.book.doughs[0]
    row = next(r for r in dough.evidence if r.of == "paste-body" and "slumps" in r.answers)
    learned = learn(dough, confirmed(dough, 400, row.about, **{"paste-body": "stiff-crumbly"}))
    found = OpenBook(book.book, {dough.id: learned}).why_not(SLUMPS, row.about)
    (said,) = (reason.say for reason in found.reasons if reason.rule == row.id)
    cell = learned.taught[row.id]["slumps"]
    assert f"It counts against it ({cell.say}" in said
    assert cell.word.endswith("against") or "other answers have become likelier still" in said


@pytest.mark.parametrize("answers", ["ab", "ac"])
def test_answers_the_author_left_out_stand_at_one_taken_together(answers: str) -> None:
    """Even base, a strong: 8/10, 1/10, 1/10. Cases that show b or c move the two apart, not up."""
    dough = faultbooks.faultbook(
        [faultbooks.cause("c")],
        [faultbooks.sign("s", "abc")],
        [faultbooks.row("s", "c", a="strong for")],
    )
    row = learn(named(dough), seen(*answers * 20)).row("s", "c")
    rest = [cell for cell in row.cells if cell.written is None]
    assert math.fsum(cell.factor for cell in rest) == pytest.approx(2)
    # 20 written cases of 8/10 and 20 seen, against 20 of 2/10 and 20 seen: 36 to 24, beside 1 to 2
    assert row.cells[0].factor == pytest.approx(36 / 24 * 2)


def test_two_things_at_once_are_judged_with_what_was_learned_too(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    learned = learn(dough, confirmed(dough, 40, "undercooked-paste", **{"paste-body": "slumps"}))
    taught = tables(dough, learned.taught)
    before = prior(dough, "cook-paste", (), learned.log_weights("cook-paste", None))
    facts: dict[str, Any] = {"stage": "cook-paste", "paste-body": "slumps"}
    by_words = two_causes(prior(dough, "cook-paste", ()), tables(dough), facts, (), dough)
    by_cases = two_causes(before, taught, facts, (), dough)
    share = "undercooked-paste"
    assert by_cases.alone[share] > by_words.alone[share]


def test_what_was_learned_about_other_words_is_refused(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    fewer = dough.model_copy(update={"evidence": dough.evidence[1:]})
    with pytest.raises(ValueError, match="learn from the cases again with this book"):
        OpenBook(book.book, {dough.id: learn(fewer, ())})
    with pytest.raises(ValueError, match="this book has milk-panade-slab"):
        OpenBook(book.book, {"another-dough": learn(dough, ())})


def test_a_number_told_counts_for_the_band_it_lies_in(book: OpenBook) -> None:
    dough = book.book.doughs[0]
    banded = next(r for r in dough.readings if r.id == "paste-temperature")
    told = SLUMPS.model_copy(update={"readings": {"paste-temperature": 78.0}})
    answer = answers_of(dough, told)["paste-temperature"]
    assert isinstance(banded, Reading)
    assert answer in {band.id for band in banded.bands}
    assert "paste-temperature" not in answers_of(dough, SLUMPS)
