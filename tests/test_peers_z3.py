"""Exact checks on rules against z3, a general solver: every answer has to be the same."""

from __future__ import annotations

import random
from typing import cast

import z3

from diagnose.checking.boxes import inside, meet, space_of
from diagnose.checking.chaining import Chains
from diagnose.engine.compiling import compile_rules
from diagnose.engine.plain import evaluate
from diagnose.knowledge.book import Dough, Rule
from rulebooks import random_rulebook
from z3_rules import Formulas, can_be

BOOKS = 40
PAIRS_OF_EACH = 50
LONGEST_UNION = 6


def whole(seed: int, size: int = 40) -> Dough:
    """A random rule book with the parts of a dough that the checks read."""
    dough = random_rulebook(seed, size)
    dough.__dict__.update(stages=(), remedies=())
    return dough


def pairs(dough: Dough, dice: random.Random) -> list[tuple[Rule, Rule]]:
    return [cast(tuple[Rule, Rule], dice.sample(dough.rules, 2)) for _ in range(PAIRS_OF_EACH)]


def test_overlap_cover_and_contradiction_of_ten_thousand_pairs_are_as_z3_says() -> None:
    """Five questions on each of 2,000 pairs: do they overlap, does each lie inside the other, can
    each be met at all. Findings are subjects like any other here."""
    differing, asked, yes = [], 0, 0
    for seed in range(BOOKS):
        dough = whole(seed)
        formulas = Formulas(dough)
        solver = formulas.solver()
        space = space_of(dough, dough.rules)
        full = [subject.full for subject in space.subjects]
        for one, other in pairs(dough, random.Random(seed)):
            a, b = space.box(one), space.box(other)
            ours = (
                a is not None,
                b is not None,
                a is not None and b is not None and meet(a, b) is not None,
                a is None or (b is not None and inside(a, b, full)),
                b is None or (a is not None and inside(b, a, full)),
            )
            p, q = formulas.speaks(one), formulas.speaks(other)
            theirs = (
                can_be(solver, p),
                can_be(solver, q),
                can_be(solver, p, q),
                not can_be(solver, p, z3.Not(q)),
                not can_be(solver, q, z3.Not(p)),
            )
            asked += len(ours)
            yes += sum(ours)
            if ours != theirs:
                differing.append((seed, one.id, other.id, ours, theirs))
    assert differing == []
    assert asked == 5 * BOOKS * PAIRS_OF_EACH == 10_000
    assert asked / 10 < yes < asked * 9 / 10  # both answers are common


def test_cover_by_several_rules_together_is_as_z3_says() -> None:
    covered = 0
    for seed in range(BOOKS):
        dough = whole(seed, size=60)
        formulas = Formulas(dough)
        solver = formulas.solver()
        space = space_of(dough, dough.rules)
        dice = random.Random(seed)
        for _ in range(10):
            one, *others = dice.sample(dough.rules, 1 + dice.randint(2, LONGEST_UNION))
            short = [rule.model_copy(update={"when": rule.when[:1]}) for rule in others]
            box = space.box(one)
            if box is None:
                continue
            boxes = [each for each in map(space.box, short) if each is not None]
            left = space.uncovered(box, boxes)
            outside = [z3.Not(formulas.speaks(rule)) for rule in short]
            assert (left is None) is not can_be(solver, formulas.speaks(one), *outside)
            covered += left is None
    assert covered > 10


def test_what_can_happen_through_chains_of_findings_is_as_z3_says() -> None:
    """Never speaking, speaking together and speaking without the other, with findings followed to
    the answers they rest on. Each example is tried on the plain evaluator."""
    never = apart = 0
    for seed in range(100, 100 + BOOKS):
        dough = whole(seed)
        chains = Chains(dough, budget=1_000_000)
        formulas = Formulas(dough, chained=True)
        solver = formulas.solver()
        ordered = compile_rules(dough).rules
        questions: list[tuple[list[Rule], list[Rule]]] = [([rule], []) for rule in dough.rules]
        for one, other in pairs(dough, random.Random(seed))[:20]:
            questions += [([one, other], []), ([one], [other])]
        for speak, silent in questions:
            facts = chains.facts_for(speak, silent)
            wanted = [formulas.speaks(rule) for rule in speak]
            wanted += [z3.Not(formulas.speaks(rule)) for rule in silent]
            assert (facts is not None) is can_be(solver, *wanted), (seed, speak, silent)
            if facts is not None:
                spoke = {rule.id for rule in evaluate(ordered, facts).spoke}
                assert {rule.id for rule in speak} <= spoke
                assert spoke.isdisjoint(rule.id for rule in silent)
            never += facts is None and not silent and len(speak) == 1
            apart += facts is None
    assert never > 20
    assert apart > 2 * never
