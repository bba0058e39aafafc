"""Cases beside a rule, written from its conditions: one that speaks, near misses, nobody looked.

What was told in the case that the rule was made from comes first, as it was. Each value chosen
here meets or misses one condition and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from diagnose.knowledge.book import Dough
from diagnose.knowledge.measures import sign
from diagnose.knowledge.parsing_phrases import NotAPhrase, parse_value
from diagnose.knowledge.phrases import PRESENT, Interval, OneOf, Phrase, Presence, Truth, Value
from diagnose.knowledge.ruletext import Pairs

from .editing_form import Example, Sheet
from .editing_rows import Row, answers_of, judged, phrase_of, unit_of
from .wording import number

Findings = Callable[[Mapping[str, Value]], frozenset[str]]
"""What the book concludes from facts."""


def conditions_of(rows: Sequence[Row], dough: Dough) -> dict[str, Phrase]:
    """The conditions that are kept and can be judged."""
    found = {}
    for row in rows:
        if row.kept:
            try:
                found[row.subject] = judged(row.subject, phrase_of(row, dough), dough)
            except NotAPhrase:
                continue
    return found


def examples_in_step(sheet: Sheet, dough: Dough, findings: Findings) -> tuple[Example, ...]:
    """The cases that belong to the conditions of a form as they are now."""
    when, unless = conditions_of(sheet.when, dough), conditions_of(sheet.unless, dough)
    base = values_of(sheet.base, dough)
    speaking: dict[str, Value] = {}
    for subject, phrase in when.items():
        value = _meeting(subject, phrase, base.get(subject), dough)
        if value is not None:
            speaking[subject] = value
    cases: list[tuple[dict[str, Value], bool]] = []
    if base:
        cases.append((base, _speaks(base, when, unless, findings)))
    cases.append((speaking, True))
    for subject, phrase in when.items():
        cases += _near_miss(speaking, subject, phrase, dough)
    looked = [s for s, p in when.items() if not isinstance(p, Presence)] or list(when)[:1]
    cases += [(_without(speaking, subject), False) for subject in looked[:1]]
    for subject, phrase in unless.items():
        value = _meeting(subject, phrase, base.get(subject), dough)
        if value is not None and subject not in speaking:
            cases.append(({**speaking, subject: value}, False))
    told = [(told_of(facts, dough), "speaks" if speaks else "silent") for facts, speaks in cases]
    return tuple(Example(pairs, rule) for pairs, rule in dict(told).items())


def one_more(sheet: Sheet, act: str, dough: Dough) -> Sheet:
    """The form with one more case: "the same without", or "the same, but otherwise", row N."""
    kind, _, place = act.rpartition("-")
    when = conditions_of(sheet.when, dough)
    base = values_of(sheet.base, dough)
    speaking = {
        subject: value
        for subject, phrase in when.items()
        if (value := _meeting(subject, phrase, base.get(subject), dough)) is not None
    }
    rows = sheet.when
    row = rows[int(place)] if place.isdecimal() and int(place) < len(rows) else None
    cases: list[tuple[dict[str, Value], bool]] = []
    if kind == "without" and row is not None:
        cases = [(_without(speaking, row.subject), False)]
    elif kind == "otherwise" and row is not None and row.subject in when:
        cases = _near_miss(speaking, row.subject, when[row.subject], dough)
    elif act == "case-speaks":
        cases = [(speaking, True)]
    added = [
        Example(told_of(facts, dough), "speaks" if speaks else "silent") for facts, speaks in cases
    ]
    known = [e.told for e in sheet.examples if e.kept]
    new = [e for e in added if e.told not in known]
    return _with_examples(sheet, (*sheet.examples, *new))


def _with_examples(sheet: Sheet, examples: tuple[Example, ...]) -> Sheet:
    return Sheet(sheet.fields, sheet.when, sheet.unless, examples, False, sheet.base)


def values_of(pairs: Pairs, dough: Dough) -> dict[str, Value]:
    """What was told, as facts; what cannot be read is left out."""
    facts: dict[str, Value] = {}
    for subject, text in pairs:
        unit = unit_of(subject, dough)
        if unit is None:
            facts[subject] = text
            continue
        try:
            facts[subject] = parse_value(text, subject, unit)
        except NotAPhrase:
            continue
    return facts


def told_of(facts: Mapping[str, Value], dough: Dough) -> Pairs:
    """Facts as an author writes them in a case."""
    return tuple((name, _written(name, value, dough)) for name, value in facts.items())


def _written(subject: str, value: Value, dough: Dough) -> str:
    unit = unit_of(subject, dough)
    if unit is None or isinstance(value, str):
        return str(value)
    return f"{number(round(value, 3))} {sign(unit)}"


def _speaks(
    facts: Mapping[str, Value],
    when: Mapping[str, Phrase],
    unless: Mapping[str, Phrase],
    findings: Findings,
) -> bool:
    known = {**facts, **dict.fromkeys(findings(facts), PRESENT)}
    met = all(phrase.judge(known.get(subject)) is Truth.YES for subject, phrase in when.items())
    stopped = any(p.judge(known.get(subject)) is Truth.YES for subject, p in unless.items())
    return met and not stopped


def _meeting(subject: str, phrase: Phrase, told: Value | None, dough: Dough) -> Value | None:
    """A value that meets a condition: the one that was told, if it does."""
    if isinstance(phrase, Presence):
        return PRESENT if phrase.present else None
    if told is not None and phrase.judge(told) is Truth.YES:
        return told
    return _value(subject, phrase, Truth.YES, dough)


def _near_miss(
    speaking: Mapping[str, Value], subject: str, phrase: Phrase, dough: Dough
) -> list[tuple[dict[str, Value], bool]]:
    if isinstance(phrase, Presence):
        if phrase.present:
            return [(_without(speaking, subject), False)]
        return [({**speaking, subject: PRESENT}, False)]
    value = _value(subject, phrase, Truth.NO, dough)
    return [] if value is None else [({**speaking, subject: value}, False)]


def _without(facts: Mapping[str, Value], subject: str) -> dict[str, Value]:
    return {name: value for name, value in facts.items() if name != subject}


def _value(subject: str, phrase: Phrase, wanted: Truth, dough: Dough) -> Value | None:
    """The first answer, or a round number near the limit, that is judged as wanted."""
    if isinstance(phrase, OneOf):
        names: list[Value] = [name for name, _ in answers_of(subject, dough)]
        return next((name for name in names if phrase.judge(name) is wanted), None)
    assert isinstance(phrase, Interval)
    low, high, step = _scale(subject, dough)
    tried: list[float] = []
    if phrase.low is not None and phrase.high is not None:
        tried.append(round((phrase.low + phrase.high) / 2, 3))
    for limit in (phrase.low, phrase.high):
        if limit is not None:
            tried += [limit + 2 * step, limit - 2 * step, limit]
    tried += [low, high]
    return next((v for v in tried if low <= v <= high and phrase.judge(v) is wanted), None)


def _scale(subject: str, dough: Dough) -> tuple[float, float, float]:
    """Least, most, and what a kitchen can tell apart."""
    for reading in dough.readings:
        if reading.id == subject:
            return (*reading.possible, reading.good_to)
    return -1e6, 1e6, 1.0
