"""Everything told so far in one consultation."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

FlourMeasured = Literal["weighed", "spooned", "dipped", "sifted-first", "sifted-after", "unknown"]
Result = Literal["worked", "no-change", "worse", "cannot"]


class Told(BaseModel):
    """Immutable; unknown keys are refused by the reader before they get here."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Kitchen(Told):
    """Where the cook stands. Elevation in metres, measured boil in °C; None is not known."""

    elevation_m: float | None = None
    boil_c: float | None = None


class Batch(Told):
    """What went in; grams and minutes; None is not known."""

    milk_g: float | None = None
    flour_g: float | None = None
    flour_measured: FlourMeasured = "unknown"
    salt_g: float | None = None
    yolks: float | None = None
    cheese_g: float | None = None
    butter_g: float | None = None
    simmer_min: float | None = None
    cook_min: float | None = None
    serve_in_min: float | None = None


class Tried(Told):
    """A remedy that was tried and how it went; what it added, if known, in grams."""

    remedy: str
    result: Result
    added_g: float | None = None


class Situation(Told):
    """One consultation so far. Readings are in the reading's own unit."""

    dough: str
    stage: str
    kitchen: Kitchen = Kitchen()
    batch: Batch = Batch()
    signs: dict[str, str] = {}
    readings: dict[str, float] = {}
    tried: tuple[Tried, ...] = ()
    settled: tuple[Tried, ...] = ()
    """Remedies of an earlier complaint about this batch: what they added is in the pan, but how
    they went says nothing about what is wrong now."""
    missing: frozenset[str] = frozenset()
    """Ingredients there is none left of: milk, flour, salt, yolks, cheese, butter."""
    not_looked: frozenset[str] = frozenset()
    """Questions the cook could not answer: not asked again, and never evidence."""
