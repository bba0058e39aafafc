"""One case as one YAML file, and back. What is read is refused line by line, never mended.

The file holds everything about a case but its pictures, whose sentences it lists; the pictures
travel beside it in an archive. Consultation addresses are keys to somebody's kitchen and are never
in it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from .case import (
    ENTERED_BY,
    JSON,
    MOST_PHOTOS,
    VERDICTS,
    Case,
    Mark,
    Thought,
    Told,
    check_case,
    check_line,
    check_mark,
)
from .casetext import CASE, plain_of, read_written, text_of
from .fields import Fields, Report
from .keys import Key, Section
from .nodes import Limits, Node, Scalar, read_nodes
from .nodes import Sequence as ListNode
from .problems import Problem, quoted

FORMAT = 1
MOST_MARKS = 200


def _may(hint: str) -> Key:
    return Key(hint, required=False)


FILE: Section = {
    "format": Key("1"),
    "case": Key("the case's name, like soupy-after-ten-minutes"),
    "title": Key("one line in the cook's words"),
    "dough": Key("the dough's name, like milk-panade-slab"),
    "stage": Key("the stage at which it went wrong"),
    "book": _may("the version of the book it was answered with"),
    "opened": Key("when it began, like 2026-03-01T12:30:00+00:00"),
    "kept": Key("when it was kept, written the same way"),
    "entered by": Key("cook, instructor, shipped or imported"),
    "class": _may("the code of the lesson it belongs to"),
    "elevation": _may("metres above the sea, like 2310"),
    "outcome": _may("how it came out"),
    "situation": _may("everything told, as the machine face takes it"),
    "bands": _may("for each reading the band it fell in"),
    "told": _may("what was told and done, in order"),
    "thought": _may("what the program thought at the end"),
    "said": _may("what was told, in sentences"),
    "note": _may("what else somebody wrote"),
    "photos": _may("a sentence for each picture"),
    "marks": _may("what instructors said of it"),
}
TOLD: Section = {
    "at": Key("when, like 2026-03-01T12:30:00+00:00"),
    "kind": Key("such as sign, reading or tried"),
    "name": Key("of what"),
    "value": Key("the answer"),
}
THOUGHT: Section = {
    "causes": _may("causes with their chances, likeliest first"),
    "situation": _may("the situation word"),
    "first remedy": _may("the remedy advised first"),
}
CAUSE: Section = {"cause": Key("the cause's name"), "chance": Key("0 to 1")}
MARK: Section = {
    "at": Key("when, like 2026-03-01T12:30:00+00:00"),
    "by": Key("who, as they like to be called"),
    "verdict": Key("confirmed, doubtful or same-as"),
    "causes": _may("the true causes"),
    "first remedy": _may("what should have been advised first"),
    "other": _may("the case that stays"),
}

# Metres and chances as written here or by hand.
_NUMBER = re.compile(r"-?[0-9]{1,9}(?:\.[0-9]{1,24})?(?:[eE][+-]?[0-9]{1,3})?")


@dataclass(frozen=True)
class CaseFile:
    """What one file holds: the case, its marks in order, a sentence for each of its pictures."""

    case: Case
    marks: tuple[Mark, ...] = ()
    photos: tuple[str, ...] = ()


def write_case(file: CaseFile) -> str:
    """The text of a case file; the same for the same case, byte for byte.

    >>> noon = datetime(2024, 2, 29, 12, tzinfo=UTC)
    >>> case = Case("milk-panade-slab", "Soupy", "cook-paste", noon, noon, id="soupy-paste")
    >>> print(write_case(CaseFile(case)), end="")
    format: 1
    case: soupy-paste
    title: "Soupy"
    dough: milk-panade-slab
    stage: cook-paste
    opened: "2024-02-29T12:00:00.000000+00:00"
    kept: "2024-02-29T12:00:00.000000+00:00"
    entered by: cook
    >>> read_case(write_case(CaseFile(case)), "soupy-paste.yaml")[0].case == case
    True
    """
    return text_of(dict(_written(file)))


def _written(file: CaseFile) -> Iterator[tuple[str, JSON]]:
    case = file.case
    yield "format", FORMAT
    yield "case", case.id
    yield "title", case.title
    yield "dough", case.dough
    yield "stage", case.stage
    if case.book:
        yield "book", case.book
    yield "opened", _moment(case.opened)
    yield "kept", _moment(case.kept)
    yield "entered by", case.entered_by
    if case.class_code is not None:
        yield "class", case.class_code
    if case.elevation_m is not None:
        metres = float(case.elevation_m)
        yield "elevation", int(metres) if metres.is_integer() else metres
    if case.outcome is not None:
        yield "outcome", case.outcome
    if case.situation:
        yield "situation", case.situation
    if case.bands:
        yield "bands", dict(case.bands)
    if case.told:
        yield (
            "told",
            [
                {"at": _moment(t.at), "kind": t.kind, "name": t.name, "value": t.value}
                for t in case.told
            ],
        )
    if case.thought is not None:
        yield "thought", dict(_thought(case.thought))
    if case.said:
        yield "said", list(case.said)
    if case.note is not None:
        yield "note", case.note
    if file.photos:
        yield "photos", list(file.photos)
    if file.marks:
        yield "marks", [dict(_mark(mark)) for mark in file.marks]


def _thought(thought: Thought) -> Iterator[tuple[str, JSON]]:
    if thought.causes:
        yield (
            "causes",
            [{"cause": cause, "chance": float(chance)} for cause, chance in thought.causes],
        )
    if thought.situation:
        yield "situation", thought.situation
    if thought.first_remedy is not None:
        yield "first remedy", thought.first_remedy


def _mark(mark: Mark) -> Iterator[tuple[str, JSON]]:
    yield "at", _moment(mark.at)
    yield "by", mark.by
    yield "verdict", mark.verdict
    if mark.causes:
        yield "causes", list(mark.causes)
    if mark.first_remedy is not None:
        yield "first remedy", mark.first_remedy
    if mark.other is not None:
        yield "other", mark.other


def _moment(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def read_case(
    text: str, name: str, limits: Limits = CASE
) -> tuple[CaseFile, list[Problem]] | tuple[None, list[Problem]]:
    """The case in a file's text, or None with every problem found in it.

    ``name`` is what to call the file in a problem. Text that is not ours may use anything YAML 1.2
    offers but aliases, anchors, tags and directives (see `nodes`).
    """
    node, problems = read_written(text, limits), list[Problem]()
    if node is None:
        node, problems = read_nodes(text, name, limits)
    if node is None or problems:
        return None, problems
    report = Report(name)
    found = _Reading(report).file(node)
    if report.problems or found is None:
        return None, report.problems
    return found, []


class _Reading:
    """Reads the parts of one file, collecting every mistake."""

    def __init__(self, report: Report) -> None:
        self.report = report

    def file(self, node: Node) -> CaseFile | None:
        fields = Fields(node, "", FILE, self.report)
        if not fields.ok:
            return None
        if self.text(fields, "format") != str(FORMAT):
            fields.wrong(
                fields.line_of("format"),
                f"format {quoted(self.text(fields, 'format'))} is not known here.",
                f"Format {FORMAT} is read; a newer program may read others.",
            )
            return None
        case = self.case(fields)
        marks = tuple(self.marks(fields))
        photos = tuple(self.line(item, fields, "photos") for item in self.list(fields, "photos"))
        self._photos(fields, photos)
        if not fields.ok:
            return None
        for problem in check_case(case):
            line = fields.line_of(problem.where.partition(" ")[0])
            if problem.where in FILE:
                line = fields.line_of(problem.where)
            self.report.add(line, problem.where, problem.what, problem.advice)
        return CaseFile(case, marks, photos) if fields.ok else None

    def _photos(self, fields: Fields, photos: tuple[str, ...]) -> None:
        if len(photos) > MOST_PHOTOS or any(not check_line(alt, 200) for alt in photos):
            fields.wrong(
                fields.line_of("photos"),
                "the pictures cannot be described like this.",
                f"At most {MOST_PHOTOS}, each by one line of 1 to 200 characters.",
            )

    def case(self, fields: Fields) -> Case:
        situation = self.plain(fields, "situation", {})
        bands = self.plain(fields, "bands", {})
        if not isinstance(situation, dict):
            fields.wrong(fields.line_of("situation"), "a situation has names.", "Begin with stage.")
            situation = {}
        if not isinstance(bands, dict) or any(not isinstance(b, str) for b in bands.values()):
            fields.wrong(
                fields.line_of("bands"), "a band is a name.", "Write reading: band in each line."
            )
            bands = {}
        entered_by = fields.word("entered by", ENTERED_BY)
        return Case(
            dough=self.text(fields, "dough"),
            title=self.text(fields, "title"),
            stage=self.text(fields, "stage"),
            opened=self.moment(fields, "opened"),
            kept=self.moment(fields, "kept"),
            book=self.text(fields, "book"),
            entered_by=entered_by,
            id=self.text(fields, "case"),
            class_code=self.maybe(fields, "class"),
            elevation_m=self.number(fields, "elevation") if fields.has("elevation") else None,
            situation=situation,
            told=tuple(self.told(fields)),
            bands={name: str(band) for name, band in bands.items()},
            thought=self.thought(fields),
            said=tuple(self.line(item, fields, "said") for item in self.list(fields, "said")),
            outcome=self.maybe(fields, "outcome"),
            note=self.maybe(fields, "note"),
        )

    def told(self, fields: Fields) -> Iterator[Told]:
        for item in self.list(fields, "told"):
            inner = Fields(item, "told", TOLD, self.report)
            yield Told(
                self.moment(inner, "at"),
                self.text(inner, "kind"),
                self.text(inner, "name"),
                self.plain(inner, "value", None),
            )

    def thought(self, fields: Fields) -> Thought | None:
        node = fields.node("thought")
        if node is None:
            return None
        inner = Fields(node, "thought", THOUGHT, self.report)
        causes = []
        for item in self.list(inner, "causes"):
            one = Fields(item, "thought", CAUSE, self.report)
            causes.append((self.text(one, "cause"), self.number(one, "chance")))
        return Thought(
            tuple(causes), self.text(inner, "situation"), self.maybe(inner, "first remedy")
        )

    def marks(self, fields: Fields) -> Iterator[Mark]:
        items = self.list(fields, "marks")
        if len(items) > MOST_MARKS:
            fields.wrong(
                fields.line_of("marks"),
                f"{len(items):,} marks are too many.",
                f"At most {MOST_MARKS} are read.",
            )
            return
        for number, item in enumerate(items, 1):
            before = len(self.report.problems)
            inner = Fields(item, f"mark {number}", MARK, self.report)
            verdict = inner.word("verdict", VERDICTS)
            mark = Mark(
                number=number,
                at=self.moment(inner, "at"),
                by=self.text(inner, "by"),
                verdict=verdict,
                causes=tuple(self.line(i, inner, "causes") for i in self.list(inner, "causes")),
                first_remedy=self.maybe(inner, "first remedy"),
                other=self.maybe(inner, "other"),
            )
            if len(self.report.problems) == before:
                for problem in check_mark(mark):
                    where = f"mark {number}, {problem.where}"
                    self.report.add(inner.line, where, problem.what, problem.advice)
            yield mark

    def plain(self, fields: Fields, key: str, otherwise: JSON) -> JSON:
        node = fields.node(key)
        if isinstance(node, Scalar) and node.empty:
            return otherwise
        return otherwise if node is None else plain_of(node)

    def maybe(self, fields: Fields, key: str) -> str | None:
        return self.text(fields, key) if fields.has(key) else None

    def text(self, fields: Fields, key: str) -> str:
        """The text as written, with its spaces and lines."""
        node = fields.node(key)
        return "" if node is None else self.line(node, fields, key)

    def line(self, node: Node, fields: Fields, key: str) -> str:
        if isinstance(node, Scalar):
            return node.text
        hint = fields.section[key].hint
        fields.wrong(node.line, f'"{key}" holds more than one text.', f"Write {hint}.")
        return ""

    def list(self, fields: Fields, key: str) -> tuple[Node, ...]:
        node = fields.node(key)
        if node is None:
            return ()
        if isinstance(node, ListNode):
            return node.items
        hint = fields.section[key].hint
        fields.wrong(
            node.line, f'"{key}" needs a list.', f"Begin each item with a hyphen; it holds {hint}."
        )
        return ()

    def number(self, fields: Fields, key: str) -> float:
        text = self.text(fields, key)
        if _NUMBER.fullmatch(text):
            return float(text)
        fields.wrong(
            fields.line_of(key), f"{quoted(text)} is not a number.", "Write one, like 3 or 0.25."
        )
        return 0.0

    def moment(self, fields: Fields, key: str) -> datetime:
        text = self.text(fields, key)
        try:
            moment = datetime.fromisoformat(text)
            if moment.utcoffset() is not None:
                return moment.astimezone(UTC)
        except (ValueError, OverflowError):
            pass
        fields.wrong(
            fields.line_of(key),
            f"{quoted(text)} is not a moment.",
            "Write date, time and time zone, like 2026-03-01T12:30:00+00:00.",
        )
        return datetime(2000, 1, 1, tzinfo=UTC)
