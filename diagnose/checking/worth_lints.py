"""Lints about questions and rules that change nothing, and looks that are counted twice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from diagnose.knowledge.book import Book, Condition, Dough, EvidenceRow, Reading, Rule, Sign
from diagnose.knowledge.facts import PAN_CONTENTS, PASTE_TEMPERATURE
from diagnose.knowledge.phrases import Presence
from diagnose.knowledge.problems import Problem
from diagnose.reasoning.likelihood import Table, tables
from diagnose.reasoning.posterior import about, group_of

from .audit import Audit, Audits
from .chaining import NotDecided
from .lint import Lint
from .rule_lints import RuleLint

_BY_ARITHMETIC = (PASTE_TEMPERATURE, PAN_CONTENTS)
"""Readings that computed readings and doses are worked out from."""
_NOTHING = 1e-9
"""Nats below which a weight is no weight."""


class QuestionChangesNothing(Lint):
    """A sign or reading that is used, and whatever is answered, no chance or remedy can change.

    Its rows weigh all answers alike or are about causes that cannot show once it may be asked; its
    rules never speak, or lead only to findings that nothing rests on.
    """

    name = "question that changes nothing"
    level = "warning"
    recommendation = "Let it weigh on a cause or lead to a remedy, or take it out."

    def __init__(self, audits: Audits) -> None:
        self._audits = audits

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        audit = self._audits.of(dough)
        weighed = tables(dough)
        mattering = rules_that_matter(audit)
        subjects = {condition.subject for rule in audit.rules for condition in _looked_at(rule)}
        asked: tuple[Sign | Reading, ...] = (*dough.signs, *dough.readings)
        return [
            self.problem(dough, part.line, _named(part), _whatever(part))
            for part in asked
            if part.given_by is None
            and part.id not in _BY_ARITHMETIC
            and (part.id in subjects or (part.id in weighed and weighed[part.id].rows))
            and not _row_matters(dough, weighed.get(part.id), _from_then_on(dough, part))
            and not any(
                condition.subject == part.id for rule in mattering for condition in _looked_at(rule)
            )
        ]


def _named(part: Sign | Reading) -> str:
    return f"{'sign' if isinstance(part, Sign) else 'reading'} {part.id}"


def _whatever(part: Sign | Reading) -> str:
    if isinstance(part, Sign):
        ends = f"{part.answers[0].id} or {part.answers[-1].id}"
    else:
        ends = f"{part.likely[0]:g} or {part.likely[1]:g}"
    return f"no answer can change a chance or a remedy: {part.id}: {ends} come out the same."


def _from_then_on(dough: Dough, part: Sign | Reading) -> set[str]:
    """The stages at which an answer can be known: the first at which it is asked, and later."""
    stages = [stage.id for stage in dough.stages]
    first = min((stages.index(stage) for stage in part.stages), default=len(stages))
    return set(stages[first:])


def _row_matters(dough: Dough, table: Table | None, stages: set[str]) -> bool:
    if table is None:
        return False
    showing = {cause.id for cause in dough.causes if not stages.isdisjoint(cause.shows_at)}
    return any(
        abs(table.shift(cause, answer)) > _NOTHING
        for cause in table.rows
        if cause in showing
        for answer in table.asked.answers
    )


def _looked_at(rule: Rule) -> tuple[Condition, ...]:
    return (*rule.when, *rule.unless)


def rules_that_matter(audit: Audit) -> list[Rule]:
    """The rules that can change a chance or a remedy, themselves or through others."""
    dough = audit.dough
    findings = {finding.id for finding in dough.findings if finding.calls_for is not None}
    findings |= {name for remedy in dough.remedies for name in remedy.only_after}
    mattering: list[Rule] = []
    waiting = [rule for rule in audit.rules if audit.speak(rule) is not None]
    while True:
        more = [
            rule
            for rule in waiting
            if rule.concludes in findings
            or (about(rule) is not None and can_bear_on_its_cause(audit, rule))
        ]
        if not more:
            return mattering
        mattering += more
        waiting = [rule for rule in waiting if rule not in more]
        findings |= {c.subject for rule in more for c in _looked_at(rule) if c.kind == "finding"}


def can_bear_on_its_cause(audit: Audit, rule: Rule) -> bool:
    """False if a rule about a cause speaks only at stages where that cause cannot show."""
    place = audit.chains.space.place.get("stage")
    shows_at = next((c.shows_at for c in audit.dough.causes if c.id == about(rule)), ())
    if place is None:
        return bool(shows_at)
    cells = audit.chains.space.subjects[place].cells
    bits = sum(1 << number for number, stage in enumerate(cells) if stage in shows_at)
    try:
        return audit.chains.facts_for([rule], within={place: bits}) is not None
    except NotDecided:
        return True


class RuleChangesNothing(RuleLint):
    """A rule about a cause that cannot show where the rule speaks."""

    name = "rule that changes nothing"
    level = "warning"
    recommendation = "Let the cause show at that stage, or let the rule speak where it does."

    def found(self, audit: Audit) -> Iterator[tuple[Rule, str]]:
        for rule in audit.rules:
            if (
                about(rule) is not None
                and audit.speak(rule) is not None
                and not can_bear_on_its_cause(audit, rule)
            ):
                yield (
                    rule,
                    f"it speaks only where {about(rule)} cannot show, for example on "
                    f"{audit.example(rule)}.",
                )


class CountedTwice(RuleLint):
    """A rule that rests on an answer and on a finding that the same answer leads to, beside a row
    in which that answer speaks about the same cause by itself.

    Looks that are not independent make the program too sure; within one group only the heaviest
    counts. Also if the finding is all that the rule needs and the answer alone leads to it.
    """

    name = "counted twice"
    level = "warning"
    recommendation = "Put the rule and the row into one group, so that only the stronger counts."

    def found(self, audit: Audit) -> Iterator[tuple[Rule, str]]:
        weighed = tables(audit.dough)
        for rule in audit.rules:
            own = {c.subject for c in rule.when}
            said = set()
            for finding, giver, subject in _routes(audit, rule):
                row = _row_beside(weighed, rule, subject)
                if row is None or (finding, subject) in said:
                    continue
                alone = subject not in own
                told = _together(audit, weighed[subject], [rule, giver], subject, alone)
                if told is not None:
                    said.add((finding, subject))
                    yield (
                        rule,
                        f"{subject} speaks about {about(rule)} in the row {row.id}, and here again "
                        f"through {finding}, which {giver.id} takes from it; both are added, for "
                        f"example on {told}.",
                    )


class SaidTwice(RuleLint):
    """A rule that needs a single answer, beside a row in which that answer says the same."""

    name = "said twice"
    level = "note"
    recommendation = (
        "Say it once: strengthen the row and take the rule out, or put both into one group."
    )

    def found(self, audit: Audit) -> Iterator[tuple[Rule, str]]:
        weighed = tables(audit.dough)
        for rule in audit.rules:
            own = {c.subject for c in rule.when if c.kind != "stage"}
            if len(own) != 1 or about(rule) is None:
                continue
            subject = own.pop()
            row = _row_beside(weighed, rule, subject)
            if row is not None:
                told = _together(audit, weighed[subject], [rule], subject, alone=True)
                if told is not None:
                    yield (
                        rule,
                        f"the row {row.id} says the same of one answer, and both are added, for "
                        f"example on {told}.",
                    )


def _routes(audit: Audit, rule: Rule) -> Iterator[tuple[str, Rule, str]]:
    """The answers behind a rule's findings: the finding, the rule that takes it, the subject."""
    seen: set[str] = set()
    waiting = [(c.subject, c.subject) for c in rule.when if _there(c)]
    while waiting:
        first, finding = waiting.pop()
        for giver in audit.chains.concluding.get(finding, ()):
            for condition in giver.when:
                if condition.kind not in ("finding", "stage"):
                    yield first, giver, condition.subject
                elif _there(condition) and condition.subject not in seen:
                    seen.add(condition.subject)
                    waiting.append((first, condition.subject))


