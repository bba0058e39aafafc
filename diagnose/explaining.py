"""Sentences from the trace: why, one fact short, and what would change my mind.

Nothing is said here that the trace does not hold. Facts are told back in the cook's own words.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from diagnose.engine.trace import Judged, RuleTrace
from diagnose.knowledge.book import Book, Condition, Dough, Rule, Source
from diagnose.knowledge.diagnosis import Because, OneFactShort
from diagnose.knowledge.phrases import OneOf, Presence, Value
from diagnose.reasoning.likelihood import Table
from diagnose.reasoning.posterior import about, weight_of
from diagnose.reasoning.turning import Turn
from diagnose.reasoning.words import SAYS_NOTHING

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

    def answer(self, question: str, answer: str) -> str:
        """A question that a cook may be asked, with one of its answers, in the cook's words."""
        asked = self._signs.get(question) or self._readings[question]
        return f"“{asked.ask}” – “{self.choice(question, answer)}”"

    def choice(self, subject: str, answer: str) -> str:
        """One answer of a sign, or one band of a number or of what that number is judged by."""
        if subject in self._signs:
            return {a.id: a.say for a in self._signs[subject].answers}[answer]
        reading = self._readings.get(subject)
        if reading is not None and reading.judged_by is None:
            return {band.id: band.say for band in reading.bands}[answer]
        judge = self._computed[subject if reading is None else str(reading.judged_by)]
        return {band.id: band.say for band in judge.bands}[answer]

    def wanted(self, condition: Condition) -> str:
        """What a condition asks for, to stand after "if"."""
        subject, phrase = condition.subject, condition.phrase
        if isinstance(phrase, Presence):
            means = self._findings[subject].means
            return f"“{means}” {'holds' if phrase.present else 'is not established'}"
        if isinstance(phrase, OneOf) and subject == "stage":
            listed = " or ".join(self.stage(name) for name in phrase.answers)
            return f"the stage is {'not ' if phrase.negated else ''}{listed}"
        if isinstance(phrase, OneOf):
            said = {a.id: f"“{a.say}”" for a in self._signs[subject].answers}
            listed = " or ".join(said[name] for name in phrase.answers)
            sense = "is answered, but not" if phrase.negated else "is answered"
            return f"“{self._signs[subject].ask}” {sense} {listed}"
        return f"“{subject.replace('-', ' ').capitalize()}” is {phrase}"

    def stage(self, name: str) -> str:
        """The title of a stage."""
        return self._stages[name].title

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
    top: str | None = None,
) -> tuple[Because, ...]:
    """Everything that spoke about the causes in play: rules first, then rows of the table.

    With ``top``, the most likely cause, what bears on that one comes before all else, the
    weightiest first; of equal weights, and for the rest, the book's order stands. A draft weighs
    half.
    """
    spoken: list[tuple[float, Because]] = []
    for trace in traces:
        rule = trace.rule
        subject = rule.concludes or about(rule)
        if trace.status != "spoke" or subject is None:
            continue
        if rule.concludes is None and subject not in causes:
            continue
        told = [speaker.judged(judged) for judged in trace.when]
        told += [
            f"Would be stopped by: {speaker.needed(judged.condition)}"
            for judged in trace.would_be_stopped_by
        ]
        entry = Because(
            rule=rule.id,
            says=rule.says,
            for_=subject,
            strength=strength_in_words(rule),
            facts=tuple(told),
            why=rule.why,
            source=speaker.source(rule.source),
            standing=rule.standing,
        )
        spoken.append((weight_of(rule), entry))
    for table in tables.values():
        value = facts.get(table.asked.id)
        answer = table.asked.answer_for(value)
        for cause, row in table.rows.items():
            if answer is None or cause not in causes:
                continue
            cell = table.taught.get(cause, {}).get(answer)
            strength = row.answers.get(answer) or (cell.word if cell else SAYS_NOTHING)
            # a word left out speaks too, once cases have given it one
            if strength != SAYS_NOTHING:
                entry = Because(
                    rule=row.id,
                    says=row.why,
                    for_=cause,
                    strength=strength,
                    facts=(speaker.fact(table.asked.id, value),),
                    why=row.why,
                    source=speaker.source(row.source),
                    standing="table",
                    learned=None if cell is None else cell.say,
                )
                spoken.append((table.shift(cause, answer), entry))
    if top is not None:
        # a stable sort: nothing but the weight on the first cause moves an entry
        spoken.sort(key=lambda s: -abs(round(s[0], 9)) if s[1].for_ == top else 0.0)
    return tuple(entry for _, entry in spoken)


def strength_in_words(rule: Rule) -> str:
    if rule.concludes is not None:
        return "concludes"
    if rule.rules_out is not None:
        return "rules out"
    return f"{rule.strength} {'against' if rule.points_away_from else 'for'}"


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


def turn_says(speaker: Speaker, turn: Turn, first: str) -> str:
    """What would change my mind, as a sentence; ``first`` is the other remedy's first line."""
    told = " and ".join(speaker.answer(question, answer) for question, answer in turn.answers)
    return f"If you told {told}, I would first: {first}"


def holds_because_says(speaker: Speaker, names: Sequence[str], facts: Mapping[str, Value]) -> str:
    """The answers that the first remedy rests on, as a sentence; empty if there are none."""
    if not names:
        return ""
    listed = "; ".join(speaker.fact(name, facts.get(name)) for name in names)
    one = "that" if len(names) == 1 else "those"
    return f"I say this because of: {listed}. Without {one} I would begin with something else."
