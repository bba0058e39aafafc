"""The guards are guarded: break the engine on purpose, and the comparison must notice."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from diagnose.engine import matcher, net, session, strategy
from diagnose.engine.compiling import compile_rules
from diagnose.engine.plain import evaluate
from diagnose.engine.worlds import evaluate_worlds
from diagnose.knowledge.phrases import PRESENT, Interval, OneOf
from rulebooks import disagreements, random_facts, random_rulebook, random_steps

Breaks = Callable[[pytest.MonkeyPatch], None]


def nothing_is_taken_back(patch: pytest.MonkeyPatch) -> None:
    def take_back(self: Any, told: object) -> None:
        self.strategy.undone = []

    patch.setattr(session._Run, "take_back", take_back)


def only_the_first_round_is_taken_back(patch: pytest.MonkeyPatch) -> None:
    whole = session._Run.take_back

    def take_back(self: Any, told: Any) -> None:
        whole(self, {**told, **dict.fromkeys(self.standing, PRESENT)})

    patch.setattr(session._Run, "take_back", take_back)


def support_is_not_counted(patch: pytest.MonkeyPatch) -> None:
    whole = session._Run.speak

    def speak(self: Any, place: int) -> None:
        whole(self, place)
        self.support = dict.fromkeys(self.support, 1)

    def unspeak(self: Any, place: int) -> str | None:
        self.fired.pop(place, None)
        finding: str | None = self.compiled.rules[place].concludes
        return None if finding is None or self.support.pop(finding, None) is None else finding

    patch.setattr(session._Run, "speak", speak)
    patch.setattr(session._Run, "_unspeak", unspeak)


def undone_firings_are_forgotten(patch: pytest.MonkeyPatch) -> None:
    whole = strategy.BookOrder._update_agenda

    def update(self: Any, agenda: Any, added: Any, removed: Any) -> None:
        whole(self, agenda, added, removed)
        self.undone = self.undone[1:]

    patch.setattr(strategy.BookOrder, "_update_agenda", update)


def negations_are_dropped(patch: pytest.MonkeyPatch) -> None:
    whole = net._literals
    patch.setattr(net, "_literals", lambda *given: replace(whole(*given), forbids=()))


def one_negation_in_five_is_dropped(patch: pytest.MonkeyPatch) -> None:
    whole = net._literals

    def literals(rule: Any, numbers: Any) -> net.Literals:
        made = whole(rule, numbers)
        return replace(made, forbids=()) if rule.id.endswith(("3", "8")) else made

    patch.setattr(net, "_literals", literals)


def different_means_the_same(patch: pytest.MonkeyPatch) -> None:
    whole = net._by_answer

    def by_answer(atoms: Any, phrases: Any) -> Any:
        straight = [
            replace(phrase, negated=False) if isinstance(phrase, OneOf) else phrase
            for phrase in phrases
        ]
        return whole(atoms, straight)

    patch.setattr(net, "_by_answer", by_answer)


def limits_lie_inside(patch: pytest.MonkeyPatch) -> None:
    whole = net._by_stretch

    def by_stretch(atoms: Any, phrases: Any) -> Any:
        closed = [
            replace(phrase, low_inside=True, high_inside=True)
            if isinstance(phrase, Interval)
            else phrase
            for phrase in phrases
        ]
        return whole(atoms, closed)

    patch.setattr(net, "_by_stretch", by_stretch)


def dead_activations_stay(patch: pytest.MonkeyPatch) -> None:
    whole = matcher.CountingMatcher.changes

    def changes(self: Any, adding: Any = None, deleting: Any = None) -> Any:
        added, _ = whole(self, adding, deleting)
        return added, []

    patch.setattr(matcher.CountingMatcher, "changes", changes)


MUTANTS: list[Breaks] = [
    nothing_is_taken_back,
    only_the_first_round_is_taken_back,
    support_is_not_counted,
    undone_firings_are_forgotten,
    negations_are_dropped,
    one_negation_in_five_is_dropped,
    different_means_the_same,
    limits_lie_inside,
    dead_activations_stay,
]


def found(seeds: range) -> list[str]:
    """What the comparison of the property tests reports."""
    return [
        problem
        for seed in seeds
        for problem in disagreements(
            compile_rules(random_rulebook(seed)), random_steps(random.Random(seed), 30)
        )
    ]


def test_the_whole_engine_passes_the_comparison() -> None:
    assert found(range(6)) == []


@pytest.mark.parametrize("breaks", MUTANTS, ids=lambda breaks: str(breaks.__name__))
def test_the_comparison_notices_when(breaks: Breaks, monkeypatch: pytest.MonkeyPatch) -> None:
    breaks(monkeypatch)
    assert found(range(6)) != []


def test_the_worlds_notice_a_dropped_negation(monkeypatch: pytest.MonkeyPatch) -> None:
    def differing() -> int:
        wrong = 0
        for seed in range(6):
            compiled = compile_rules(random_rulebook(seed))
            facts = random_facts(random.Random(seed))
            spoken = evaluate_worlds(compiled.net, facts, [])
            speaking = {r.id for r, b in zip(compiled.rules, spoken.rules, strict=True) if b & 1}
            wrong += speaking != {r.id for r in evaluate(compiled.rules, facts).spoke}
        return wrong

    assert differing() == 0
    negations_are_dropped(monkeypatch)
    assert differing() > 0
