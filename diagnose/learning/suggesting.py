"""What confirmed cases suggest to whoever keeps the book: drafts, contradictions, missing looks.

A person accepts, changes or dismisses each; nothing becomes a rule by itself.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from diagnose.knowledge.book import (
    ComputedReading,
    Condition,
    Dough,
    Reading,
    Rule,
    RuleCase,
    Sign,
    Source,
    Strength,
)
from diagnose.knowledge.phrases import Interval, OneOf, Value
from diagnose.reasoning.known import middle_of
from diagnose.reasoning.likelihood import Table, asked_parts
from diagnose.reasoning.posterior import about
from diagnose.reasoning.words import FACTOR, SAYS_NOTHING

from .cases import ConfirmedCase
from .exactly import TwoByTwo, believed, log_tail
from .mining import LEAST_LIFT, LEAST_SUPPORT, Bits, Pattern
from .recalibrating import Learned, Row

NOT_SEPARATED: Final = 0.25
"""Two causes are not separated by a look whose answers differ less than this between them (total
variation, 0 to 1); house rule."""
STRENGTHS: Final[tuple[Strength, ...]] = ("decisive", "strong", "moderate", "slight")
OWN_CASES: Final = "own-cases"
"""Key of the source that a draft names, until a person gives it a better one."""


# --- drafts ---


@dataclass(frozen=True, slots=True)
class Draft:
    """A pattern on its way to a rule, for a person to accept, change or dismiss."""

    pattern: Pattern
    id: str
    strength: Strength
    """The strongest word that the cases bear out in full."""
    says: str
    why: str
    written: str | None
    """The row or rule of the book that says it already, if one does."""


def drafts(dough: Dough, tables: Mapping[str, Table], patterns: Iterable[Pattern]) -> list[Draft]:
    """Patterns as drafts, in their order; those the book cannot hold are left out.

    Left out are patterns about a look, answer or cause that the book does not have, and those
    whose factor is below "slight".
    """
    says = {cause.id: cause.say for cause in dough.causes}
    looks = {asked.id: asked for asked in asked_parts(dough)}
    made = []
    for pattern in patterns:
        strength = strength_of(pattern.whole.factor)
        known = all(look in looks and a in looks[look].answers for look, a in pattern.when)
        if strength is None or pattern.cause not in says or not known:
            continue
        table = pattern.whole
        answers = " and ".join(_answer_says(looks[look].part, a) for look, a in pattern.when)
        apart = table.only_true + table.neither
        made.append(
            Draft(
                pattern=pattern,
                id="-".join(["seen", *(f"{look}-{a}" for look, a in pattern.when), pattern.cause]),
                strength=strength,
                says=f"{answers}: {says[pattern.cause]}",
                why=f"{table.both} of the {table.both + table.only_seen} confirmed cases with this"
                f" had that cause, and {table.only_true} of the {apart} without it",
                written=_written(dough, tables, pattern),
            )
        )
    return made


def strength_of(factor: float) -> Strength | None:
    """The strongest word for whose factor there is enough; None below "slight".

    >>> strength_of(7.9), strength_of(8.0), strength_of(1.2)
    ('moderate', 'strong', None)
    """
    for strength in STRENGTHS:
        if factor >= FACTOR[f"{strength} for"]:  # type: ignore[index]  # every strength has its "for"
            return strength
    return None


def as_rule(dough: Dough, draft: Draft) -> Rule:
    """A draft in the shape of the book: standing draft, with a case that speaks, near misses, and
    one in which nobody looked, all from the pattern itself."""
    parts = {asked.id: asked.part for asked in asked_parts(dough)}
    pattern = draft.pattern
    conditions = tuple(_condition(parts[look], answer) for look, answer in pattern.when)
    told = {look: _told(parts[look], answer) for look, answer in pattern.when}
    cases = [RuleCase(told=told, speaks=True)]
    for look, answer in pattern.when:
        other = next(a for a in _answers(parts[look]) if a != answer)
        cases.append(RuleCase(told={**told, look: _told(parts[look], other)}, speaks=False))
    missing = dict(list(told.items())[1:])
    cases.append(RuleCase(told=missing, speaks=False))
    return Rule(
        id=draft.id,
        says=draft.says,
        when=conditions,
        points_to=pattern.cause,
        strength=draft.strength,
        why=draft.why,
        source=Source(see=OWN_CASES),
        standing="draft",
        cases=tuple(cases),
    )


def _answers(part: Sign | Reading | ComputedReading) -> tuple[str, ...]:
    if isinstance(part, Sign):
        return tuple(answer.id for answer in part.answers)
    return tuple(band.id for band in part.bands)


def _answer_says(part: Sign | Reading | ComputedReading, answer: str) -> str:
    if isinstance(part, Sign):
        return f"“{next(a.say for a in part.answers if a.id == answer)}”"
    name = part.id.replace("-", " ")
    return f"{name} {next(band.say for band in part.bands if band.id == answer)}"


def _condition(part: Sign | Reading | ComputedReading, answer: str) -> Condition:
    if isinstance(part, Sign):
        return Condition(subject=part.id, kind="sign", phrase=OneOf((answer,)))
    band = next(band for band in part.bands if band.id == answer)
    kind = "reading" if isinstance(part, Reading) else "computed"
    return Condition(subject=part.id, kind=kind, phrase=band.phrase)


def _told(part: Sign | Reading | ComputedReading, answer: str) -> Value:
    if isinstance(part, Sign):
        return answer
    phrase = next(band.phrase for band in part.bands if band.id == answer)
    assert isinstance(phrase, Interval)
    ends = [end for end in (phrase.low, phrase.high) if end is not None]
    likely = part.likely if isinstance(part, Reading) else (min(ends) / 2, max(ends) * 1.2)
    return middle_of(phrase, likely)


def _written(dough: Dough, tables: Mapping[str, Table], pattern: Pattern) -> str | None:
    if len(pattern.when) == 1:
        ((look, answer),) = pattern.when
        row = tables[look].rows.get(pattern.cause)
        if row is not None and row.answers.get(answer, "").endswith(" for"):
            return row.id
    for rule in dough.rules:
        subjects = {condition.subject for condition in rule.when} - {"stage"}
        if rule.points_to == pattern.cause and subjects == {look for look, _ in pattern.when}:
            return rule.id
    return None


# --- contradictions ---


@dataclass(frozen=True, slots=True)
class Contradicted:
    """A rule that the cases speak against, with the cases in which it spoke."""

    rule: str
    cause: str
    table: TwoByTwo
    """Spoke (or not) against: the opposite of what it says (or not)."""
    log_chance: float


def contradicted_rules(
    dough: Dough, cases: Iterable[ConfirmedCase], spoke: Mapping[str, Collection[str]]
) -> list[Contradicted]:
    """Rules after which the opposite of what they say is clearly more frequent.

    ``spoke``: by case id, the rules that spoke in it (``rejudging`` tells). A rule that points to
    a cause is judged among the cases at stages where the cause can show. The gates are those of
    patterns: eight cases, Fisher's test, Benjamini and Hochberg at 5 %.
    """
    stages = {cause.id: set(cause.shows_at) for cause in dough.causes}
    known = [case for case in cases if case.id in spoke]
    found, tests = [], 0
    for rule in dough.rules:
        cause = about(rule)
        if cause is None or rule.standing == "retired":
            continue
        counts = {(True, True): 0, (True, False): 0, (False, True): 0, (False, False): 0}
        for case in known:
            if case.stage in stages[cause]:
                against = (cause in case.causes) is (rule.points_to is None)
                counts[rule.id in spoke[case.id], against] += 1
        table = TwoByTwo(
            counts[True, True], counts[True, False], counts[False, True], counts[False, False]
        )
        tests += 1
        if table.both >= LEAST_SUPPORT and table.lift > 1:
            found.append(Contradicted(rule.id, cause, table, log_tail(table)))
    if not tests:
        return []
    limit = believed((one.log_chance for one in found), tests)
    kept = [one for one in found if one.log_chance <= limit]
    return sorted(kept, key=lambda one: (one.log_chance, one.rule))


def turned_rows(learned: Learned) -> list[Row]:
    """Rows of the table in which cases turned a word round, from for to against or back.

    Only rows with eight cases or more, the most cases first.
    """
    return sorted(
        (
            row
            for row in learned.rows.values()
            if row.cases >= LEAST_SUPPORT
            and any(
                cell.written is not None
                and cell.word != SAYS_NOTHING
                and (cell.factor > 1) is not (FACTOR[cell.written] > 1)  # type: ignore[index]  # a word of the book
                for cell in row.cells
            )
        ),
        key=lambda row: (-row.cases, row.id),
    )


# --- causes that nothing separates ---


@dataclass(frozen=True, slots=True)
class Inseparable:
    """Two causes with different remedies that no question of their stage tells apart."""

    stage: str
    causes: tuple[str, str]
    apart: float
    """How far the best question parts them, 0 to 1."""
    would: Pattern | None
    """The answer that parted their confirmed cases, where one did."""


def inseparable(dough: Dough, tables: Mapping[str, Table], bits: Bits) -> list[Inseparable]:
    """Pairs of causes that the book's looks and rules leave together, in the book's order.

    Causes that call for the same remedies need no question. A rule that bears on one of the two
    parts them. ``would`` comes from confirmed cases of the two, whatever the stage of the look.
    """
    found = []
    pointed = {about(rule) for rule in dough.rules if rule.standing != "retired"} - {None}
    for stage in dough.stages:
        asked = [
            table
            for table in tables.values()
            if not isinstance(table.asked.part, ComputedReading)
            and stage.id in table.asked.part.stages
        ]
        shows = [c for c in dough.causes if stage.id in c.shows_at and c.id != dough.carry_on]
        for one, other in itertools.combinations(shows, 2):
            if {t.remedy for t in one.tries} == {t.remedy for t in other.tries}:
                continue
            if one.id in pointed or other.id in pointed:
                continue
            apart = max((_variation(table, one.id, other.id) for table in asked), default=0.0)
            if apart < NOT_SEPARATED:
                pair = (one.id, other.id)
                found.append(Inseparable(stage.id, pair, apart, parting(bits, *pair)))
    return found


def parting(bits: Bits, one: str, other: str) -> Pattern | None:
    """The answer that best tells the confirmed cases of two causes apart, or None.

    Only cases of exactly one of the two; the gates are those of patterns.
    """
    first, second = bits.causes.get(one, 0), bits.causes.get(other, 0)
    both = first & second
    found, tests = [], 0
    for item, seen in bits.items.items():
        among = bits.taken[item[0]] & (first | second) & ~both
        for cause, true in ((one, first), (other, second)):
            tests += 1
            table = bits.table(seen, true, among)
            if table.both >= LEAST_SUPPORT and table.lift > 1 and table.factor >= LEAST_LIFT:
                found.append(Pattern((item,), cause, table, table, log_tail(table)))
    limit = believed((p.log_chance for p in found), tests) if tests else -math.inf
    kept = [p for p in found if p.log_chance <= limit]
    return min(kept, key=lambda p: (p.strength, p.when, p.cause), default=None)


def _variation(table: Table, one: str, other: str) -> float:
    """Total variation between the answers under two causes."""
    return 0.5 * math.fsum(
        abs(math.exp(table.log_for(one, a)) - math.exp(table.log_for(other, a)))
        for a in table.asked.answers
    )
