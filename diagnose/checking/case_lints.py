"""Lints about the cases beside the rules, and about whole consultations with a known answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from diagnose.knowledge.book import Book, Dough, Rule, RuleCase, WholeCase
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.problems import Problem
from diagnose.knowledge.situation import Situation
from diagnose.knowledge.situations import read_situation

from .lint import Lint, Run


class SpeaksNowhere(Lint):
    """A rule needs a case in which it speaks."""

    name = "no case speaks"
    level = "error"
    recommendation = "Add a case that tells everything the rule needs, with rule: speaks."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        return [
            self.problem(dough, rule.line, f"rule {rule.id}", "it has no case in which it speaks.")
            for rule in dough.rules
            if not any(case.speaks for case in rule.cases)
        ]


class NoNearMiss(Lint):
    """A rule needs a silent case that differs from a speaking one in a single thing."""

    name = "no near miss"
    level = "error"
    recommendation = (
        "Add a near miss: the same dough, one thing changed, so that the rule should say nothing."
    )

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        return [
            self.problem(
                dough, rule.line, f"rule {rule.id}", "it has no case in which it just stays silent."
            )
            for rule in dough.rules
            if any(case.speaks for case in rule.cases) and not _has_near_miss(rule)
        ]


class NobodyLookedMissing(Lint):
    """A rule needs a silent case in which something it asks for was not looked at."""

    name = "nobody looked"
    level = "error"
    recommendation = "Add a speaking case again with something left out, and rule: silent."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        return [
            self.problem(
                dough, rule.line, f"rule {rule.id}", "it has no case in which nobody looked."
            )
            for rule in dough.rules
            if any(case.speaks for case in rule.cases) and not _has_nobody_looked(rule)
        ]


def _speaking(rule: Rule) -> list[Mapping[str, Value]]:
    return [case.told for case in rule.cases if case.speaks]


def _silent(rule: Rule) -> list[Mapping[str, Value]]:
    return [case.told for case in rule.cases if not case.speaks]


def _has_near_miss(rule: Rule) -> bool:
    kinds = {condition.subject: condition.kind for condition in (*rule.when, *rule.unless)}

    def differs_in_one(silent: Mapping[str, Value], speaking: Mapping[str, Value]) -> bool:
        changed = [k for k in {**silent, **speaking} if silent.get(k) != speaking.get(k)]
        if len(changed) != 1:
            return False
        # A finding can only be there or not, so leaving it out is changing it.
        return changed[0] in silent or kinds.get(changed[0]) == "finding"

    def mentioned(told: Mapping[str, Value]) -> dict[str, Value]:
        return {name: value for name, value in told.items() if name in kinds}

    return any(
        differs_in_one(silent, speaking) or differs_in_one(mentioned(silent), mentioned(speaking))
        for silent in _silent(rule)
        for speaking in _speaking(rule)
    )


def _has_nobody_looked(rule: Rule) -> bool:
    return any(
        silent.items() < speaking.items()
        for silent in _silent(rule)
        for speaking in _speaking(rule)
    )


class OwnCaseFails(Lint):
    """Every case beside a rule holds."""

    name = "own case fails"
    level = "error"
    recommendation = "Correct the case, or what the rule asks for."

    def __init__(self, run: Run) -> None:
        self.run = run

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        return [
            self.problem(dough, rule.line, f"rule {rule.id}", sentence)
            for rule in dough.rules
            for sentence in self._failing(dough, rule)
        ]

    def _failing(self, dough: Dough, rule: Rule) -> Iterator[str]:
        for number, case in enumerate(rule.cases, start=1):
            spoke = rule.id in self.run(dough, case.told)
            if spoke is not case.speaks:
                does = "speaks" if spoke else "stays silent"
                yield f"it {does} in its case {number}, {told_in_words(case)}."


def told_in_words(case: RuleCase) -> str:
    """What a case tells, in one line."""
    if not case.told:
        return "in which nothing is told"
    return ", ".join(
        f"{name}: {value:g}" if isinstance(value, int | float) else f"{name}: {value}"
        for name, value in case.told.items()
    )


class CaseShowsNoMode(Lint):
    """In a dough that lists its failure modes, a whole case shows one of them."""

    name = "case shows no failure mode"
    level = "note"
    recommendation = "Name it as the case of a failure mode, if there is one that it shows."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        if not dough.failure_modes:
            return []
        shown = {mode.case for mode in dough.failure_modes}
        return [
            self.problem(
                dough, case.line, f"whole case {case.id}", "no failure mode is shown by it."
            )
            for case in dough.whole_cases
            if case.id not in shown
        ]


class WholeCaseFails(Lint):
    """Every whole case comes out as it says."""

    name = "whole case fails"
    level = "error"
    recommendation = "Correct what the case expects, or the rules and evidence that decide it."

    def __init__(self, diagnose: Callable[[Situation], Diagnosis]) -> None:
        self.diagnose = diagnose

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        return [
            self.problem(dough, case.line, f"whole case {case.id}", sentence)
            for case in dough.whole_cases
            for sentence in self._failing(dough, case)
        ]

    def _failing(self, dough: Dough, case: WholeCase) -> Iterator[str]:
        situation, problems = read_situation({"dough": dough.id, **case.situation}, dough)
        if situation is None:
            yield from (str(problem) for problem in problems)
            return
        found = self.diagnose(situation)
        first_cause = found.causes[0].id if found.causes else "none"
        first_remedy = found.plan[0].remedy if found.plan else "none"
        if case.first_cause is not None and first_cause != case.first_cause:
            yield f"the first cause is {first_cause}, not {case.first_cause}."
        if case.first_remedy is not None and first_remedy != case.first_remedy:
            yield f"the first remedy is {first_remedy}, not {case.first_remedy}."
        planned = [step.remedy for step in found.plan]
        for name in case.never:
            if name == first_cause:
                yield f"{name} comes first, and must never."
            if name in planned:
                yield f"{name} is in the plan, and must never be."
