"""The course of remedies against trying every order and every point of giving up.

The loss of an order is worked out here from first principles, cause by cause and go by go: what
happens at the stove, and what each way it can end costs.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from dataclasses import dataclass
from types import SimpleNamespace
from typing import cast

import pytest

from diagnose.knowledge.book import Remedy
from diagnose.reasoning.exact_order import best_course
from diagnose.reasoning.limits import NO_LIMITS, Limits
from diagnose.reasoning.options import Option
from diagnose.reasoning.quick_order import Course, prefix_losses, quick_course

CAUSES = 6
ENDANGERED = range(3, CAUSES)
"""Causes under which a remedy may do harm; made less likely, or hardly anything might be done."""
LATE, WITHOUT = 45.0, 90.0
"""The house's minutes for a late dinner and for no dish, written down a second time."""


@dataclass(frozen=True)
class Problem:
    options: list[Option]
    weights: list[float]
    start_over: float
    opened: dict[str, frozenset[str]]
    limits: Limits


Order = tuple[Option, ...]


def problem(seed: int, most: int = 5, most_goes: int = 1) -> Problem:
    dice = random.Random(seed)
    options = [random_option(dice, n, most_goes) for n in range(dice.randint(2, most))]
    raw = [(dice.random() + 0.05) * (0.5 if c in ENDANGERED else 1) for c in range(CAUSES)]
    start_over = dice.uniform(15, 120)
    left = dice.choice((None, dice.uniform(-10, 40), dice.uniform(0, 120)))
    opened = {"remedy-0": frozenset({"cooked"})} if dice.random() < 0.7 else {}
    if dice.random() < 0.3:
        opened["remedy-1"] = frozenset({"weighed"})
    return Problem(
        options,
        [w / sum(raw) for w in raw],
        start_over,
        opened,
        Limits(left, dice.random() < 0.85),
    )


def random_option(dice: random.Random, number: int, most_goes: int) -> Option:
    gates = [name for name, often in (("cooked", 0.25), ("weighed", 0.1)) if dice.random() < often]
    remedy = SimpleNamespace(id=f"remedy-{number}", only_after=tuple(gates))
    helps = tuple(dice.choice((0.02, 0.02, 0.02, 0.25, 0.5, 0.75, 0.9)) for _ in range(CAUSES))
    goes = dice.randint(1, most_goes)
    dosed = goes > 1 and dice.random() < 0.5
    return Option(
        remedy=cast(Remedy, remedy),
        minutes=dice.uniform(4, 14),
        helps=helps,
        harm=tuple((c, dice.uniform(4, 12)) for c in ENDANGERED if dice.random() < 0.4),
        cures=(),
        cured=tuple((c, h) for c, h in enumerate(helps) if h > 0.02),
        ruins=tuple((c, dice.choice((0.5, 0.9))) for c in ENDANGERED if dice.random() < 0.2),
        goes=goes,
        saved=3.0 if dosed else 0.0,
        dosed=dosed,
        priced=dice.random() < 0.3,
    )


def allowed(case: Problem) -> Iterator[Order]:
    """Every order whose every go may be done when its turn comes."""
    waiting: list[Order] = [()]
    while waiting:
        order = waiting.pop()
        yield order
        waiting += [(*order, o) for o in case.options if may_come_next(case, order, o)]


def may_come_next(case: Problem, order: Order, option: Option) -> bool:
    done = [before.remedy.id for before in order]
    gone = done.count(option.remedy.id)
    if gone == option.goes:
        return False
    known = {finding for name in done for finding in case.opened.get(name, ())}
    if not set(option.remedy.only_after) <= known:
        return False
    left = [w * not_right(order, cause) for cause, w in enumerate(case.weights)]
    harm = () if option.priced else option.harm
    if any(left[cause] / sum(left) >= 0.25 for cause, _ in (*harm, *option.ruins)):
        return False
    together = option.goes - gone if option.dosed else 1
    hope = sum(left[c] * (1 - (1 - option.helps[c]) ** together) for c, _ in option.cured)
    return hope / sum(left) >= 0.05


def not_right(order: Order, cause: int) -> float:
    """Chance that under this cause the cook still stands there, unhelped, after an order."""
    chance = 1.0
    for option in order:
        chance *= (1 - option.helps[cause]) * (1 - dict(option.ruins).get(cause, 0.0))
    return chance


def loss(case: Problem, order: Order) -> float:
    """Expected minutes: over the causes, over every way the evening can end."""
    return sum(w * evening(case, order, cause) for cause, w in enumerate(case.weights))


