"""Lints about rules beside each other, exact and each with facts that show it."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Mapping, Sequence

from diagnose.knowledge.book import Book, Condition, Dough, Rule
from diagnose.knowledge.phrases import Presence
from diagnose.knowledge.problems import Problem
from diagnose.reasoning.posterior import about, counts, weight_of

from .audit import GAVE_UP, Answer, Audit, Audits
from .boxes import conditions
from .chaining import NotDecided
from .lint import Lint


class RuleLint(Lint):
    """A lint about rules; those of one list share their answers."""

    def __init__(self, audits: Audits) -> None:
        self._audits = audits

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        return [
            self.problem(dough, rule.line, f"rule {rule.id}", sentence)
            for rule, sentence in self.found(self._audits.of(dough))
        ]

    @abstractmethod
    def found(self, audit: Audit) -> Iterator[tuple[Rule, str]]:
        """Each rule it is found at, and what was found."""


class NeverSpeaks(RuleLint):
    """A rule that no situation can make speak, also through the findings it waits for.

    If all it lacks is a finding whose own rules never speak, those are named and not this one.
    """

    name = "never speaks"
    level = "error"
    recommendation = "Change one of these conditions, or the rules behind them."

    def found(self, audit: Audit) -> Iterator[tuple[Rule, str]]:
        for rule in audit.rules:
            if audit.speak(rule) is None:
                clash = _clash(audit, rule)
                condition, wanted = list(conditions(rule))[clash[0]]
                if len(clash) > 1:
                    yield rule, _clashing(audit, rule, clash)
                elif not _comes_of_silent_rules(audit, condition, wanted):
                    yield rule, f"it never speaks: {_cannot_be(audit, condition, wanted)}."


def _clash(audit: Audit, rule: Rule) -> list[int]:
    """The places of the fewest conditions that cannot hold together."""
    clash = list(range(len(rule.when) + len(rule.unless)))
    for place in tuple(clash):
        fewer = [other for other in clash if other != place]
        if _met(audit, rule, fewer) is None:
            clash = fewer
    return clash


def _clashing(audit: Audit, rule: Rule, clash: Sequence[int]) -> str:
    every = list(conditions(rule))
    *named, last = (_in_words(*every[place]) for place in clash)
    sentence = f"it never speaks: {', '.join(named)} and {last} are never so together."
    told = _met(audit, rule, [place for place in range(len(every)) if place != clash[-1]])
    if isinstance(told, Mapping):
        sentence += f" Without the last it would speak, for example on {audit.in_words(told)}."
    return sentence


def _met(audit: Audit, rule: Rule, places: Sequence[int]) -> Answer:
    try:
        return audit.chains.facts_meeting(rule, places)
    except NotDecided:
        return GAVE_UP


def _comes_of_silent_rules(audit: Audit, condition: Condition, wanted: bool) -> bool:
    """A finding that rules conclude and that still cannot be: those rules never speak."""
    there = isinstance(condition.phrase, Presence) and condition.phrase.present is wanted
    return there and bool(audit.chains.concluding.get(condition.subject))


def _cannot_be(audit: Audit, condition: Condition, wanted: bool) -> str:
    said = _in_words(condition, wanted)
    if condition.kind == "finding" and not audit.chains.concluding.get(condition.subject):
        return f"{said} cannot be, because no rule concludes it"
    return f"{said} can never be so"


def _in_words(condition: Condition, wanted: bool) -> str:
    return f"{'' if wanted else 'unless '}{condition.subject}: {condition.phrase}"


class OppositeConclusions(RuleLint):
    """Two rules that speak on exactly the same facts and say the opposite."""

    name = "opposite conclusions"
    level = "error"
    recommendation = "Take one of the two out, or let something that can be looked at part them."

    def found(self, audit: Audit) -> Iterator[tuple[Rule, str]]:
        for one, other in _alike(audit):
            if _opposed(one, other):
                yield (
                    other,
                    f"it speaks exactly when {one.id} does and says the opposite about "
                    f"{about(one)}, for example on {audit.example(one)}.",
                )


class ExceptionToAnother(RuleLint):
    """A rule inside another that says the opposite: an exception, perhaps, and to be confirmed.

    It counts as confirmed once both are in one group and the exception is the heavier: then it
    is the one that counts where both speak.
    """

    name = "exception"
    level = "note"
    recommendation = (
        "Confirm that it is meant as an exception: put both in one group with the exception "
        "stronger, or name the exception under unless of the other."
    )

    def found(self, audit: Audit) -> Iterator[tuple[Rule, str]]:
        for inner, outer in _nested(audit):
            same_group = inner.group is not None and inner.group == outer.group
            if _opposed(inner, outer) and not same_group:
                yield (
                    inner,
                    f"whenever it speaks {outer.id} does too and says the opposite about "
                    f"{about(inner)}, for example on {audit.example(inner)}.",
                )


class Redundant(RuleLint):
    """A rule that adds nothing beside others, or whose weight is added to theirs."""

    name = "redundant"
    level = "warning"
    recommendation = (
        "Take it out, narrow the other, or put both in one group so that only the stronger counts."
    )

    def found(self, audit: Audit) -> Iterator[tuple[Rule, str]]:
        yield from _concluded_anyway(audit)
        yield from _weighed_anyway(audit)


def _concluded_anyway(audit: Audit) -> Iterator[tuple[Rule, str]]:
    """Rules whose finding the others conclude whenever they do; later ones are taken out first."""
    for finding, rules in audit.chains.concluding.items():
        kept = list(rules)
        for rule in reversed(rules):
            others = [other for other in kept if other is not rule]
            if others and audit.inside(rule, others):
                kept = others
                one = next((o for o in others if audit.inside(rule, [o])), None)
                who = f"{one.id} concludes" if one else "one of the others concludes"
                yield (
                    rule,
                    f"it adds nothing: whenever it speaks, {who} {finding} too, for example on "
                    f"{audit.example(rule)}.",
                )


def _weighed_anyway(audit: Audit) -> Iterator[tuple[Rule, str]]:
    lighter_first = (sorted(pair, key=lambda rule: abs(weight_of(rule))) for pair in _alike(audit))
    same = ((inner, outer) for inner, outer in lighter_first if not _opposed(inner, outer))
    for inner, outer in (*_nested(audit), *same):
        example = audit.example(inner)
        if inner.group is not None and inner.group == outer.group:
            weights = {"inner": weight_of(inner), "outer": weight_of(outer)}
            if counts(weights) == weights["outer"]:
                yield (
                    inner,
                    f"it never counts: whenever it speaks, {outer.id} of the same group is at "
                    f"least as strong about {about(inner)}, for example on {example}.",
                )
        elif not _opposed(inner, outer):
            yield (
                inner,
                f"whenever it speaks, {outer.id} says the same about {about(inner)} and both "
                f"weights are added, for example on {example}.",
            )


def _alike(audit: Audit) -> Iterator[tuple[Rule, Rule]]:
    """Two rules about one cause that always speak together."""
    for one, other in audit.pairs():
        if audit.inside(one, [other]) and audit.inside(other, [one]):
            yield one, other


def _nested(audit: Audit) -> Iterator[tuple[Rule, Rule]]:
    """Rules about one cause of which the first speaks only when the second does, not the second
    only when the first does."""
    for one, other in audit.pairs():
        first, second = audit.inside(one, [other]), audit.inside(other, [one])
        if first and not second:
            yield one, other
        elif second and not first:
            yield other, one


def _opposed(one: Rule, other: Rule) -> bool:
    return (one.points_to is None) is not (other.points_to is None)


class NotDecidedYet(RuleLint):
    """A question about rules that would have taken too long."""

    name = "not decided"
    level = "note"
    recommendation = "Use fewer findings one behind the other, so that it can be worked out."

    def found(self, audit: Audit) -> Iterator[tuple[Rule, str]]:
        by_id = {rule.id: rule for rule in audit.rules}
        for rule in audit.rules:
            audit.speak(rule)
        for one, other in audit.pairs():
            audit.alone(one, [other])
            audit.alone(other, [one])
        for speak, silent in sorted(audit.undecided()):
            yield by_id[speak[0]], _given_up(speak, silent)


def _given_up(speak: Sequence[str], silent: Sequence[str]) -> str:
    if silent:
        return f"not decided: whether it can speak without {' or '.join(silent)}."
    if len(speak) > 1:
        return f"not decided: whether it can speak together with {', '.join(speak[1:])}."
    return "not decided: whether it ever speaks."
