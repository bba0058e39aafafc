"""Chances against exact inference in Bayesian networks, by the general library pyAgrum.

pyAgrum (https://pyagrum.gitlab.io) is needed by these tests only.
"""

from __future__ import annotations

import importlib
import itertools
import math
import random
import warnings
from collections.abc import Iterable, Mapping
from typing import Any, cast

import pytest

import faultbooks
from diagnose.consulting import OpenBook, open_book
from diagnose.knowledge.book import Dough, Rule
from diagnose.reasoning.belief import chances_of, prior, scores_of
from diagnose.reasoning.likelihood import Table, tables
from diagnose.reasoning.pairs import TOGETHER, two_causes
from diagnose.reasoning.posterior import weigh
from diagnose.reasoning.words import FACTOR, PRIOR, PRIOR_SOMETHING_ELSE, SOMETHING_ELSE
from faultbooks import NONE

with warnings.catch_warnings():
    # its wrapper classes warn about themselves on newer interpreters, and fall over if that raises
    warnings.simplefilter("ignore")
    # untyped
    pyagrum: Any = importlib.import_module("pyagrum")

RARE = 0.01
"""How often a combination that a rule speaks on is met with nothing wrong, in these networks."""


def network(
    weights: Mapping[str, float], looks: Mapping[str, Mapping[str, Mapping[str, float]]]
) -> Any:
    """A hypothesis node, and one child per look: look -> hypothesis -> answer -> chance."""
    net = pyagrum.BayesNet()
    net.add(pyagrum.LabelizedVariable("h", "h", list(weights)))
    whole = math.fsum(weights.values())
    net.cpt("h").fillWith([w / whole for w in weights.values()])
    for look, rows in looks.items():
        answers = list(next(iter(rows.values())))
        net.add(pyagrum.LabelizedVariable(look, look, answers))
        net.addArc("h", look)
        # the answer varies fastest, the hypothesis slowest
        net.cpt(look).fillWith([rows[name][a] for name in weights for a in answers])
    return net


def posterior(net: Any, facts: Mapping[str, Any], names: Iterable[str]) -> dict[str, float]:
    exact = pyagrum.LazyPropagation(net)
    exact.setEvidence(dict(facts))
    exact.makeInference()
    return dict(zip(names, exact.posterior("h").tolist(), strict=True))


def largest_difference(ours: Mapping[Any, float], theirs: Mapping[Any, float]) -> float:
    assert ours.keys() == theirs.keys()
    return max(abs(ours[name] - theirs[name]) for name in ours)


def words_of(dough: Dough, stage: str) -> dict[str, float]:
    """Weights before any look, from the words for how common a cause is."""
    words = {c.id: PRIOR[c.how_common] for c in dough.causes if stage in c.shows_at}
    return words | {SOMETHING_ELSE: PRIOR_SOMETHING_ELSE}


def spoken(rules: Iterable[Rule], names: Iterable[Any]) -> dict[str, dict[Any, dict[str, float]]]:
    """A rule as a child that says yes: its factor is how much likelier its cause makes that."""
    made = {}
    for rule in rules:
        factor = FACTOR[cast(Any, f"{rule.strength} for")]
        made[rule.id] = {
            name: {"yes": RARE * factor, "no": 1 - RARE * factor}
            if rule.points_to in str(name).split("+")
            else {"yes": RARE, "no": 1 - RARE}
            for name in names
        }
    return made


def given_a_cause(table: Table, name: str) -> dict[str, float]:
    return {a: math.exp(table.log_for(name, a)) for a in table.asked.answers}


def ours_alone(
    dough: Dough, stage: str, facts: Mapping[str, Any], rules: Iterable[Rule]
) -> dict[str, float]:
    before = prior(dough, stage, ())
    return chances_of(scores_of(before, weigh(before.causes, tables(dough), facts, rules)))


@pytest.mark.parametrize("seed", range(40))
def test_single_causes_equal_exact_inference_on_random_books(seed: int) -> None:
    dice = random.Random(seed)
    dough = faultbooks.random_faultbook(dice, dice.randint(2, 8), dice.randint(2, 12))
    words = words_of(dough, "now")
    rules = [faultbooks.points("c0", "strong"), faultbooks.points("c1", "decisive")]
    looks = {n: {c: given_a_cause(t, c) for c in words} for n, t in tables(dough).items()}
    net = network(words, looks | spoken(rules, words))
    for _ in range(5):
        facts = faultbooks.some_looks(dice, dough)
        speaking = [rule for rule in rules if dice.random() < 0.5]
        exact = posterior(net, facts | {rule.id: "yes" for rule in speaking}, words)
        assert largest_difference(ours_alone(dough, "now", facts, speaking), exact) < 1e-12


