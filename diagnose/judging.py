"""What one rule does, before it is used: in words, to the past, beside other rules, in questions.

Everything is worked out from two open books, the one without and the one with the change, and from
cases with a known answer. Nothing is stored or shown here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from statistics import fmean, median
from typing import Final
from weakref import WeakKeyDictionary

from .checking.beside import Beside, Relation, audit_around, beside
from .consulting import OpenBook
from .covering import walk
from .explaining import Speaker
from .knowledge.book import Dough, Rule, WholeCase
from .knowledge.phrases import OneOf
from .replaying import Past, PastCase, Progress, Replay

WALKED: Final = 12
"""Whole cases walked to count questions; house rule: enough for a median, few enough to wait."""

_WEIGHS: Final = {
    "decisive": "decisively",
    "strong": "strongly",
    "moderate": "moderately",
    "slight": "slightly",
}
_BESIDE: Final[dict[Relation, str]] = {
    "repeats": "It speaks exactly when {other} does, and says the same.",
    "contradicts": "It speaks exactly when {other} does, and says the opposite.",
    "swallows": "Whenever {other} speaks, this speaks too and says the same.",
    "is swallowed by": "Whenever it speaks, {other} speaks too and says the same.",
    "is an exception to": "Whenever it speaks, {other} speaks too and says the opposite.",
    "has an exception": "Whenever {other} speaks, this speaks too and says the opposite.",
    "never speaks": "It can never speak: no situation meets all its conditions.",
    "not decided": "Whether it and {other} cover each other would take too long to work out.",
}


@dataclass(frozen=True, slots=True)
class SpokeIn:
    """A case in which the rule speaks."""

    case: PastCase
    rightly: bool | None
    """Whether what it says of its cause is true there; None for a finding, or if nobody knows."""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """How the rule stands to another, with a situation in which both speak."""

    relation: Relation
    other: str | None
    say: str
    example: tuple[str, ...]
    """The situation in words, a fact each; empty where there is none."""


@dataclass(frozen=True, slots=True)
class Questions:
    """Taps until the first remedy, over the same whole cases before and after."""

    before: tuple[int, ...]
    after: tuple[int, ...]

    @property
    def cases(self) -> int:
        """How many cases were walked."""
        return len(self.after)

    @property
    def say(self) -> str:
        """The effect in one sentence."""
        if not self.after:
            return "No whole case of the book is at its stage, so no questions were counted."
        many = "one whole case" if self.cases == 1 else f"{self.cases} whole cases"
        if self.before == self.after:
            return f"In {many} a cook answers as many questions as before: {_taps(self.after)}."
        return f"In {many} a cook answers {_taps(self.after)}; before it was {_taps(self.before)}."


@dataclass(frozen=True)
class Effect:
    """What a rule does."""

    rule: Rule
    says: tuple[str, ...]
    """The rule in sentences."""
    spoke: tuple[SpokeIn, ...]
    beside: tuple[Neighbour, ...]
    questions: Questions
    replay: Replay

    @cached_property
    def rightly(self) -> int:
        """In how many cases it speaks rightly."""
        return sum(one.rightly is True for one in self.spoke)

    @cached_property
    def wrongly(self) -> int:
        """In how many cases it speaks wrongly."""
        return sum(one.rightly is False for one in self.spoke)


def what_it_does(
    past: Past, after: OpenBook, dough: str, rule: str, progress: Progress | None = None
) -> Effect:
    """What a rule of a changed book does; ``past`` holds the book before, and the cases.

    The rule may be new or changed. Keep ``past`` from one look at a draft to the next: what the
    book before says is worked out once.

    Raises:
        LookupError: the changed book has no such rule.
    """
    ready = after.ready(dough)
    found = next((one for one in ready.dough.rules if one.id == rule), None)
    if found is None:
        raise LookupError(f"The book has no rule {rule}.")
    replayed = past.replay(after, progress)
    speaking = set(replayed.spoke.get(rule, ()))
    return Effect(
        rule=found,
        says=in_words(ready.speaker, ready.dough, found),
        spoke=tuple(
            SpokeIn(case, rightly(found, case)) for case in past.cases if case.id in speaking
        ),
        beside=neighbours(ready.speaker, ready.dough, found),
        questions=questions(past.opened, after, dough, found),
        replay=replayed,
    )


def rightly(rule: Rule, case: PastCase) -> bool | None:
    """Whether what a rule says of its cause is true in a case; None where that is not known."""
    if not case.causes or rule.concludes is not None:
        return None
    if rule.points_to is not None:
        return rule.points_to in case.causes
    return (rule.points_away_from or rule.rules_out) not in case.causes


def in_words(speaker: Speaker, dough: Dough, rule: Rule) -> tuple[str, ...]:
    """A rule in plain sentences: when it speaks, what follows, and how much a draft counts."""
    said = [f"If {' and '.join(speaker.wanted(c) for c in rule.when)}, {_follows(dough, rule)}."]
    said += [f"Not if {speaker.wanted(c)}." for c in rule.unless]
    if rule.standing == "draft" and rule.concludes is None:
        said.append("It is a draft: it counts half, and is shown as a draft.")
    if rule.standing == "retired":
        said.append("It is retired: it does not speak.")
    return tuple(said)


def _follows(dough: Dough, rule: Rule) -> str:
    if rule.concludes is not None:
        means = next((f.means for f in dough.findings if f.id == rule.concludes), rule.concludes)
        return f"then “{means}” holds"
    about = rule.points_to or rule.points_away_from or rule.rules_out
    cause = next((c.say for c in dough.causes if c.id == about), str(about))
    if rule.rules_out is not None:
        return f"this all but rules out “{cause}”"
    way = "for" if rule.points_to is not None else "against"
    return f"this speaks {_WEIGHS[str(rule.strength)]} {way} “{cause}”"


def neighbours(speaker: Speaker, dough: Dough, rule: Rule) -> tuple[Neighbour, ...]:
    """How a rule stands to the others of its dough; a retired rule stands beside none."""
    if rule.standing == "retired":
        return ()
    return tuple(_in_words(speaker, rule, one) for one in beside(audit_around(dough, rule), rule))


def _in_words(speaker: Speaker, rule: Rule, one: Beside) -> Neighbour:
    if one.relation == "not decided" and one.other is None:
        say = "Whether it can ever speak would take too long to work out."
    else:
        say = _BESIDE[one.relation].format(other=one.other)
    example = tuple(speaker.fact(name, value) for name, value in one.facts.items())
    return Neighbour(one.relation, one.other, say, example)


_walked: WeakKeyDictionary[OpenBook, dict[str, int]] = WeakKeyDictionary()


def questions(before: OpenBook, after: OpenBook, dough: str, rule: Rule) -> Questions:
    """Taps until the first remedy over whole cases at the rule's stages, the same in both books."""
    told = before.book.dough(dough)
    known = {case.id for case in told.whole_cases} if told is not None else set()
    now = after.ready(dough).dough
    sample = _spread([c for c in now.whole_cases if c.id in known and _at_its_stage(rule, c)])
    return Questions(
        tuple(_count(before, before.ready(dough).dough, case) for case in sample),
        tuple(_count(after, now, case) for case in sample),
    )


def _count(opened: OpenBook, dough: Dough, case: WholeCase) -> int:
    kept = _walked.setdefault(opened, {})
    if case.id not in kept:
        kept[case.id] = walk(opened, dough, case).taps
    return kept[case.id]


def _at_its_stage(rule: Rule, case: WholeCase) -> bool:
    return all(
        c.phrase.judge(str(case.situation.get("stage"))).name == "YES"
        for c in rule.when
        if c.kind == "stage" and isinstance(c.phrase, OneOf)
    )


def _spread(cases: Sequence[WholeCase]) -> list[WholeCase]:
    """At most ``WALKED`` of them, evenly out of the whole list, always the same."""
    if len(cases) <= WALKED:
        return list(cases)
    return [cases[n * len(cases) // WALKED] for n in range(WALKED)]


def _taps(taps: Sequence[int]) -> str:
    return f"{median(taps):g} in the middle and {fmean(taps):.1f} on average"
