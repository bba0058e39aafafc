"""A confirmed case as a plain record, and how a situation becomes one.

Only cases whose cause a person has confirmed are made into records. A look that nobody took is
absent from ``answers``: it is never counted as a "no".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from diagnose.knowledge.book import Dough
from diagnose.knowledge.facts import facts_of
from diagnose.knowledge.situation import Situation, Tried
from diagnose.reasoning.likelihood import Asked, asked_parts
from diagnose.reasoning.words import SOMETHING_ELSE

HIGH_FROM_M: Final = 900.0
"""From here on a kitchen counts as high, in metres; house rule, as in the book's elevation bands
(3,000 ft, where household guides begin to adjust recipes; common practice, no source)."""
LOW: Final = "low"
HIGH: Final = "high"
POOL: Final = "any elevation"
"""All cases together, those of unknown elevation included."""


def band_of(elevation_m: float | None) -> str:
    """The elevation band whose counts speak for a kitchen; not known is the pool of all.

    >>> band_of(6), band_of(900), band_of(None)
    ('low', 'high', 'any elevation')
    """
    if elevation_m is None:
        return POOL
    return HIGH if elevation_m >= HIGH_FROM_M else LOW


@dataclass(frozen=True, slots=True)
class ConfirmedCase:
    """One case that a person confirmed.

    ``answers`` is what was seen before the first remedy, by sign or banded reading; ``thought``
    is what the tool thought then, cause -> chance. ``causes`` holds one id or several, or
    "something-else"; never none.
    """

    id: str
    dough: str
    stage: str
    answers: Mapping[str, str]
    causes: tuple[str, ...]
    elevation_m: float | None = None
    thought: Mapping[str, float] = field(default_factory=dict)
    advised: str | None = None
    """The remedy that was advised first."""
    right_first: str | None = None
    """The remedy that should have come first, where the person who confirmed said so."""
    tried: tuple[Tried, ...] = ()
    asked: tuple[str, ...] = ()
    """Questions asked, in order, answered or not."""
    outcome: str | None = None
    note: str = ""
    situation: Situation | None = None
    """Everything told before the first remedy, for going through the house again."""

    def __post_init__(self) -> None:
        """Refuse a record that confirms nothing.

        Raises:
            ValueError: no cause, or one cause twice.
        """
        if not self.causes:
            raise ValueError(
                f"Case {self.id}: causes is empty; a confirmed case names at least one cause,"
                f' or "{SOMETHING_ELSE}"'
            )
        if len(set(self.causes)) != len(self.causes):
            listed = ", ".join(self.causes)
            raise ValueError(
                f"Case {self.id}: causes names one cause twice ({listed}); name each once"
            )

    @property
    def band(self) -> str:
        """Its elevation band."""
        return band_of(self.elevation_m)


def answers_of(
    dough: Dough, situation: Situation, parts: Sequence[Asked] | None = None
) -> dict[str, str]:
    """The answers that a situation amounts to: signs as told, numbers as the band they lie in.

    Readings that follow from the batch by arithmetic count too, when they have bands. ``parts``
    are the looks of the dough, if whoever has many situations made them once.
    """
    facts = facts_of(situation, dough)
    found = {}
    for asked in asked_parts(dough) if parts is None else parts:
        answer = asked.answer_for(facts.get(asked.id))
        if answer is not None:
            found[asked.id] = answer
    return found


def right_remedies(dough: Dough, case: ConfirmedCase) -> frozenset[str]:
    """The remedies that would have been right to advise first.

    The one that the confirming person named; otherwise every remedy listed for a true cause, and
    for "nothing wrong" the remedy of doing nothing. Empty if the book knows none.
    """
    if case.right_first is not None:
        return frozenset((case.right_first,))
    by_id = {cause.id: cause for cause in dough.causes}
    right = {t.remedy for name in case.causes if name in by_id for t in by_id[name].tries}
    if dough.carry_on in case.causes:
        right |= {remedy.id for remedy in dough.remedies if remedy.kind == "none"}
    return frozenset(right)