@pytest.fixture(scope="module")
def shipped() -> OpenBook:
    return open_book()


def signs_alone(dough: Dough) -> Dough:
    """The book's signs and every row of theirs, each look by itself."""
    rows = tuple(r.model_copy(update={"group": None}) for r in dough.evidence)
    return dough.model_copy(update={"evidence": rows, "readings": (), "computed": ()})


@pytest.mark.parametrize("stage", ["simmer", "cook-paste", "enrich", "brown"])
def test_single_causes_equal_exact_inference_on_the_shipped_tables(
    shipped: OpenBook, stage: str
) -> None:
    dough = signs_alone(shipped.book.doughs[0])
    dice = random.Random(stage)
    words = words_of(dough, stage)
    looks = {n: {c: given_a_cause(t, c) for c in words} for n, t in tables(dough).items()}
    net = network(words, looks)
    for _ in range(10):
        facts = faultbooks.some_looks(dice, dough, 0.4)
        exact = posterior(net, facts, words)
        assert largest_difference(ours_alone(dough, stage, facts, ()), exact) < 1e-12


def pair_network(dough: Dough, stage: str, rules: Iterable[Rule] = ()) -> tuple[Any, list[str]]:
    """One node whose states are none, every single cause, something else, and every pair."""
    words = words_of(dough, stage)
    none = dough.carry_on
    pairs = list(itertools.combinations([n for n in words if n not in (none, SOMETHING_ELSE)], 2))
    whole = math.fsum(words.values())
    weights = words | {f"{a}+{b}": TOGETHER * words[a] * words[b] / whole for a, b in pairs}
    looks: dict[str, dict[str, dict[str, float]]] = {}
    for name, table in tables(dough).items():
        rows = {c: faultbooks.alone(table, c, none) for c in words}
        rows[SOMETHING_ELSE] = given_a_cause(table, SOMETHING_ELSE)
        looks[name] = rows | {f"{a}+{b}": faultbooks.under_two(table, a, b, none) for a, b in pairs}
    return network(weights, looks | spoken(rules, weights)), list(weights)


def ours_with_pairs(
    dough: Dough, stage: str, facts: Mapping[str, Any], rules: Iterable[Rule] = ()
) -> dict[str, float]:
    pairs = two_causes(prior(dough, stage, ()), tables(dough), facts, rules, dough)
    return {**pairs.alone} | {f"{a}+{b}": c for (a, b), c in pairs.together.items()}


@pytest.mark.parametrize("seed", range(30))
def test_pairs_equal_exact_inference_over_the_same_hypotheses_on_random_books(seed: int) -> None:
    dice = random.Random(seed)
    dough = faultbooks.random_faultbook(dice, dice.randint(2, 7), dice.randint(2, 10))
    rules = [faultbooks.points("c0", "strong"), faultbooks.points("c1", "decisive")]
    net, names = pair_network(dough, "now", rules)
    for _ in range(4):
        facts = faultbooks.some_looks(dice, dough)
        speaking = [rule for rule in rules if dice.random() < 0.5]
        exact = posterior(net, facts | {rule.id: "yes" for rule in speaking}, names)
        assert largest_difference(ours_with_pairs(dough, "now", facts, speaking), exact) < 1e-12


@pytest.mark.parametrize("stage", ["cook-paste", "enrich"])
def test_pairs_equal_exact_inference_over_the_same_hypotheses_on_the_shipped_tables(
    shipped: OpenBook, stage: str
) -> None:
    dough = signs_alone(shipped.book.doughs[0])
    dice = random.Random(stage)
    net, names = pair_network(dough, stage)
    for _ in range(4):
        facts = faultbooks.some_looks(dice, dough, 0.4)
        exact = posterior(net, facts, names)
        assert largest_difference(ours_with_pairs(dough, stage, facts), exact) < 1e-12


CAUSES = tuple(f"c{n}" for n in range(8))


