"""Sentences from the trace: why, why not, and one fact short.

Nothing is said here that the trace does not hold. Facts are told back in the cook's own words.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from diagnose.engine.trace import Judged, RuleTrace
from diagnose.knowledge.book import Book, Condition, Dough, Source
from diagnose.knowledge.diagnosis import Because, OneFactShort
from diagnose.knowledge.phrases import Presence, Value
from diagnose.reasoning.likelihood import Table
from diagnose.reasoning.posterior import about

UNIT_SIGNS = {"degC": "°C", "degF": "°F", "%": "%"}
MARKS = {
    "read": "read",
    "read in abstract": "only its abstract was read",
    "second-hand": "second-hand",
    "computed": "computed here from read constants",
    "derived": "our own arithmetic, not an observation",
    "memory": "from memory, not checked",
    "none": "no source",
}
"""How far a source can be trusted, as a reader is told."""
MOST_ONE_FACT_SHORT = 6


class Speaker:
    """Says facts, conditions and sources of one dough in plain words."""

    def __init__(self, book: Book, dough: Dough) -> None:
        self._sources = {entry.key: entry for entry in book.sources}
        self._signs = {sign.id: sign for sign in dough.signs}
        self._readings = {reading.id: reading for reading in dough.readings}
        self._computed = {computed.id: computed for computed in dough.computed}
        self._findings = {finding.id: finding for finding in dough.findings}
        self._stages = {stage.id: stage for stage in dough.stages}

    def fact(self, subject: str, value: Value | None) -> str:
        """One fact as the cook told it, or as it was worked out."""
        if value is None:
            return f"Not known: {subject.replace('-', ' ')}"
        if subject == "stage":
            return f"Stage: {self._stages[str(value)].title}"
        if subject in self._findings:
            return self._findings[subject].means
        if subject in self._signs:
            answers = {answer.id: answer.say for answer in self._signs[subject].answers}
            return answers[str(value)]
        name = subject.replace("-", " ").capitalize()
        unit = (self._readings.get(subject) or self._computed[subject]).unit
        text = f"{name}: {number(float(value))} {UNIT_SIGNS.get(unit, unit)}"
        reading = self._readings.get(subject)
        return text if reading is None else text + self._borderline(subject, float(value))

    def _borderline(self, subject: str, value: float) -> str:
        reading = self._readings[subject]
        for band in reading.bands:
            for limit in (getattr(band.phrase, "low", None), getattr(band.phrase, "high", None)):
                if limit is not None and abs(value - limit) < reading.good_to:
                    return f" (borderline: good to {number(reading.good_to)})"
        return ""

    def judged(self, judged: Judged) -> str:
        """A condition that was met, as the fact that met it."""
        if isinstance(judged.condition.phrase, Presence) and not judged.condition.phrase.present:
            return f"Not established: {self._findings[judged.condition.subject].means}"
        return self.fact(judged.condition.subject, judged.value)

    def needed(self, condition: Condition) -> str:
        """What would have to be looked at to judge a condition."""
        subject = condition.subject
        if subject in self._signs:
            return self._signs[subject].ask
        if subject in self._readings:
            return self._readings[subject].ask
        if subject in self._findings:
            return self._findings[subject].means
        return f"{self._computed[subject].means} ({condition.phrase})"

    def source(self, source: Source) -> str:
        """A source with its place, and how far it can be trusted."""
        entry = self._sources[source.see]
        if entry.kind == "practice":
            return "Common practice, no source"
        if entry.kind == "house rule":
            return "House rule, untested"
        parts = [entry.by, entry.title, entry.year, entry.where, source.at]
        return f"{', '.join(part for part in parts if part)} ({MARKS[entry.mark]})"


def number(value: float) -> str:
    """A number without digits that nobody measured.

    >>> number(78.0), number(3.25)
    ('78', '3.2')
    """
    rounded = round(value, 1)
    return str(int(rounded)) if rounded == int(rounded) else str(rounded)


def because(
    speaker: Speaker,
    traces: Iterable[RuleTrace],
    tables: Mapping[str, Table],
    facts: Mapping[str, Value],
    causes: Collection[str],
) -> tuple[Because, ...]:
    """Everything that spoke about the causes in play: rules first, then rows of the table."""
    spoken = []
    for trace in traces:
        rule = trace.rule
        subject = rule.concludes or about(rule)
        if trace.status != "spoke" or subject is None:
            continue
        if rule.concludes is None and subject not in causes:
            continue
        if rule.concludes is not None:
            strength = "concludes"
        elif rule.rules_out is not None:
            strength = "rules out"
        else:
            strength = f"{rule.strength} {'against' if rule.points_away_from else 'for'}"
        told = [speaker.judged(judged) for judged in trace.when]
        told += [
            f"Would be stopped by: {speaker.needed(judged.condition)}"
            for judged in trace.would_be_stopped_by
        ]
        spoken.append(
            Because(
                rule=rule.id,
                says=rule.says,
                for_=subject,
                strength=strength,
                facts=tuple(told),
                why=rule.why,
                source=speaker.source(rule.source),
                standing=rule.standing,
            )
        )
    for table in tables.values():
        value = facts.get(table.asked.id)
        answer = table.asked.answer_for(value)
        for cause, row in table.rows.items():
            if answer in row.answers and cause in causes:
                fact = speaker.fact(table.asked.id, value)
                spoken.append(
                    Because(
                        rule=row.id,
                        says=row.why,
                        for_=cause,
                        strength=row.answers[answer],
                        facts=(fact,),
                        why=row.why,
                        source=speaker.source(row.source),
                        standing="table",
                    )
                )
    return tuple(spoken)


def one_fact_short(
    speaker: Speaker, traces: Iterable[RuleTrace], causes: Collection[str]
) -> tuple[OneFactShort, ...]:
    """Rules that would speak if one more thing were looked at, and what that is."""
    short = []
    for trace in traces:
        rule = trace.rule
        if trace.status != "unknown" or len(trace.missing) != 1:
            continue
        if rule.concludes is None and about(rule) not in causes:
            continue
        short.append(
            OneFactShort(
                rule=rule.id,
                says=rule.says,
                would_need=speaker.needed(trace.missing[0].condition),
            )
        )
    return tuple(short[:MOST_ONE_FACT_SHORT])
