"""Chances beside exact inference, and how often two things are found; nothing here is a test.

    .venv/bin/python tests/bench/chances.py

Times are medians of processor time, side by side in one process with pyAgrum, network built
beforehand. Agreement and recovery are over situations drawn with fixed seeds: from random books
of 8 causes and 14 findings, and from the shipped book's own tables.
"""

from __future__ import annotations

import itertools
import random
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import faultbooks
import test_peers_chances as peers

from diagnose.consulting import OpenBook, open_book
from diagnose.knowledge.book import Dough, Sign
from diagnose.reasoning.known import middle_of
from diagnose.reasoning.belief import chances_of, prior, scores_of
from diagnose.reasoning.likelihood import Table, tables
from diagnose.reasoning.pairs import two_causes
from diagnose.reasoning.posterior import weigh
from diagnose.reasoning.words import SOMETHING_ELSE


def milliseconds(action: Callable[[], object], times: int = 60) -> float:
    """Median processor time of one run, after one to warm up."""
    action()
    taken = []
    for _ in range(times):
        start = time.process_time()
        action()
        taken.append((time.process_time() - start) * 1000)
    return statistics.median(taken)


def timings() -> None:
    print("name | ours | peer | ratio")
    dice = random.Random(1)
    dough = faultbooks.random_faultbook(dice, causes=5, looks=8, density=1.0)
    facts = faultbooks.some_looks(dice, dough, 1.0)
    made, before = tables(dough), prior(dough, "now", ())
    words = peers.words_of(dough, "now")
    looks = {n: {c: peers.given_a_cause(t, c) for c in words} for n, t in made.items()}
    net = peers.network(words, looks)
    ours = milliseconds(
        lambda: chances_of(scores_of(before, weigh(before.causes, made, facts, ()))), 400
    )
    theirs = milliseconds(lambda: peers.posterior(net, facts, words), 400)
    print(f"single causes, 5 x 8, all seen | {ours:.3f} ms | {theirs:.3f} ms | {theirs / ours:.1f}")
    for density, label in ((1.0, "every cell of the table filled"), (0.3, "three in ten filled")):
        dough = faultbooks.random_faultbook(random.Random(1), 25, 20, density)
        facts = faultbooks.some_looks(random.Random(1), dough, 1.0)
        pair_times(f"25 causes with 300 pairs x 20 looks, {label}", dough, "now", facts)
    book = peers.signs_alone(open_book().book.doughs[0])
    chosen = random.Random(1).sample([s for s in book.signs if "cook-paste" in s.stages], 20)
    facts = {s.id: s.answers[0].id for s in chosen}
    pair_times("the shipped book at cook-paste, 20 looks", book, "cook-paste", facts)


def pair_times(label: str, dough: Dough, stage: str, facts: dict[str, Any]) -> None:
    made, before = tables(dough), prior(dough, stage, ())
    net, names = peers.pair_network(dough, stage)
    ours = milliseconds(lambda: two_causes(before, made, facts, (), dough))
    theirs = milliseconds(lambda: peers.posterior(net, facts, names))
    print(f"{label} | {ours:.2f} ms | {theirs:.2f} ms | {theirs / ours:.1f}")


def agreement() -> None:
    print("\n8 causes x 14 findings, 10 seen, 300 situations each, against all 2^8 sets of causes")
    print("true causes | with pairs: top differs, marginal error | singles only: the same")
    for true, shares in peers.beside_every_set(seed=2, situations=300).items():
        print(
            f"{true} | {shares['pairs differ']:.1%}, {shares['pairs error']:.3f}"
            f" | {shares['singles differ']:.1%}, {shares['singles error']:.3f}"
        )


def fact(table: Table, answer: str) -> Any:
    """What a cook would tell: the answer, or a number in the middle of the band."""
    part: Any = table.asked.part
    if isinstance(part, Sign):
        return answer
    return middle_of(next(b for b in part.bands if b.id == answer).phrase, part.likely)


def told(
    dice: random.Random, looks: list[Table], causes: tuple[str, ...], none: str, silent: str
) -> dict[str, Any]:
    """Answers drawn from the book; ``silent``: what a look shows that no cause has a row for."""
    facts = {}
    for table in looks:
        speaking = [c for c in causes if c in table.rows]
        if len(speaking) == 2:
            shown = faultbooks.under_two(table, speaking[0], speaking[1], none)
        elif speaking or silent == "as usual" or SOMETHING_ELSE in causes:
            shown = peers.given_a_cause(table, speaking[0] if speaking else SOMETHING_ELSE)
        else:
            shown = peers.given_a_cause(table, none)
        facts[table.asked.id] = fact(table, faultbooks.drawn(dice, shown))
    return facts


def recovery(opened: OpenBook, stage: str, share: float, silent: str, count: int = 300) -> None:
    dough = opened.book.doughs[0]
    rules = {rule.id: rule for rule in dough.rules}
    made, before = tables(dough), prior(dough, stage, ())
    looks = [
        t
        for t in made.values()
        if stage in getattr(t.asked.part, "stages", ())
        and getattr(t.asked.part, "judged_by", None) is None
    ]
    words = peers.words_of(dough, stage)
    remedies = {c.id: {t.remedy for t in c.tries} for c in dough.causes}
    sick = [n for n in words if n not in (dough.carry_on, SOMETHING_ELSE)]
    pairs = [p for p in itertools.combinations(sick, 2) if remedies[p[0]] != remedies[p[1]]]
    dice = random.Random(f"{stage} {share} {silent}")
    number = round(share * len(looks))
    said = right = half = best = false = 0
    for _ in range(count):
        pair = dice.choices(pairs, [words[a] * words[b] for a, b in pairs])[0]
        one = dice.choices(list(words), list(words.values()))
        for causes in (pair, tuple(one)):
            facts = told(dice, dice.sample(looks, number), causes, dough.carry_on, silent)
            spoke = [rules[name] for name in opened.spoke(dough.id, facts)]
            found = two_causes(before, made, facts, spoke, dough)
            if causes is not pair:
                false += found.named is not None
                continue
            said += found.named is not None
            right += found.named == pair
            half += found.named is not None and bool(set(found.named) & set(pair))
            best += found.best == pair
    print(
        f"{stage}, {number} of {len(looks)} looks, other looks {silent} | {said / count:.0%}"
        f" | {right / count:.0%} | {half / count:.0%} | {best / count:.0%} | {false / count:.1%}"
    )


def main() -> None:
    timings()
    agreement()
    print(
        "\nsituations from the shipped book's own tables and rules, 300 with two and 300 with one"
    )
    print(
        "where | two: named | both right | one or both right | likeliest pair right"
        " | one: false alarm"
    )
    opened = open_book()
    for stage in ("cook-paste", "enrich"):
        for share in (0.3, 1.0):
            for silent in ("as with nothing wrong", "as usual"):
                recovery(opened, stage, share, silent)


if __name__ == "__main__":
    main()
