"""Lints about things that are described and not used, or used and never there."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.book import Book, ComputedReading, Condition, Dough, Reading, Rule, Source
from diagnose.knowledge.facts import PAN_CONTENTS, PASTE_TEMPERATURE
from diagnose.knowledge.loading import SOURCES
from diagnose.knowledge.phrases import OneOf
from diagnose.knowledge.problems import Problem

from .lint import Lint

_ALWAYS_THERE = ("restart", "discard", "none")
"""Kinds of remedy that need no cause: they are always in the race."""
_BY_ARITHMETIC = (PASTE_TEMPERATURE, PAN_CONTENTS)
"""Readings that the kitchen's computations use."""


def _conditions(rules: tuple[Rule, ...]) -> Iterator[Condition]:
    for rule in rules:
        yield from rule.when
        yield from rule.unless


class CauseWithoutEvidence(Lint):
    """A cause that nothing can ever make likelier."""

    name = "cause without evidence"
    level = "warning"
    recommendation = "Add a row of evidence with an answer for it, or a rule that points to it."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        supported = {rule.points_to for rule in dough.rules} | {
            row.about
            for row in dough.evidence
            if any(weight.endswith(" for") for weight in row.answers.values())
        }
        return [
            self.problem(dough, cause.line, f"cause {cause.id}", "nothing speaks for it.")
            for cause in dough.causes
            if cause.id not in supported
        ]


class AnswerUsedByNothing(Lint):
    """An answer that a cook can give and that changes nothing."""

    name = "answer used by nothing"
    level = "warning"
    recommendation = "Weigh it in the evidence, use it in a rule, or take it out."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        used = _answers_used(dough)
        found = []
        for sign in dough.signs:
            if sign.given_by is None and sign.id in _subjects(dough):
                found += [
                    self.problem(
                        dough, sign.line, f"sign {sign.id}", f"the answer {answer.id} says nothing."
                    )
                    for answer in sign.answers
                    if (sign.id, answer.id) not in used
                ]
        scaled: tuple[Reading | ComputedReading, ...] = (*dough.readings, *dough.computed)
        for part in scaled:
            found += [
                self.problem(
                    dough, part.line, f"reading {part.id}", f"its band {band.id} is unused."
                )
                for band in part.bands
                if (part.id, band.id) not in used
            ]
        return found


def _answers_used(dough: Dough) -> set[tuple[str, str]]:
    used = {(row.of, answer) for row in dough.evidence for answer in row.answers}
    # The usual answer of a sign speaks by contrast: it is what the weighed rare one is not.
    weighed = {row.of for row in dough.evidence}
    used |= {
        (sign.id, answer)
        for sign in dough.signs
        for answer, word in sign.how_common.items()
        if word in ("very common", "common") and sign.id in weighed
    }
    answers = {sign.id: [answer.id for answer in sign.answers] for sign in dough.signs}
    for condition in _conditions(dough.rules):
        if isinstance(condition.phrase, OneOf):
            # "not a" speaks of every other answer as well.
            named = answers.get(condition.subject, ()) if condition.phrase.negated else ()
            for answer in (*condition.phrase.answers, *named):
                used.add((condition.subject, answer))
    return used


def _subjects(dough: Dough) -> set[str]:
    return {row.of for row in dough.evidence} | {c.subject for c in _conditions(dough.rules)}


class NothingUsesIt(Lint):
    """A sign, reading or computed reading that no rule, row or computation uses."""

    name = "nothing uses it"
    level = "warning"
    recommendation = "Use it in the evidence or in a rule, or take it out."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        used = _subjects(dough) | set(_BY_ARITHMETIC)
        asked = [
            (part.line, kind, part.id)
            for kind, parts in (("sign", dough.signs), ("reading", dough.readings))
            for part in parts
            if part.given_by is None
        ]
        silent = [(c.line, "computed reading", c.id) for c in dough.computed if not c.say]
        return [
            self.problem(dough, line, f"{kind} {name}", "nothing uses it.")
            for line, kind, name in (*asked, *silent)
            if name not in used
        ]


class FindingUnused(Lint):
    """A finding that no rule, remedy or gate looks at."""

    name = "finding unused"
    level = "warning"
    recommendation = "Use it in a rule, in only after, let it call for a remedy, or take it out."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        used = {condition.subject for condition in _conditions(dough.rules)}
        used |= {name for remedy in dough.remedies for name in remedy.only_after}
        return [
            self.problem(dough, finding.line, f"finding {finding.id}", "nothing uses it.")
            for finding in dough.findings
            if finding.id not in used and finding.calls_for is None
        ]


class FindingNeverConcluded(Lint):
    """A finding that no rule concludes: what waits for it waits for ever."""

    name = "finding never concluded"
    level = "error"
    recommendation = "Add a rule that concludes it, or take it out."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        concluded = {rule.concludes for rule in dough.rules}
        concluded |= {name for remedy in dough.remedies for name in remedy.establishes}
        missing = [finding for finding in dough.findings if finding.id not in concluded]
        found = [
            self.problem(dough, finding.line, f"finding {finding.id}", "no rule concludes it.")
            for finding in missing
        ]
        names = {finding.id for finding in missing}
        found += [
            self.problem(
                dough,
                remedy.line,
                f"remedy {remedy.id}",
                f"it waits for {name}, which no rule concludes.",
            )
            for remedy in dough.remedies
            for name in remedy.only_after
            if name in names
        ]
        return found


class RemedyForNothing(Lint):
    """A remedy that no cause tries and no finding calls for."""

    name = "remedy for nothing"
    level = "warning"
    recommendation = "Name it under try of a cause, or take it out."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        tried = {attempt.remedy for cause in dough.causes for attempt in cause.tries}
        tried |= {finding.calls_for for finding in dough.findings if finding.calls_for}
        return [
            self.problem(dough, remedy.line, f"remedy {remedy.id}", "no cause tries it.")
            for remedy in dough.remedies
            if remedy.id not in tried and remedy.kind not in _ALWAYS_THERE
        ]


class CautionUnused(Lint):
    """A caution that no remedy gives."""

    name = "caution unused"
    level = "note"
    recommendation = "Name it under cautions of a remedy, or take it out."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        used = {name for remedy in dough.remedies for name in remedy.cautions}
        return [
            self.problem(dough, caution.line, f"caution {caution.id}", "no remedy gives it.")
            for caution in dough.cautions
            if caution.id not in used
        ]


class SourceUnused(Lint):
    """A source that nothing in the whole book names."""

    name = "source unused"
    level = "warning"
    recommendation = "Cite it where it supports something, or take it out."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        if not book.doughs or dough.id != book.doughs[0].id:
            return []  # sources belong to the whole book: said once
        used = {source.see for each in book.doughs for source in sources_of(each)}
        return [
            Problem(
                SOURCES, entry.line, f"source {entry.key}", "nothing names it.", self.recommendation
            )
            for entry in book.sources
            # what a kitchen sees for itself waits for the rules it will write
            if entry.key not in used and entry.kind != "own trial"
        ]


def sources_of(dough: Dough) -> Iterator[Source]:
    """Every source that a dough names."""
    parts = (dough.remedies, dough.cautions, dough.evidence, dough.rules, dough.whole_cases)
    for part in parts:
        for entry in part:
            yield entry.source