def _there(condition: Condition) -> bool:
    return condition.phrase == Presence(True)


def _row_beside(weighed: Mapping[str, Table], rule: Rule, subject: str) -> EvidenceRow | None:
    """The row of a subject about the rule's cause, unless both are in one group."""
    cause = about(rule)
    if cause is None or subject not in weighed:
        return None
    row = weighed[subject].rows.get(cause)
    return None if row is None or group_of(row) == group_of(rule) else row


def _together(
    audit: Audit, table: Table, rules: Sequence[Rule], subject: str, alone: bool
) -> str | None:
    """Facts on which the rules speak and the row speaks the same way as the first; in words."""
    space, rule = audit.chains.space, rules[0]
    cause, sense = about(rule), 1 if rule.points_to is not None else -1
    place = space.place[subject]
    agreeing = {
        answer
        for answer in table.asked.answers
        if cause is not None and sense * table.shift(cause, answer) > _NOTHING
    }
    bits = sum(
        1 << number
        for number, value in enumerate(space.subjects[place].cells)
        if table.asked.answer_for(value) in agreeing
    )
    within = {place: bits}
    if alone:
        within |= {
            number: 1  # not answered
            for number, other in enumerate(space.subjects)
            if other.name not in (subject, "stage")
        }
    try:
        told = audit.chains.facts_for(rules, within=within)
    except NotDecided:
        return None
    return None if told is None else audit.in_words(told)
