"""Suggestions in words: a headline, the counts, what speaks for and against, and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote

from diagnose.knowledge.book import ComputedReading, Condition, Dough, Reading, Rule
from diagnose.knowledge.measures import sign as unit_sign
from diagnose.knowledge.ruletext import CaseFields, RuleFields, new_text
from diagnose.learning.exactly import TwoByTwo
from diagnose.learning.mining import Pattern
from diagnose.learning.offering import Suggestion, by_luck, set_aside
from diagnose.learning.recalibrating import Row
from diagnose.learning.suggesting import Contradicted, Draft, Inseparable, as_rule
from diagnose.reasoning.likelihood import asked_parts

from .lesson_words import answer_of, ask_of

CASES_LISTED = 12


@dataclass(frozen=True, slots=True)
class Counts:
    """A two-by-two table with the words of its rows and columns."""

    table: TwoByTwo
    seen: str
    not_seen: str
    true: str
    not_true: str


@dataclass(frozen=True, slots=True)
class Shown:
    """One suggestion as a page shows it."""

    id: str
    kind: str
    headline: str
    counts: Counts | None
    sentences: tuple[str, ...]
    doing: str
    """The words of the link that does something about it."""
    address: str
    cases: tuple[str, ...] = ()


def headline(dough: Dough, one: Suggestion) -> str:
    """One line that says what is suggested."""
    about = one.about
    if isinstance(about, Draft):
        return about.says
    if isinstance(about, Contradicted):
        rule = next(r for r in dough.rules if r.id == about.rule)
        return f"The cases speak against: {rule.says}"
    if isinstance(about, Row):
        asked = {a.id: a for a in asked_parts(dough)}[about.look]
        return f"“{_cause(dough, about.cause)}”: a word of the row “{ask_of(asked)}”"
    if isinstance(about, Inseparable):
        first, second = (_cause(dough, name) for name in about.causes)
        return f"No question parts these two: {first} / {second}"
    return f"“{about.word}” stands in {len(about.cases)} notes, and in no question"


def shown(dough: Dough, one: Suggestion) -> Shown:
    """All of a suggestion."""
    about = one.about
    line = headline(dough, one)
    if isinstance(about, Draft):
        return Shown(
            one.id, one.kind, line,
            Counts(about.pattern.whole, "seen", "not seen", "That cause", "Other"),
            pattern_says(about),
            "Make a draft rule of it", f"/desk/rules/new?suggestion={quote(one.id)}",
        )  # fmt: skip
    if isinstance(about, Contradicted):
        rule = next(r for r in dough.rules if r.id == about.rule)
        columns = ("Other", "That cause") if rule.points_to is not None else ("That cause", "Other")
        return Shown(
            one.id, one.kind, line,
            Counts(about.table, "the rule spoke", "it was silent", *columns),
            (
                f"The cause is “{_cause(dough, about.cause)}”.",
                f"Where it spoke, the opposite of what it says was {about.table.lift:.1f} times as "
                "frequent as in all the cases of those stages.",
                f"By luck alone that would happen {by_luck(about)}.",
            ),
            "Look at the rule", f"/desk/rules/{about.rule}",
        )  # fmt: skip
    if isinstance(about, Row):
        asked = {a.id: a for a in asked_parts(dough)}[about.look]
        return Shown(
            one.id, one.kind, line, None,
            tuple(
                f"“{answer_of(asked, cell.answer)}”: {about.says(cell)}." for cell in about.cells
            ),
            "What the cases say of this row", f"/learning/rules/{about.id}",
        )  # fmt: skip
    if isinstance(about, Inseparable):
        return Shown(
            one.id, one.kind, line, None, together_says(dough, about),
            "Write a rule that parts them", f"/desk/rules/new?stage={about.stage}",
        )  # fmt: skip
    return Shown(
        one.id, one.kind, line, None,
        ("Cooks wrote this word, and the book has no question, answer or cause with it. Read what "
         "they meant: perhaps a sign is missing.",),
        "Write a new sign", "/desk/parts/signs/new", about.cases[:CASES_LISTED],
    )  # fmt: skip


def pattern_says(draft: Draft) -> tuple[str, ...]:
    """What speaks for a pattern: counts, lift, luck, and what other causes account for."""
    pattern = draft.pattern
    aside = set_aside(pattern)
    return (
        f"{draft.why}.",
        f"The cause is {pattern.whole.lift:.1f} times as frequent with it as in all the cases in "
        "which that was looked at.",
        f"By luck alone such a table would come up {by_luck(pattern)}. Of everything offered here "
        "at most about 1 in 20 is luck.",
        *(() if aside is None else (aside,)),
        f"In the book's words that is {draft.strength} evidence. A draft counts half.",
    )


def together_says(dough: Dough, about: Inseparable) -> tuple[str, ...]:
    """What is missing between two causes, and which answer would part them."""
    stage = next(s.title for s in dough.stages if s.id == about.stage)
    said = [
        f"At the stage “{stage}” both can show, they call for different remedies, and no answer "
        "tells them apart.",
    ]
    if about.would is None:
        said.append("The confirmed cases hold no answer that parts them either.")
    else:
        said.append(f"Among their confirmed cases this did: {_pattern(dough, about.would)}.")
    return tuple(said)


def _pattern(dough: Dough, pattern: Pattern) -> str:
    asked = {a.id: a for a in asked_parts(dough)}
    told = " and ".join(
        f"{ask_of(asked[look])} “{answer_of(asked[look], answer)}”" for look, answer in pattern.when
    )
    table = pattern.whole
    return (
        f"{told} was seen with “{_cause(dough, pattern.cause)}” in {table.both} of "
        f"{table.both + table.only_true} cases, with the other in {table.only_seen} of "
        f"{table.only_seen + table.neither}"
    )


def _cause(dough: Dough, name: str) -> str:
    return next((c.say for c in dough.causes if c.id == name), name.replace("-", " "))


# --- a draft as the text of a rule ---


def text_of(dough: Dough, draft: Draft) -> str:
    """The draft rule as an author would write it, for the editor to begin with."""
    return new_text(fields_of_rule(dough, as_rule(dough, draft)))


def fields_of_rule(dough: Dough, rule: Rule) -> RuleFields:
    """A rule that points to a cause, as the fields of the editor's page."""
    parts: tuple[Reading | ComputedReading, ...] = (*dough.readings, *dough.computed)
    units = {part.id: unit_sign(part.unit) for part in parts}

    def told(name: str, value: object) -> str:
        return f"{value:g} {units[name]}" if isinstance(value, int | float) else str(value)

    return RuleFields(
        name=_short(rule.id, {r.id for r in dough.rules} | {r.id for r in dough.retired}),
        says=rule.says,
        when=tuple((c.subject, _phrase(c)) for c in rule.when),
        outcome="points to",
        target=rule.points_to or "",
        strength=rule.strength or "",
        why=f"Seen in cases: {rule.why}.",
        see=rule.source.see,
        standing="draft",
        cases=tuple(
            CaseFields(
                tuple((name, told(name, value)) for name, value in case.told.items()),
                "speaks" if case.speaks else "silent",
            )
            for case in rule.cases
        ),
    )


def _phrase(condition: Condition) -> str:
    return str(condition.phrase)


def _short(name: str, taken: set[str]) -> str:
    """A name of at most 41 letters that no rule has had."""
    short = name[:41].rstrip("-")
    number = 2
    while short in taken:
        tail = f"-{number}"
        short = name[: 41 - len(tail)].rstrip("-") + tail
        number += 1
    return short
