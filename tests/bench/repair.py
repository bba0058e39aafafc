"""Timings of the course of remedies, printed; nothing here is a test.

    .venv/bin/python tests/bench/repair.py

The exact order for 4, 6 and 8 remedies, of one go and of up to three, and for the situations of
the book; the quick order beside it, and by how much it is dearer; trying every order as the peer.
Ratios carry over to another machine; milliseconds do not.
"""

from __future__ import annotations

import dataclasses
import itertools
import random
import statistics
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from diagnose import consulting, deciding
from diagnose.knowledge.book import Remedy
from diagnose.knowledge.situations import read_situation
from diagnose.reasoning import asking
from diagnose.reasoning.exact_order import best_course
from diagnose.reasoning.limits import NO_LIMITS, Limits
from diagnose.reasoning.options import Opened, Option, may_follow
from diagnose.reasoning.quick_order import Course, QuickOrder, prefix_losses, quick_course

Call = tuple[Sequence[Option], Sequence[float], float, frozenset[str], dict[str, Any], Limits]
CAUSES = 16


def row(name: str, ours: str, peer: str = "", ratio: str = "") -> None:
    print(f"{name:48} | {ours:>12} | {peer:>16} | {ratio:>9}")


def milliseconds(action: Callable[..., object], calls: Sequence[Call]) -> tuple[float, float]:
    """Median and 95th percentile of one call; each call is the best of three."""
    taken = []
    for call in calls:
        best = float("inf")
        for _ in range(3):
            start = time.process_time()
            action(*call)
            best = min(best, time.process_time() - start)
        taken.append(best * 1000)
    taken.sort()
    return statistics.median(taken), taken[int(len(taken) * 0.95)]


def problem(dice: random.Random, count: int, goes: int, hurried: bool) -> Call:
    """Each remedy is listed for one to four of the causes; the last cause is "something else"."""
    options = []
    for number in range(count):
        listed = dice.sample(range(CAUSES - 1), dice.randint(1, 4))
        helps = [0.02] * CAUSES
        for place in listed:
            helps[place] = dice.choice((0.25, 0.5, 0.75, 0.9))
        gate = ("cooked",) if number and dice.random() < 0.2 else ()
        remedy = SimpleNamespace(id=f"remedy-{number}", only_after=gate)
        others = [p for p in range(CAUSES - 1) if p not in listed]
        harm = dice.sample(others, dice.randint(0, 3))
        options.append(
            Option(
                remedy=cast(Remedy, remedy),
                minutes=dice.uniform(4, 15),
                helps=tuple(helps),
                harm=tuple((p, 12.0) for p in harm[1:]),
                cures=(),
                cured=tuple((p, helps[p]) for p in sorted(listed)),
                ruins=tuple((p, 0.9) for p in harm[:1]),
                goes=dice.randint(1, goes),
                dosed=dice.random() < 0.5,
            )
        )
    raw = [dice.expovariate(1) for _ in range(CAUSES)]
    limits = Limits(dice.uniform(0, 80) if hurried else None)
    opened = {"remedy-0": frozenset({"cooked"})}
    weights = [w / sum(raw) for w in raw]
    return options, weights, dice.uniform(40, 250), frozenset(), opened, limits


def every_order(
    options: Sequence[Option],
    weights: Sequence[float],
    start_over: float,
    findings: frozenset[str],
    opened: dict[str, frozenset[str]],
    limits: Limits,
) -> float:
    """The least loss by trying every order: the peer."""

    def orders(
        order: tuple[Option, ...], left: list[float], known: frozenset[str]
    ) -> Iterator[Any]:
        yield order
        for option in options:
            if option not in order and may_follow(option, left, sum(left), known):
                lost = dict(option.ruins)
                after = [
                    w * (1 - h) * (1 - lost.get(p, 0.0))
                    for p, (w, h) in enumerate(zip(left, option.helps, strict=True))
                ]
                more = opened.get(option.remedy.id, frozenset())
                yield from orders((*order, option), after, known | more)

    every = orders((), list(weights), findings)
    return min(prefix_losses(order, weights, start_over, limits)[-1] for order in every)


