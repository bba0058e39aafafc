"""The parts of a book, as an author wrote them and a reader checked them.

Everything here is immutable. Names with hyphens are the author's; fixed words are the program's.
Chances are never written down: an author chooses words, and ``diagnose.reasoning`` says what a
word is worth.
"""

from __future__ import annotations

from functools import cached_property
from typing import Literal

from pydantic import Field

from .modes import FailureMode
from .part import Part as Part  # for those who take it from here
from .phrases import Phrase, Value

Effort = Literal["glance", "touch", "taste", "remember", "test", "measure"]
"""How much trouble a look is: a glance is cheapest, measuring with a tool dearest."""
Tool = Literal["scale", "thermometer", "ruler", "clock"]
Commonness = Literal["very common", "common", "occasional", "rare"]
Strength = Literal["decisive", "strong", "moderate", "slight"]
Weight = Literal[
    "decisive for",
    "strong for",
    "moderate for",
    "slight for",
    "slight against",
    "moderate against",
    "strong against",
    "rules out",
]
Works = Literal["nearly always", "usually", "often", "sometimes"]
Harm = Literal["ruins it", "makes it worse"]
Kind = Literal[
    "heat",
    "flour",
    "liquid",
    "cool",
    "strain",
    "chill",
    "technique",
    "serve",
    "restart",
    "discard",
    "none",
]
Label = Literal["common practice", "house rule", "published"]
Standing = Literal["draft", "tried", "trusted", "retired"]
Given = Literal[
    "elevation",
    "flour measured",
    "minutes simmered",
    "minutes cooked",
    "minutes to serving",
    "yolks",
]
"""A fact that the kitchen or batch form already tells, so that it is not asked again."""


class Source(Part):
    """Where a statement comes from: a key of ``sources.yaml`` and a place in it."""

    see: str
    at: str | None = None


class SourceEntry(Part):
    """One entry of ``sources.yaml``."""

    key: str
    kind: Literal[
        "book", "paper", "standard", "table", "guide", "own trial", "practice", "house rule"
    ]
    by: str
    title: str
    year: str | None = None
    where: str | None = None
    mark: Literal[
        "read", "read in abstract", "second-hand", "computed", "derived", "memory", "none"
    ]
    checked: str | None = None
    line: int = 0


class Answer(Part):
    """One possible answer to a sign, in the cook's words."""

    id: str
    say: str


class Sign(Part):
    """Something the cook sees, touches, tastes or remembers."""

    id: str
    ask: str
    how: str | None = None
    answers: tuple[Answer, ...]
    stages: tuple[str, ...]
    effort: Effort
    how_common: dict[str, Commonness] = Field(default_factory=dict)
    """How often an answer is met when no cause says otherwise; the others are occasional."""
    given_by: Given | None = None
    line: int = 0


class Band(Part):
    """A named stretch of a reading, used as its answer in the evidence table."""

    id: str
    say: str
    phrase: Phrase


class Reading(Part):
    """Something measured."""

    id: str
    ask: str
    how: str | None = None
    unit: str
    likely: tuple[float, float]
    possible: tuple[float, float]
    good_to: float
    tool: Tool | None = None
    stages: tuple[str, ...]
    effort: Effort
    given_by: Given | None = None
    bands: tuple[Band, ...] = ()
    judged_by: str | None = None
    """The computed reading whose bands say what this number means for the batch at hand."""
    line: int = 0


class ComputedReading(Part):
    """A value worked out from the batch by a named computation."""

    id: str
    means: str
    formula: str
    unit: str
    say: str
    """Sentence with ``{value}``; empty when the number is not for cooks."""
    bands: tuple[Band, ...] = ()
    line: int = 0


class Finding(Part):
    """What a rule may conclude from facts, for use by other rules."""

    id: str
    means: str
    calls_for: str | None = None
    """A remedy that this finding makes the only one, whatever the chances say."""
    line: int = 0


class Try(Part):
    """A remedy that helps against a cause, and how often it does."""

    remedy: str
    works: Works


class Cause(Part):
    """What went wrong, in one sentence."""

    id: str
    say: str
    how_common: Commonness
    shows_at: tuple[str, ...]
    tries: tuple[Try, ...]
    next_time: str
    known_gaps: str | None = None
    line: int = 0


class Addition(Part):
    """Something a remedy adds, by a named dose of ``diagnose.kitchen``."""

    of: str
    by: str


class Remedy(Part):
    """What to do."""

    id: str
    kind: Kind
    first: str
    """The headline: one verb, one amount. May hold {dose}, {minutes}."""
    do: tuple[str, ...]
    amounts: tuple[Addition, ...] = ()
    minutes: float
    """How long it takes at the stove; when ``minutes_by`` names a computation, only a fallback."""
    minutes_by: str | None = None
    look_for: str
    give_up_when: str
    cautions: tuple[str, ...] = ()
    harm_under: tuple[tuple[str, Harm], ...] = ()
    only_after: tuple[str, ...] = ()
    """Findings that must be established before this may be advised."""
    may_repeat: int = 1
    establishes: tuple[str, ...] = ()
    """Findings that hold once this has been done, whatever it changed."""
    changes: tuple[str, ...] = ()
    """Signs and readings that are out of date once this has been tried, and may be asked anew."""
    uses: tuple[str, ...] = ()
    """Ingredients it cannot be done without, beyond those whose amounts are worked out."""
    stages: tuple[str, ...]
    label: Label
    source: Source
    line: int = 0