def evening(case: Problem, order: Order, cause: int) -> float:
    expected, chance, clock = 0.0, 1.0, 0.0
    done: list[str] = []
    for option in order:
        clock += option.minutes - (option.saved if option.remedy.id in done else 0)
        clock += dict(option.harm).get(cause, 0.0)
        helped = option.helps[cause]
        ruined = (1 - helped) * dict(option.ruins).get(cause, 0.0)
        expected += chance * helped * served(case, clock)
        expected += chance * ruined * given_up(case, clock)
        chance *= 1 - helped - ruined
        done.append(option.remedy.id)
    return expected + chance * given_up(case, clock)


def served(case: Problem, clock: float) -> float:
    """The minutes so far, and a late dinner if they are too many."""
    left = case.limits.minutes_left
    return clock + (LATE if left is not None and clock > left else 0.0)


def given_up(case: Problem, clock: float) -> float:
    if not case.limits.can_start_over:
        return clock + case.start_over + WITHOUT
    return served(case, clock + case.start_over)


def exact(case: Problem) -> Course:
    return best_course(
        case.options, case.weights, case.start_over, frozenset(), case.opened, case.limits
    )


def quick(case: Problem) -> Course:
    return quick_course(
        case.options, case.weights, case.start_over, frozenset(), case.opened, case.limits
    )


def as_order(case: Problem, course: Course) -> Order:
    by_id = {option.remedy.id: option for option in case.options}
    return tuple(by_id[remedy.id] for remedy in course.goes)


def agrees(case: Problem) -> None:
    orders = list(allowed(case))
    least = min(loss(case, order) for order in orders)
    found, fast = exact(case), quick(case)
    assert found.minutes == pytest.approx(least, abs=1e-9)
    assert as_order(case, found) in orders
    assert loss(case, as_order(case, found)) == pytest.approx(least, abs=1e-9)
    assert as_order(case, fast) in orders
    assert fast.minutes == pytest.approx(loss(case, as_order(case, fast)), abs=1e-9)
    assert fast.minutes >= found.minutes - 1e-9


@pytest.mark.parametrize("block", range(10))
def test_six_hundred_courses_with_harm_gates_and_a_deadline_equal_the_best_of_all_orders(
    block: int,
) -> None:
    for seed in range(60):
        agrees(problem(1000 * block + seed))


@pytest.mark.parametrize("block", range(5))
def test_courses_with_repeated_goes_equal_the_best_of_all_orders_of_goes(block: int) -> None:
    for seed in range(40):
        agrees(problem(50_000 + 1000 * block + seed, most=3, most_goes=3))


def test_the_random_problems_are_worth_solving() -> None:
    """Many plans are longer than one remedy, and the hour of serving changes many of them."""
    cases = [problem(seed) for seed in range(300)]
    courses = [exact(case) for case in cases]
    assert sum(len(course.remedies) > 1 for course in courses) > 80
    unhurried = [
        best_course(c.options, c.weights, c.start_over, frozenset(), c.opened, NO_LIMITS)
        for c in cases
    ]
    changed = sum(a.goes != b.goes for a, b in zip(courses, unhurried, strict=True))
    assert changed > 20
    repeated = [exact(problem(seed, most=3, most_goes=3)) for seed in range(100)]
    assert sum(len(course.goes) > len(course.remedies) for course in repeated) > 20


@pytest.mark.parametrize("seed", range(40))
def test_the_loss_of_every_way_of_giving_up_is_told_truly(seed: int) -> None:
    case = problem(seed, most=3, most_goes=2)
    order = max(allowed(case), key=len)
    told = prefix_losses(order, case.weights, case.start_over, case.limits)
    assert told == pytest.approx([loss(case, order[:n]) for n in range(len(order) + 1)])


@pytest.mark.parametrize("seed", range(40))
def test_less_time_or_an_empty_larder_never_makes_an_evening_better(seed: int) -> None:
    case = problem(seed)
    minutes = [
        best_course(
            case.options, case.weights, case.start_over, frozenset(), case.opened, limits
        ).minutes
        for limits in (Limits(None), Limits(60.0), Limits(30.0), Limits(0.0), Limits(-1.0))
    ]
    assert all(b >= a - 1e-9 for a, b in itertools.pairwise(minutes))
    for left in (None, 30.0, -1.0):
        with_larder, without = (
            best_course(
                case.options, case.weights, case.start_over, frozenset(), case.opened, limits
            )
            for limits in (Limits(left), Limits(left, can_start_over=False))
        )
        assert without.minutes >= with_larder.minutes - 1e-9
        assert (with_larder.ends, without.ends) == ("start-over", "go-without")