def excess(calls: Sequence[Call]) -> None:
    over = [quick_course(*c).minutes / best_course(*c).minutes - 1 for c in calls]
    same = sum(x < 1e-9 for x in over) / len(over)
    row(
        f"  quick over exact, {len(over)} problems: mean / worst",
        f"{statistics.fmean(over):.2%}",
        f"{max(over):.1%}",
        f"{same:.0%} same",
    )


def random_problems() -> None:
    dice = random.Random(11)
    for count, goes, hurried in itertools.product((4, 6, 8), (1, 3), (False, True)):
        calls = [problem(dice, count, goes, hurried) for _ in range(60)]
        exact, exact95 = milliseconds(best_course, calls)
        quick, _ = milliseconds(quick_course, calls)
        name = f"{count} remedies, {'one go' if goes == 1 else 'up to 3 goes'}"
        name += ", a deadline" if hurried else ""
        row(
            f"{name}: exact (p95) / quick",
            f"{exact:.2f} ms",
            f"({exact95:.2f}) {quick:.3f} ms",
            f"{exact / quick:.0f} x",
        )
        excess(calls)
    calls = [problem(dice, 5, 1, True) for _ in range(30)]
    exact, _ = milliseconds(best_course, calls)
    peer, _ = milliseconds(every_order, calls)
    row(
        "5 remedies: exact / every order",
        f"{exact:.2f} ms",
        f"{peer:.2f} ms",
        f"{peer / exact:.0f} x",
    )


def book_situations() -> tuple[list[Call], list[Call], int]:
    """What a page asks of the quick and of the exact order, over every complaint of the book."""
    opened = consulting.open_book()
    dough = opened.book.doughs[0]
    quick: list[Call] = []
    exact: list[Call] = []
    pages = 0

    def noted(calls: list[Call], real: Callable[..., Course]) -> Callable[..., Course]:
        def call(*given: Any, **more: Any) -> Course:
            filled = (*given, more.get("limits", Limits()))[:6]
            calls.append(cast(Call, filled))
            return real(*given, **more)

        return call

    class Noting(QuickOrder):
        def __init__(
            self, options: Sequence[Option], start_over: float, limits: Limits = NO_LIMITS
        ) -> None:
            super().__init__(options, start_over, limits)
            self.made = options, start_over, limits

        def goes(
            self, weights: Sequence[float], findings: frozenset[str], opened: Opened
        ) -> tuple[list[Option], float]:
            options, start_over, limits = self.made
            call = options, list(weights), start_over, findings, dict(opened), limits
            quick.append(cast(Call, call))
            return super().goes(weights, findings, opened)

    real_exact = best_course
    asking.QuickOrder = Noting  # type: ignore[misc]  # noted for a while
    deciding.best_course = noted(exact, real_exact)  # type: ignore[assignment]  # the same
    try:
        for stage in dough.stages:
            for complaint in stage.complaints:
                told = {"dough": dough.id, "stage": stage.id, "signs": dict(complaint.told)}
                situation, _ = read_situation(told, opened.book)
                if situation is not None:
                    opened.diagnose(situation)
                    pages += 1
    finally:
        asking.QuickOrder = QuickOrder  # type: ignore[misc]  # as it was
        deciding.best_course = real_exact
    return quick, exact, pages


def book() -> None:
    quick_calls, exact_calls, pages = book_situations()
    exact, exact95 = milliseconds(best_course, exact_calls)
    row("the book: exact (p95)", f"{exact:.2f} ms", f"({exact95:.2f})")
    quick, quick95 = milliseconds(quick_course, quick_calls)
    each = len(quick_calls) / pages
    row("the book: quick (p95)", f"{quick:.4f} ms", f"({quick95:.4f})", f"{each:.0f} a page")
    excess(quick_calls[::5])
    for left in (60.0, 20.0):
        hurried = [
            cast(Call, (*call[:5], dataclasses.replace(call[5], minutes_left=left)))
            for call in exact_calls
        ]
        taken, taken95 = milliseconds(best_course, hurried)
        row(
            f"the book, {left:.0f} minutes left: exact (p95)", f"{taken:.2f} ms", f"({taken95:.2f})"
        )
        excess(hurried)


def main() -> None:
    row("name", "ours", "peer", "ratio")
    random_problems()
    book()


if __name__ == "__main__":
    main()