class Condition(Part):
    """One line of a rule's ``when`` or ``unless``."""

    subject: str
    kind: Literal["sign", "reading", "computed", "finding", "stage"]
    phrase: Phrase


class RuleCase(Part):
    """What was told, and whether the rule must speak."""

    told: dict[str, Value]
    speaks: bool


class Rule(Part):
    """Conditions, and what follows from them."""

    id: str
    says: str
    when: tuple[Condition, ...]
    unless: tuple[Condition, ...] = ()
    concludes: str | None = None
    points_to: str | None = None
    points_away_from: str | None = None
    rules_out: str | None = None
    strength: Strength | None = None
    group: str | None = None
    why: str
    source: Source
    standing: Standing
    known_gaps: str | None = None
    cases: tuple[RuleCase, ...]
    line: int = 0


class EvidenceRow(Part):
    """One row of the table: how a cause shifts the chances of each answer."""

    of: str
    about: str
    answers: dict[str, Weight]
    why: str
    source: Source
    group: str | None = None
    line: int = 0

    @property
    def id(self) -> str:
        """The row's name in a trace, e.g. ``paste-body/undercooked-paste``."""
        return f"{self.of}/{self.about}"


class Meanwhile(Part):
    """What to do with the pan while reading; the first that is safe is shown."""

    say: str
    not_under: tuple[str, ...] = ()


class Complaint(Part):
    """A chief complaint: a picture and a sentence that stand for first answers."""

    id: str
    say: str
    told: dict[str, str]


class StageTimer(Part):
    """Something that runs by itself while the cook does something else."""

    say: str
    minutes: float


class Stage(Part):
    """One step of the dough."""

    id: str
    title: str
    do: tuple[str, ...]
    """The step itself; names of ingredients in braces stand for this batch's amounts."""
    timers: tuple[StageTimer, ...]
    right: tuple[str, ...]
    minutes_from_scratch: float
    """From the decision to start over until a new batch is back at this stage."""
    minutes_to_plate: float
    """From here to the plate when nothing goes wrong."""
    meanwhile: tuple[Meanwhile, ...]
    complaints: tuple[Complaint, ...]
    line: int = 0


class HouseBatch(Part):
    """The amounts that stand in when none are told, and the base for scaling; grams."""

    milk_g: float
    flour_g: float
    salt_g: float
    yolks: float
    cheese_g: float
    butter_g: float


class Caution(Part):
    """A warning that remedies and stages refer to."""

    id: str
    say: str
    source: Source
    line: int = 0


class Retired(Part):
    """A rule that was taken out. Its name is not used again."""

    id: str
    when: str
    why: str
    replaced_by: str | None = None
    line: int = 0


class WholeCase(Part):
    """A whole consultation with a known answer."""

    id: str
    story: str
    situation: dict[str, object]
    """As the machine face takes it, without ``dough``."""
    first_cause: str | None
    first_remedy: str | None
    never: tuple[str, ...] = ()
    source: Source
    line: int = 0


class Dough(Part):
    """One dough and everything known about it."""

    id: str
    title: str
    covers: str
    does_not_cover: str
    house_batch: HouseBatch
    stages: tuple[Stage, ...]
    signs: tuple[Sign, ...]
    readings: tuple[Reading, ...]
    computed: tuple[ComputedReading, ...]
    findings: tuple[Finding, ...]
    causes: tuple[Cause, ...]
    remedies: tuple[Remedy, ...]
    evidence: tuple[EvidenceRow, ...]
    rules: tuple[Rule, ...]
    cautions: tuple[Caution, ...]
    whole_cases: tuple[WholeCase, ...]
    carry_on: str
    """The cause that stands for "nothing is wrong"."""
    failure_modes: tuple[FailureMode, ...] = ()
    retired: tuple[Retired, ...] = ()
    file: str = ""
    """The file it was read from, for naming the place of a mistake."""

    @cached_property
    def given(self) -> tuple[Sign | Reading, ...]:
        """The signs and readings that the kitchen or batch form also answers."""
        parts: tuple[Sign | Reading, ...] = (*self.signs, *self.readings)
        return tuple(part for part in parts if part.given_by is not None)


class Book(Part):
    """One loaded set of doughs, with its sources and a fingerprint of the text."""

    version: str
    doughs: tuple[Dough, ...]
    sources: tuple[SourceEntry, ...]

    def dough(self, name: str) -> Dough | None:
        """The dough of that name, or None."""
        return next((d for d in self.doughs if d.id == name), None)
