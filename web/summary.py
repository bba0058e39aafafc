"""The story of a batch in order: a pure function of what was told, for paper or a message."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from casebook.consultations import Consultation, Entry
from diagnose.knowledge.book import Dough, Remedy
from diagnose.knowledge.diagnosis import Diagnosis

from . import wording
from .recap import batch_row, row_of
from .situation import current

OUTCOMES = {
    "as-it-should": "It came out as it should",
    "not-quite": "It was served, not quite right",
    "not-served": "It could not be served",
    "thrown-away": "It was thrown away",
}
"""How a batch can end."""


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that was told or done, and when."""

    at: datetime
    what: str
    said: str

    @property
    def clock(self) -> str:
        """The time on the kitchen clock, which is this computer's."""
        return self.at.astimezone().strftime("%H:%M")

    @property
    def sentence(self) -> str:
        """Both in one line; a question ends with its own mark."""
        return (
            f"{self.what} {self.said}" if self.what.endswith("?") else f"{self.what}: {self.said}"
        )


def story(consultation: Consultation, dough: Dough) -> list[Line]:
    """What was told, in order; of a thing told again at once, only the last word."""
    lines: list[Line] = []
    held = current(consultation, dough)
    batch = batch_row(held, "")
    if batch is not None:
        lines.append(Line(consultation.opened, batch.what, batch.said))
    for entry in consultation.entries:
        line = line_of(entry, dough)
        if line is None:
            continue
        if lines and lines[-1].what == line.what:
            lines.pop()
        lines.append(line)
    return lines


def line_of(entry: Entry, dough: Dough) -> Line | None:
    """One thing told or done, in words; None for what says nothing to a reader."""
    if entry.kind == "tried" and isinstance(entry.value, dict):
        remedy = next((r for r in dough.remedies if r.id == entry.value["remedy"]), None)
        said = wording.RESULTS.get(str(entry.value["result"]), str(entry.value["result"]))
        return Line(entry.at, f"Tried: {remedy_in_words(remedy, str(entry.value['remedy']))}", said)
    if entry.kind == "follows":
        title = next((s.title for s in dough.stages if s.id == entry.value), None)
        return Line(entry.at, "Recipe", title or "On the table")
    if entry.kind == "avoid":
        cause = next((c for c in dough.causes if c.id == entry.name), None)
        return Line(entry.at, "To avoid this time", cause.say) if cause else None
    if entry.kind == "outcome":
        return Line(entry.at, "How it came out", OUTCOMES.get(str(entry.value), str(entry.value)))
    row = row_of(entry, dough)
    return None if row is None else Line(entry.at, row.what, row.said)


def remedy_in_words(remedy: Remedy | None, name: str) -> str:
    """A remedy's headline where it needs no amounts, else its name."""
    if remedy is None or "{" in remedy.first:
        return name.replace("-", " ")
    return remedy.first[:1].lower() + remedy.first[1:]


def thought(diagnosis: Diagnosis | None) -> list[str]:
    """What the program thinks now, in words."""
    if diagnosis is None:
        return []
    lines = [f"{cause.say} ({cause.words})" for cause in diagnosis.causes[:3]]
    if diagnosis.learned:
        many = "case teaches" if diagnosis.learned == 1 else "cases teach"
        lines.append(f"Judged with what {diagnosis.learned:,} confirmed {many}")
    return lines


def as_text(
    title: str, lines: Sequence[Line], thoughts: Sequence[str], lessons: Sequence[str]
) -> str:
    """The summary as plain text, to be kept or sent."""
    return "\n".join(_text(title, lines, thoughts, lessons)) + "\n"


def _text(
    title: str, lines: Sequence[Line], thoughts: Sequence[str], lessons: Sequence[str]
) -> Iterator[str]:
    yield title
    yield ""
    for line in lines:
        yield f"{line.clock}  {line.sentence}"
    for heading, sentences in (("What it probably was", thoughts), ("Next time", lessons)):
        if sentences:
            yield ""
            yield f"{heading}:"
            yield from (f"- {wording.full_stop(sentence)}" for sentence in sentences)
