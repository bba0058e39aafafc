"""Learning from many cases: times, what is found of what was planted, what learning is worth.

    .venv/bin/python tests/bench/learning.py

Nothing here is a test. Times are processor time of one run; cases are made up, with fixed seeds,
by the generators in tests/learning_cases.py. Two answers in five are missing unless "all looks
taken". Recovery depends on the generator: measure again on a real casebook.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import faultbooks
from learning_cases import Planted, World, log_loss, named, planted, world

from diagnose.consulting import OpenBook, open_book
from diagnose.learning.cases import ConfirmedCase
from diagnose.learning.exactly import TwoByTwo, tail
from diagnose.learning.mining import Pattern, bits_of, pairs, patterns
from diagnose.learning.recalibrating import Learned, learn
from diagnose.learning.reporting import calibration, confusion, first_cause_right
from diagnose.reasoning.belief import chances_of, prior, scores_of
from diagnose.reasoning.likelihood import tables
from diagnose.reasoning.posterior import weigh
from diagnose.rejudging import rejudge


def seconds(action: Callable[[], Any]) -> tuple[float, Any]:
    """Processor time of one run, and what it gave."""
    start = time.process_time()
    result = action()
    return time.process_time() - start, result


def found(made: Planted, some: Sequence[Pattern]) -> str:
    """Planted single answers found, and how many others."""
    names = {(*p.when[0], p.cause) for p in some}
    return f"{len(names & made.singles)} of {len(made.singles)}, {len(names - made.singles)} other"


def mining() -> None:
    print("120 looks, 25 causes, 40 planted rules; gates: lift 1.5, 8 cases, 5 %")
    print("cases | sets | by themselves, planted found and other | explaining away")
    for count in (300, 1_000, 10_000, 100_000):
        for label, more in (
            ("all looks taken, causes even", {"answered": 1.0, "even": True}),
            ("3 in 5 taken, causes uneven", {}),
            ("no structure", {"rules": 0}),
        ):
            made = planted(random.Random(count), count, **more)
            set_up, bits = seconds(lambda made=made: bits_of(made.cases))
            plain, alone = seconds(lambda bits=bits: patterns(bits, explaining_away=False))
            away, explained = seconds(lambda bits=bits: patterns(bits))
            print(
                f"{count:,}, {label} | {set_up * 1e3:.0f} ms | {plain * 1e3:.1f} ms,"
                f" {found(made, alone)} | {away * 1e3:.1f} ms, {found(made, explained)}",
                flush=True,
            )


def mining_pairs() -> None:
    print("\n8 planted pairs, nothing else | found, other pairs | time")
    for count in (1_000, 10_000, 100_000):
        made = planted(random.Random(count), count, rules=0, pairs=8)
        bits = bits_of(made.cases)
        taken, some = seconds(lambda bits=bits: pairs(bits))
        names = {(*p.when, p.cause) for p in some}
        print(
            f"{count:,} | {len(names & made.pairs)} of {len(made.pairs)}, {len(names - made.pairs)}"
            f" | {taken * 1e3:.0f} ms"
        )


def fisher() -> None:
    import scipy.stats

    dice = random.Random(1)
    tables_ = [
        TwoByTwo(*(dice.randint(0, 10 ** dice.randint(1, 4)) for _ in range(4)))
        for _ in range(2_000)
    ]
    ours, mine = seconds(lambda: [tail(t) for t in tables_])
    square = [[[t.both, t.only_seen], [t.only_true, t.neither]] for t in tables_]
    theirs, peer = seconds(
        lambda: [scipy.stats.fisher_exact(s, alternative="greater").pvalue for s in square]
    )
    worst = max(abs(a - b) for a, b in zip(mine, peer, strict=True))
    print(
        f"\nFisher's test, 2,000 tables up to 40,000 cases: largest difference {worst:.1e};"
        f" {ours * 1e3:.0f} ms, scipy {theirs * 1e3:.0f} ms"
    )


def loss_of(learned: Learned, held_out: Sequence[ConfirmedCase]) -> float:
    dough = learned.dough
    made = tables(dough, learned.taught)
    heights = {h: learned.log_weights("now", h) for h in (None, 6.0, 640.0, 2310.0)}
    said = []
    for case in held_out:
        before = prior(dough, "now", (), heights[case.elevation_m])
        chances = chances_of(scores_of(before, weigh(before.causes, made, case.answers, ())))
        said.append(chances[case.causes[0]])
    return log_loss(said)


def worth() -> None:
    print("\nlog loss of cases held out, 10 causes x 20 looks, mean of 20 domains")
    print("words off by (nats) | words only | after 20 | 100 | 300 | 1,000 cases")
    for error in (0.0, 0.2, 0.35, 0.5, 0.7, 1.0):
        losses: dict[int, list[float]] = {}
        for seed in range(20):
            dice = random.Random(seed)
            made = world(dice, named(faultbooks.random_faultbook(dice, 10, 20)), "now", error)
            held_out = made.cases(random.Random(seed + 500), 150, start=10_000)
            for count in (0, 20, 100, 300, 1_000):
                learned = learn(made.dough, made.cases(random.Random(seed), count))
                losses.setdefault(count, []).append(loss_of(learned, held_out))
        print(
            f"{error} | " + " | ".join(f"{statistics.fmean(x):.3f}" for x in losses.values()),
            flush=True,
        )


def house() -> None:
    print("\nthe shipped book, cases drawn from a truth 0.7 nats off it, 3 looks in 20 taken")
    opened = open_book()
    dough = opened.book.doughs[0]
    truth: World = world(random.Random(1), dough, "cook-paste", 0.7)
    cases = truth.cases(random.Random(2), 20_000, answered=0.15)
    for count in (1_000, 20_000):
        taken, learned = seconds(lambda count=count: learn(dough, cases[:count]))
        rows, _ = seconds(lambda learned=learned: learned.taught)
        opening, again = seconds(lambda learned=learned: OpenBook(opened.book, {dough.id: learned}))
        print(
            f"{count:,} cases: counted in {taken:.2f} s, rows in {rows * 1e3:.0f} ms,"
            f" book opened with them in {opening:.2f} s"
        )
    sample = cases[:200]
    for label, ready in (("words", opened.ready(dough.id)), ("learned", again.ready(dough.id))):
        quick, judged = seconds(lambda ready=ready: list(rejudge(ready, sample, remedies=False)))
        slow, _ = seconds(lambda ready=ready: list(rejudge(ready, sample[:50])))
        right = first_cause_right(judged)
        calibration(judged), confusion(judged)
        print(
            f"each case left out, by {label}: {quick / 200 * 1e3:.2f} ms a case for the causes,"
            f" {slow / 50 * 1e3:.1f} ms with the first remedy; first cause right {right.share:.2f}"
        )


def main() -> None:
    mining()
    mining_pairs()
    fisher()
    worth()
    house()


if __name__ == "__main__":
    main()
