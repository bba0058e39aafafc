"""Timings of the exact checks beside z3, printed; nothing here is a test.

    .venv/bin/python tests/bench/boxes.py

Medians of processor time, both in one process. Ratios carry over to another machine;
milliseconds do not. z3 keeps one solver per book, and its formulas, as our boxes, are made
beforehand.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import z3

from diagnose.checking.audit import Audit
from diagnose.checking.boxes import Box, inside, meet, space_of
from diagnose.checking.chaining import Chains, NotDecided
from diagnose.checking.lints import all_lints, check_book
from diagnose.knowledge.book import Dough, Rule
from diagnose.knowledge.loading import load_book
from rulebooks import generated_rulebook, random_rulebook
from z3_rules import Formulas, can_be

ROUNDS = 3
BOOKS = 40
PAIRS = 250


def seconds(action: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Median processor time."""
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        action()
        taken.append(time.process_time() - start)
    return statistics.median(taken)


def line(name: str, ours: float, peer: float | None = None, unit: float = 1e3) -> None:
    shown = {1e3: "ms", 1e6: "µs"}[unit]
    beside = "" if peer is None else f"{peer * unit:10.1f} {shown} | {peer / ours:6.0f}x"
    print(f"{name:58} | {ours * unit:8.2f} {shown} | {beside}")


def whole(dough: Dough) -> Dough:
    dough.__dict__.update(stages=(), remedies=())
    return dough


def pair_questions() -> None:
    """10,000 pairs x 5 questions: overlap, inside either way, each can be met."""
    ours_s, peer_s, differing = 0.0, 0.0, 0
    for seed in range(BOOKS):
        dough = whole(random_rulebook(seed))
        space = space_of(dough, dough.rules)
        full = [subject.full for subject in space.subjects]
        boxes = {rule.id: space.box(rule) for rule in dough.rules}
        formulas = Formulas(dough)
        solver = formulas.solver()
        speaks = {rule.id: formulas.speaks(rule) for rule in dough.rules}
        dice = random.Random(seed)
        pairs = [[rule.id for rule in dice.sample(dough.rules, 2)] for _ in range(PAIRS)]

        def ours(
            pairs: list[list[str]] = pairs,
            boxes: dict[str, dict[int, int] | None] = boxes,
            full: list[int] = full,
        ) -> list[tuple[bool, ...]]:
            return [_of_boxes(boxes[one], boxes[other], full) for one, other in pairs]

        start = time.process_time()
        theirs = []
        for one, other in pairs:
            p, q = speaks[one], speaks[other]
            theirs.append(
                (
                    can_be(solver, p),
                    can_be(solver, q),
                    can_be(solver, p, q),
                    not can_be(solver, p, z3.Not(q)),
                    not can_be(solver, q, z3.Not(p)),
                )
            )
        peer_s += time.process_time() - start
        ours_s += seconds(ours, 5)
        differing += sum(a != b for a, b in zip(ours(), theirs, strict=True))
    count = BOOKS * PAIRS
    line("a pair of rules, 5 questions", ours_s / count, peer_s / count, 1e6)
    print(f"  {5 * count:,} questions, {differing} pairs differ")


def _of_boxes(a: Box | None, b: Box | None, full: list[int]) -> tuple[bool, ...]:
    return (
        a is not None,
        b is not None,
        a is not None and b is not None and meet(a, b) is not None,
        a is None or (b is not None and inside(a, b, full)),
        b is None or (a is not None and inside(b, a, full)),
    )


def never_speaks(name: str, dough: Dough) -> None:
    """Which rules never speak, findings followed; ours with the program's own step budget."""
    formulas = Formulas(dough, chained=True)
    solver = formulas.solver()
    speaks = {rule.id: formulas.speaks(rule) for rule in dough.rules}
    chains = Chains(dough)
    ours = {rule.id: _never(chains, rule) for rule in dough.rules}
    theirs: dict[str, bool] = {}

    def ask_z3() -> None:
        theirs.update({rule.id: not can_be(solver, speaks[rule.id]) for rule in dough.rules})

    start = time.process_time()
    ask_z3()
    peer = time.process_time() - start
    line(
        f"never speaks, with chaining, {name}",
        seconds(lambda: [_never(chains, rule) for rule in dough.rules]),
        peer,
    )
    undecided = sum(value is None for value in ours.values())
    differing = sum(ours[key] not in (None, theirs[key]) for key in ours)
    print(f"  {sum(theirs.values())} never, {undecided} not decided, {differing} differ")


def _never(chains: Chains, rule: Rule) -> bool | None:
    try:
        return chains.facts_for([rule]) is None
    except NotDecided:
        return None


def shipped() -> None:
    book = load_book()
    dough = book.doughs[0]
    rules = len(dough.rules)
    line(
        f"shipped book, all lints without cases, {rules} rules",
        seconds(lambda: check_book(book, all_lints())),
    )
    line("  cells, boxes and chains", seconds(lambda: Chains(dough)))

    def pairs() -> None:
        audit = Audit(dough)
        for one, other in audit.pairs():
            audit.inside(one, [other])
            audit.inside(other, [one])

    line("  every two rules about one cause, chaining, both ways", seconds(pairs))

    def everything() -> None:
        audit = Audit(dough)
        for one in audit.rules:
            for other in audit.rules:
                audit.inside(one, [other])

    line("  truly all pairs, chaining, both ways", seconds(everything, 1))

    def one_new() -> None:
        audit = Audit(dough)
        new = audit.rules[-1]
        for other in audit.rules[:-1]:
            audit.inside(new, [other])
            audit.inside(other, [new])

    line("  one new rule against all, with making the boxes", seconds(one_new))


def main() -> None:
    """Print the table."""
    print(f"{'':58} | {'ours':>11} | {'z3':>13} | ratio")
    pair_questions()
    never_speaks("random book of 40 rules", whole(random_rulebook(1)))
    never_speaks("generated book of 300 rules", whole(generated_rulebook(300)))
    never_speaks("generated book of 2,000 rules", whole(generated_rulebook(2000)))
    shipped()


if __name__ == "__main__":
    main()
