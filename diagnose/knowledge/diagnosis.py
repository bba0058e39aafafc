"""The answer to a situation: the fixed shape of the machine face, ``/api/v1/diagnose``."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from .book import Kind

SituationWord = Literal[
    "ok-to-carry-on", "needs-a-remedy", "needs-an-answer", "start-over", "discard"
]


class Result(BaseModel):
    """Immutable part of an answer."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class CauseChance(Result):
    """A cause still in play. ``chance`` is rounded to two figures; cooks see ``words``."""

    id: str
    say: str
    chance: float
    words: str


class AnswerChoice(Result):
    """One answer a cook may tap."""

    id: str
    say: str


class Question(Result):
    """What to look at next. ``answers`` is empty when a number in ``unit`` is wanted."""

    id: str
    ask: str
    how: str | None
    answers: tuple[AnswerChoice, ...]
    unit: str | None
    why: str
    needs: str | None = None
    """The tool it takes: scale, thermometer, ruler or clock."""


class Amount(Result):
    """Something to add. ``grams`` is the whole dose; ``start_with`` says how to begin."""

    of: str
    grams: float
    say: str
    start_grams: float
    start_with: str
    between: str


class PlanStep(Result):
    """One remedy, filled in for this batch."""

    remedy: str
    kind: Kind
    first: str
    do: tuple[str, ...]
    amounts: tuple[Amount, ...]
    minutes: float
    minutes_say: str
    look_for: str
    give_up_when: str
    cautions: tuple[str, ...]
    label: str
    source: str


class HeldBack(Result):
    """A remedy that is not advised yet, and what it waits for."""

    remedy: str
    kind: Kind
    why: str
    question: str | None = None
    """The open question that could clear it, if there is one."""


class StartOver(Result):
    """The other way out, always in the race."""

    minutes: float
    needs: tuple[str, ...]
    better_than_rescue: bool
    say: str


class Because(Result):
    """One rule or table row that spoke."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    rule: str
    says: str
    for_: str = Field(alias="for")
    """The cause it bears on, or the finding it concludes."""
    strength: str
    """A strength word with "for" or "against", "rules out", or "concludes"."""
    facts: tuple[str, ...]
    why: str
    source: str
    standing: str
    learned: str | None = None
    """What confirmed cases made of the strength, where they moved the table."""


class OneFactShort(Result):
    """A rule that would speak if one more thing were known."""

    rule: str
    says: str
    would_need: str


class Computed(Result):
    """A value worked out from the batch."""

    id: str
    value: float
    unit: str
    say: str


class TwoThings(Result):
    """Two causes that are likelier than not to be at work together."""

    causes: tuple[str, str]
    say: str


class TurningAnswer(Result):
    """One answer of a set that would change the first remedy."""

    question: str
    answer: str
    say: str


class TurningPoint(Result):
    """A smallest set of further answers that would put another remedy first."""

    answers: tuple[TurningAnswer, ...]
    first: str
    say: str


class Turning(Result):
    """What would change the first remedy, and what it rests on."""

    points: tuple[TurningPoint, ...]
    rests_on: tuple[str, ...]
    """Signs and readings told, without which another remedy would come first; may be empty."""
    say: str


class Diagnosis(Result):
    """The whole answer."""

    book: str
    situation: SituationWord
    causes: tuple[CauseChance, ...]
    two_things: TwoThings | None = None
    meanwhile: str
    question: Question | None
    plan: tuple[PlanStep, ...]
    held_back: tuple[HeldBack, ...]
    start_over: StartOver
    cautions: tuple[str, ...]
    because: tuple[Because, ...]
    one_fact_short: tuple[OneFactShort, ...]
    computed: tuple[Computed, ...]
    assumed: tuple[str, ...]
    learned: int = 0
    """How many confirmed cases moved the written strengths; 0 if the words alone were used."""
