"""Timers as ends on the clock: the same on every phone, after a reload and after a restart."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from casebook.consultations import JSON, Consultation, Entry

from .told import Telling

SHOWN_AFTER_S = 600
"""How long a timer that ran out is still shown, in seconds."""
LONGEST_MIN = 24 * 60


@dataclass(frozen=True, slots=True)
class Timer:
    """Something that runs until an hour on the clock."""

    name: str
    what: str
    until: datetime
    minutes: float
    remedy: str | None
    """The remedy it belongs to; None for a timer of the recipe or of the cook's own."""

    @property
    def clock(self) -> str:
        """The end on the kitchen clock, which is this computer's."""
        return self.until.astimezone().strftime("%H:%M")

    @property
    def epoch(self) -> int:
        """The end in seconds, for the script that counts down."""
        return round(self.until.timestamp())


def timers_of(consultation: Consultation, now: datetime) -> tuple[Timer, ...]:
    """The timers that run, or ran out within the last ten minutes; the next to end first.

    A remedy's timer ends with its outcome and with a new look into the pan; one of the recipe, or
    of the cook's own, runs until it is stopped.
    """
    looked = max((e.number for e in consultation.entries if e.kind == "look-again"), default=0)
    tried = {e.name.partition("#")[0]: e.number for e in consultation.entries if e.kind == "tried"}
    last = {e.name: e for e in consultation.entries if e.kind == "timer"}
    found = []
    for timer, number in _read(last.values()):
        if timer.remedy is not None and number < max(looked, tried.get(timer.remedy, 0)):
            continue
        if (now - timer.until).total_seconds() < SHOWN_AFTER_S:
            found.append(timer)
    return tuple(sorted(found, key=lambda t: (t.until, t.name)))


def _read(entries: Iterable[Entry]) -> Iterator[tuple[Timer, int]]:
    for entry in entries:
        value = entry.value
        if not isinstance(value, dict):
            continue  # stopped
        what = str(value.get("what") or entry.name.replace("-", " ").capitalize())
        until = datetime.fromisoformat(str(value["until"]))
        remedy = None if value.get("free") else entry.name
        yield Timer(entry.name, what, until, float(value["minutes"]), remedy), entry.number


def starting(
    consultation: Consultation, what: str, minutes: float, now: datetime, *, remedy: str | None
) -> list[Telling]:
    """What starting a timer tells; nothing while one of that name runs.

    A second tap is no second timer.
    """
    name = remedy or name_of(what)
    running = next((t for t in timers_of(consultation, now) if t.name == name), None)
    if running is not None and running.until >= now:
        return []
    until = (now + timedelta(minutes=minutes)).isoformat()
    value: JSON = {"until": until, "minutes": minutes, "what": what, "free": remedy is None}
    return [("timer", name, value)]


def longer(timer: Timer, minutes: float, now: datetime) -> list[Telling]:
    """What adding minutes to a timer tells: to its end, or to now where it has run out."""
    until = (max(timer.until, now) + timedelta(minutes=minutes)).isoformat()
    value: JSON = {
        "until": until,
        "minutes": timer.minutes + minutes,
        "what": timer.what,
        "free": timer.remedy is None,
    }
    return [("timer", timer.name, value)]


def name_of(what: str) -> str:
    """A name for a timer from its words.

    >>> name_of("The slab chills, at 4 °C")
    'the-slab-chills-at-4-c'
    """
    return "-".join(re.findall(r"[a-z0-9]+", what.lower()))[:60] or "timer"
