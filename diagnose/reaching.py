"""What a change of a book can reach, told from two compiled doughs and a situation, exactly.

Only a change of rules is followed. It leaves a case alone if no changed rule speaks in it, or
could after one more answer; or if one could, and no remedy that could harm hangs on that answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from .deciding import Ready
from .knowledge.book import Condition, Dough, Reading, Rule, Sign
from .knowledge.part import Part
from .knowledge.phrases import Presence, Truth, Value
from .knowledge.situation import Situation
from .reasoning.known import Known
from .reasoning.posterior import about
from .reasoning.risking import clearing_chances, could_harm

Ways = frozenset[str] | None
"""Looks of which any one may be enough; ``ANYWAY`` if none is needed."""
ANYWAY: Final = None
NO_WAY: Final[frozenset[str]] = frozenset()


@dataclass(frozen=True)
class Change:
    """What differs between two books about one dough."""

    more: bool
    """Whether anything but rules differs."""
    before: tuple[Rule, ...] = ()
    after: tuple[Rule, ...] = ()
    """The rules that differ, as far as they are in use."""
    in_play: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """By stage: the causes that can show at it."""
    given: frozenset[str] = frozenset()
    """Signs and readings that a form may tell, or that what was tried may move."""
    asked_at: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """By sign or reading: the stages at which it may be asked."""
    established: frozenset[str] = frozenset()
    """Findings that doing a remedy establishes."""
    concluding: Mapping[str, tuple[Rule, ...]] = field(default_factory=dict)
    """By finding: the rules of either book that conclude it."""

    @property
    def only_evidence(self) -> bool:
        """Whether nothing changed but rules that bear on causes."""
        return not self.more and all(about(r) is not None for r in (*self.before, *self.after))

    def reaches(self, situation: Situation) -> bool:
        """Whether a case could come out otherwise."""
        if self.more:
            return True
        return any(self._ways(rule, situation) != NO_WAY for rule in (*self.before, *self.after))

    def stays(self, then: Known, now: Ready) -> bool:
        """Whether the same is said first where rules that bear on causes do not speak now.

        Then they count only by what might be told next, and that only while a remedy that could
        harm waits for a question.
        """
        if not could_harm(then):
            return True
        looks = NO_WAY
        for rule in (*self.before, *self.after):
            if about(rule) in self.in_play[then.situation.stage]:
                ways = self._ways(rule, then.situation)
                if ways is ANYWAY:
                    return False
                looks |= ways
        changed = replace(then, net=now.rules.net)
        return clearing_chances(then, looks) == clearing_chances(changed, looks)

    def _ways(self, rule: Rule, situation: Situation) -> Ways:
        """What one more look could make a rule speak, if it is not told otherwise already.

        Nothing that is said first looks further ahead than one answer, or one remedy done, or
        both. What was told stays so, or is out of date after a remedy. What was not told can still
        be answered only where it is asked. What follows by arithmetic may become anything.
        """
        ways: Ways = ANYWAY
        for condition in rule.when:
            here = self._ways_of(condition, situation)
            ways = here if ways is ANYWAY else ways if here is ANYWAY else ways & here
            if ways == NO_WAY:
                break
        return ways

    def _ways_of(self, condition: Condition, situation: Situation) -> Ways:
        subject, phrase = condition.subject, condition.phrase
        if condition.kind == "computed" or subject in self.given:
            return ANYWAY
        if isinstance(phrase, Presence):
            if not phrase.present or subject in self.established:
                return ANYWAY
            ways = NO_WAY
            for rule in self.concluding.get(subject, ()):
                here = self._ways(rule, situation)
                if here is ANYWAY:
                    return ANYWAY
                ways |= here
            return ways
        value: Value | None
        if condition.kind == "stage":
            value = situation.stage
        elif condition.kind == "sign":
            value = situation.signs.get(subject)
        else:
            value = situation.readings.get(subject)
        if value is not None:
            return NO_WAY if phrase.judge(value) is Truth.NO else ANYWAY
        stages = self.asked_at.get(subject, ())
        asked = situation.stage in stages and subject not in situation.not_looked
        return frozenset((subject,)) if asked else NO_WAY


def change_of(before: Ready | None, now: Ready) -> Change:
    """What differs between two books about one dough; ``before`` is None if it is new."""
    if before is None:
        return Change(more=True, after=_in_use(now.dough.rules))
    was = before
    old = {rule.id: rule for rule in _in_use(was.dough.rules)}
    new = {rule.id: rule for rule in _in_use(now.dough.rules)}
    changed = [
        n for n in (*old, *(n for n in new if n not in old)) if not _same(old.get(n), new.get(n))
    ]
    parts: tuple[Sign | Reading, ...] = (*now.dough.signs, *now.dough.readings)
    order = [n for n in old if n in new] == [n for n in new if n in old]
    more = not order or was.learned != now.learned or not _same_but_rules(was.dough, now.dough)
    return Change(
        more=more,
        before=tuple(old[n] for n in changed if n in old),
        after=tuple(new[n] for n in changed if n in new),
        in_play={
            stage.id: frozenset(c.id for c in now.dough.causes if stage.id in c.shows_at)
            for stage in now.dough.stages
        },
        given=frozenset(part.id for part in now.dough.given),
        asked_at={part.id: part.stages for part in parts},
        established=frozenset(name for r in now.dough.remedies for name in r.establishes),
        concluding=_by_finding((*old.values(), *(new[n] for n in changed if n in new))),
    )


def _by_finding(rules: Iterable[Rule]) -> dict[str, tuple[Rule, ...]]:
    found: dict[str, tuple[Rule, ...]] = {}
    for rule in rules:
        if rule.concludes is not None:
            found[rule.concludes] = (*found.get(rule.concludes, ()), rule)
    return found


def _in_use(rules: Iterable[Rule]) -> tuple[Rule, ...]:
    return tuple(rule for rule in rules if rule.standing != "retired")


_SPEAKING: Final = ("house_batch", "carry_on")
_PARTS: Final = (
    "stages", "signs", "readings", "computed", "findings", "causes", "remedies", "evidence",
)  # fmt: skip
"""What of a dough, beside its rules, bears on what is said first."""


def _same_but_rules(one: Dough, other: Dough) -> bool:
    return all(getattr(one, name) == getattr(other, name) for name in _SPEAKING) and all(
        len(getattr(one, name)) == len(getattr(other, name))
        and all(map(_same, getattr(one, name), getattr(other, name)))
        for name in _PARTS
    )


def _same(one: Part | None, other: Part | None) -> bool:
    """Whether two parts say the same; where they stand in their files makes no difference."""
    if one is None or other is None:
        return one is other
    if one == other:
        return True
    return one.model_copy(update={"line": 0}) == other.model_copy(update={"line": 0})