def yes_or_no_book(dice: random.Random) -> Dough:
    """8 causes and 14 findings, each the doing of two or three causes."""
    looks, rows = [], []
    for n in range(14):
        looks.append(faultbooks.sign(f"s{n}", ["yes", "no"], {"no": "very common", "yes": "rare"}))
        rows.append(faultbooks.row(f"s{n}", NONE, no="moderate for"))
        for name in dice.sample(CAUSES, dice.randint(2, 3)):
            word = dice.choice(["moderate for", "strong for", "decisive for"])
            rows.append(faultbooks.row(f"s{n}", name, yes=cast(Any, word)))
    commons: list[Any] = ["rare", "rare", "occasional", "rare"] * 2
    causes = [faultbooks.cause(n, c) for n, c in zip(CAUSES, commons, strict=True)]
    return faultbooks.faultbook(causes, looks, rows)


def every_set_network(dough: Dough) -> Any:
    """One node per cause, and the library's own noisy-OR with a leak for every finding.

    Odds of a cause are its word beside that of "nothing wrong", so that causes are independent.
    """
    net = pyagrum.BayesNet()
    words = words_of(dough, "now")
    for name in CAUSES:
        net.add(pyagrum.LabelizedVariable(name, name, 2))
        present = words[name] / (words[name] + words[NONE])
        net.cpt(name).fillWith([1 - present, present])
    for look, table in tables(dough).items():
        leak = faultbooks.alone(table, NONE)["yes"]
        net.addNoisyORCompound(pyagrum.LabelizedVariable(look, look, 2), leak)
        for name in CAUSES:
            if name in table.rows:
                net.addWeightedArc(name, look, faultbooks.alone(table, name)["yes"])
    return net


def marginals(
    alone: Mapping[str, float], pairs: Mapping[tuple[str, str], float]
) -> dict[str, float]:
    """P(cause is there), something else left aside."""
    whole = 1 - alone[SOMETHING_ELSE]
    return {
        name: (alone[name] + math.fsum(c for pair, c in pairs.items() if name in pair)) / whole
        for name in CAUSES
    }


def top(count: int, chances: Mapping[str, float]) -> set[str]:
    """The likeliest causes; of equals, to nine figures, the first in the book's order."""
    return set(sorted(chances, key=lambda name: -round(chances[name], 9))[:count])


def beside_every_set(seed: int, situations: int) -> dict[int, dict[str, float]]:
    """How singles with pairs, and singles only, compare with all 2^8 sets; by true causes.

    10 of the 14 findings are seen. Shares of situations in which the top one or two differ, and
    the largest error of a marginal, averaged over situations.
    """
    dice = random.Random(seed)
    counts: dict[int, dict[str, float]] = {}
    for true in (1, 2):
        sums = dict.fromkeys(
            ("pairs differ", "pairs error", "singles differ", "singles error"), 0.0
        )
        for _ in range(situations):
            dough = yes_or_no_book(dice)
            chosen = dice.sample(CAUSES, true)
            facts = {}
            for look, table in dice.sample(list(tables(dough).items()), 10):
                no = math.prod(faultbooks.alone(table, c)["no"] for c in chosen)
                no /= faultbooks.alone(table, NONE)["no"] ** (true - 1)
                facts[look] = "no" if dice.random() < no else "yes"
            exact = pyagrum.LazyPropagation(every_set_network(dough))
            exact.setEvidence({look: int(answer == "yes") for look, answer in facts.items()})
            exact.makeInference()
            theirs = {name: exact.posterior(name).tolist()[1] for name in CAUSES}
            words = words_of(dough, "now")
            independent = math.fsum(words.values()) / words[NONE]
            before = prior(dough, "now", ())
            found = two_causes(before, tables(dough), facts, (), dough, together=independent)
            ours = marginals(found.alone, found.together)
            single = math.fsum(found.alone.values())
            only = marginals({name: c / single for name, c in found.alone.items()}, {})
            for label, mine in (("pairs", ours), ("singles", only)):
                differ = top(true, mine) != top(true, theirs)
                sums[f"{label} differ"] += differ
                sums[f"{label} error"] += max(abs(mine[n] - theirs[n]) for n in CAUSES)
        counts[true] = {label: value / situations for label, value in sums.items()}
    return counts


def test_pairs_stay_close_to_all_sets_of_causes_where_single_causes_do_not() -> None:
    counts = beside_every_set(seed=1, situations=80)
    assert counts[1]["pairs differ"] <= 0.05
    assert counts[2]["pairs differ"] <= 0.15
    assert counts[2]["pairs differ"] < counts[2]["singles differ"]
    assert counts[2]["pairs error"] < counts[2]["singles error"] / 2
