"""What the page of the editor prints: lists to choose from, and lines in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from diagnose.explaining import Speaker
from diagnose.judging import Effect
from diagnose.knowledge.book import Book, Condition, Dough
from diagnose.knowledge.measures import sign
from diagnose.knowledge.parsing_phrases import NotAPhrase
from diagnose.knowledge.ruletext import OUTCOMES, Pairs
from diagnose.reasoning.words import FACTOR
from diagnose.replaying import Difference

from .editing_after import seen
from .editing_cases import values_of
from .editing_form import Sheet, boxes_of_sheet, name_from
from .editing_rows import HOWS, Row, answers_of, judged, phrase_of, unit_of
from .rulebook import condition_in_words
from .situation import questions

if TYPE_CHECKING:
    from .editing import Work

OUTCOME_WORDS = {
    "points to": "points to a cause",
    "points away from": "points away from a cause",
    "rules out": "rules out a cause",
    "concludes": "concludes a finding, for other rules",
}
STRENGTHS: dict[str, float] = {
    "slight": FACTOR["slight for"],
    "moderate": FACTOR["moderate for"],
    "strong": FACTOR["strong for"],
    "decisive": FACTOR["decisive for"],
}

Choice = tuple[str, str]


def form_values(book: Book, dough: Dough, work: Work, name: str, new: bool) -> dict[str, Any]:
    """Everything the page needs, beside what every page needs."""
    sheet = work.sheet
    shown = name_from(sheet.fields.says, {r.id for r in dough.rules}) if new else name
    return {
        "new": new,
        "name": shown,
        "sheet": sheet,
        "boxes": boxes_of_sheet(sheet),
        "text": work.text,
        "typed": work.typed,
        "rows": min(40, work.typed.count("\n") + 3),
        "revision": work.revision,
        "reason": work.reason,
        "problems": work.problems,
        "preview": work.preview,
        "waiting": work.waiting,
        "seen": "" if work.preview is None or work.preview.errors else seen(work.text),
        "choosing": work.choosing,
        "both": work.both,
        "theirs": work.theirs,
        "outcomes": {one: OUTCOME_WORDS[one] for one in OUTCOMES},
        "targets": targets(dough, sheet),
        "strengths": strengths(sheet.fields.strength),
        "sources": sources(book, sheet.fields.see),
        "subjects": subjects(dough) if work.choosing else (),
        "hows": HOWS,
        "as_written": True,
        "spoken_lines": spoken_lines,
        "change_lines": lambda found: change_lines(found, dough),
        "rules_of": rules_of,
        "asked_of": lambda subject: asked_of(subject, dough),
        "answers_of": lambda subject: answers_of(subject, dough),
        "unit_said": lambda subject: f"85 {sign(unit_of(subject, dough) or '')}",
        "row_said": lambda row: row_said(row, dough),
        "said_in": lambda told: said_in(told, book, dough),
    }


def asked_of(subject: str, dough: Dough) -> str:
    """What a condition is about, in words."""
    if subject == "stage":
        return "The step"
    question = questions(dough).get(subject)
    means = {f.id: f.means for f in dough.findings} | {c.id: c.means for c in dough.computed}
    return question.ask if question else means.get(subject, subject)


def row_said(row: Row, dough: Dough) -> str:
    """What a condition wants, in words; the author's text where it is no phrase."""
    phrase = phrase_of(row, dough)
    try:
        read = judged(row.subject, phrase, dough)
    except NotAPhrase:
        return phrase or "not said yet"
    condition = Condition(subject=row.subject, kind="sign", phrase=read)
    return condition_in_words(dough, condition)[1]


def said_in(told: Pairs, book: Book, dough: Dough) -> str:
    """A case in the cook's words, as far as the book knows them."""
    speaker = Speaker(book, dough)
    said = []
    for subject, value in values_of(told, dough).items():
        try:
            said.append(speaker.fact(subject, value))
        except (KeyError, ValueError):
            said.append(f"{subject}: {value}")
    return "; ".join(said) or "Nothing told"


def targets(dough: Dough, sheet: Sheet) -> list[tuple[str, list[Choice]]]:
    """Causes, those of the rule's steps first, and findings."""
    near = _stages(dough, sheet)
    causes = [(c.id, c.say, near & {*c.shows_at} or "all" in c.shows_at) for c in dough.causes]
    groups = [
        ("Causes at this step", [(i, say) for i, say, here in causes if here]),
        ("Other causes", [(i, say) for i, say, here in causes if not here]),
        ("Findings", [(f.id, f.means) for f in dough.findings]),
    ]
    known = {entry for _, entries in groups for entry, _ in entries}
    if sheet.fields.target and sheet.fields.target not in known:
        groups.append(("Not in this book", [(sheet.fields.target, sheet.fields.target)]))
    return [(label, entries) for label, entries in groups if entries]


def _stages(dough: Dough, sheet: Sheet) -> set[str]:
    for row in sheet.when:
        if row.subject == "stage" and row.kept and not row.negated:
            return set(row.answers)
    asked = questions(dough)
    found: set[str] = set()
    for row in sheet.when:
        if row.kept and row.subject in asked:
            found |= set(asked[row.subject].stages)
    return found


def strengths(value: str) -> dict[str, str]:
    """The words for how strongly, with what they do to the odds."""
    words = {"": "none"}
    words |= {one: f"{one}: {factor:g} times the odds" for one, factor in STRENGTHS.items()}
    return words if value in words else {**words, value: value}


def sources(book: Book, value: str) -> list[Choice]:
    """The keys of the book's sources, in words."""
    listed = [(s.key, f"{s.by}: {s.title}"[:90]) for s in book.sources]
    return listed if value in ("", *(k for k, _ in listed)) else [*listed, (value, value)]


def subjects(dough: Dough) -> list[tuple[str, list[Choice]]]:
    """Everything a condition may be about."""
    parts: Sequence[tuple[str, list[Choice]]] = (
        ("Seen, felt, remembered", [(s.id, s.ask) for s in dough.signs]),
        ("Measured", [(r.id, r.ask) for r in dough.readings]),
        ("Worked out", [(c.id, c.means) for c in dough.computed]),
        ("Findings", [(f.id, f.means) for f in dough.findings]),
        ("Other", [("stage", "The step")]),
    )
    return [(label, entries) for label, entries in parts if entries]


def rules_of(value: str) -> list[Choice]:
    """What a rule may do in a case."""
    known = [("speaks", "It speaks"), ("silent", "It stays silent")]
    return known if value in ("speaks", "silent") else [*known, (value, value or "not said")]


def spoken_lines(effect: Effect) -> list[tuple[str, str, str]]:
    """The cases in which a rule speaks, and whether rightly."""
    words = {True: "rightly", False: "wrongly", None: "spoke"}
    return [(one.case.id, one.case.title, words[one.rightly]) for one in effect.spoke]


def change_lines(found: Iterable[Difference], dough: Dough) -> list[tuple[str, str, str]]:
    """The cases that come out otherwise, and how."""
    causes = {c.id: c.say for c in dough.causes}

    def word(one: Difference) -> str:
        if one.before.remedy != one.after.remedy:
            before, after = (s.remedy.replace("-", " ") for s in (one.before, one.after))
            return f"first {after}; it was {before}"
        return f"first thought of: {causes.get(one.after.cause or '', 'something else')}"

    return [(one.case.id, one.case.title, word(one)) for one in found]
