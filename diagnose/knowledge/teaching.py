"""Reading teaching cases: invented batches with a known cause, one YAML file each.

A teaching case tells in order what a cook said and saw, what had been tried, what was really wrong,
and what ought to be advised first once all of it is told. ``casebook/cases/README.md`` is the guide
for authors. Any text at all gives a case or problems, every mistake at once, each with its line.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal, get_args

from .book import Book, Dough
from .fields import NAME, Fields, Report
from .keys import Key, Section
from .measures import accepted, unit_named
from .nodes import PASTED, Limits, Mapping, Node, Sequence, read_nodes
from .part import Part
from .problems import Problem, listed, quoted
from .reading_cases import plain
from .situation import Result, Situation
from .situations import RESULTS, read_situation

CASES = Path(__file__).resolve().parents[2] / "casebook" / "cases"
"""The shipped teaching cases, beside the program."""
FORMAT = "1"
LABEL = "Invented teaching case"
LONGEST_TITLE = 60
FEWEST_SENTENCES, MOST_SENTENCES = 2, 5

Outcome = Literal["as-it-should", "not-quite", "not-served", "thrown-away"]
Difficulty = Literal["easy", "middling", "hard"]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
DIFFICULTIES: tuple[Difficulty, ...] = get_args(Difficulty)

_VALUE = re.compile(r"(-?[0-9]{1,9}(?:\.[0-9]{1,9})?) (\S+)")

FILE: Section = {
    "format": Key("1"),
    "case": Key("the name of the file, without .yaml"),
    "title": Key(f"what the cook says, at most {LONGEST_TITLE} letters"),
    "label": Key(LABEL),
    "dough": Key("the dough's name, like milk-panade-slab"),
    "kitchen": Key("where it was, like {place: Harbour, elevation_m: 6}"),
    "batch": Key("what went in, like {milk_g: 500, flour_g: 100}", required=False),
    "stage": Key("the step at which the cook asked"),
    "told": Key("a list of what was said and seen, in order"),
    "tried": Key("a list of what had been tried before, in order", required=False),
    "causes": Key("what was really wrong, one or two causes"),
    "first remedy": Key("what ought to be advised first once all this is told"),
    "outcome": Key("how the batch ended"),
    "difficulty": Key("how hard it is to tell"),
    "story": Key("two to five short sentences, in order"),
    "lesson": Key("one sentence to take away"),
}
KITCHEN: Section = {
    "place": Key("the name of the kitchen"),
    "elevation_m": Key("a number of metres, like 640"),
}
TOLD: Section = {
    "sign": Key("a sign, with its answer", required=False),
    "answer": Key("one of the sign's answers", required=False),
    "reading": Key("a reading, with its value", required=False),
    "value": Key("a number and its unit, like 78 degC", required=False),
    "looked not": Key("a sign or reading that was asked and not looked at", required=False),
}
TRIED: Section = {
    "remedy": Key("a remedy"),
    "result": Key("how it went"),
}
SECTIONS = {"file": FILE, "kitchen": KITCHEN, "told": TOLD, "tried": TRIED}


class Told(Part):
    """One thing a cook told: an answer, a measured value with its unit, or "did not look"."""

    about: str
    answer: str | None = None
    value: float | None = None
    unit: str | None = None
    line: int = 0


class TriedBefore(Part):
    """One remedy that had been tried when the cook asked, and how it went."""

    remedy: str
    result: Result
    line: int = 0


class TeachingCase(Part):
    """One invented batch with a known answer; ``situation`` is all of it for the front door."""

    id: str
    title: str
    place: str
    told: tuple[Told, ...]
    tried: tuple[TriedBefore, ...]
    situation: Situation
    causes: tuple[str, ...]
    first_remedy: str
    outcome: Outcome
    difficulty: Difficulty
    story: tuple[str, ...]
    lesson: str


def read_teaching_cases(
    book: Book, folder: Path = CASES
) -> tuple[tuple[TeachingCase, ...], list[Problem]]:
    """Every case of a folder, in the order of their names, and every problem found."""
    found: list[TeachingCase] = []
    problems: list[Problem] = []
    titles: dict[str, str] = {}
    for file in sorted(folder.glob("*.yaml")):
        try:
            text = file.read_text(encoding="utf-8")
        except UnicodeDecodeError as error:
            line = error.object[: error.start].count(b"\n") + 1
            what = "the file holds a letter that is not written in UTF-8."
            problems.append(Problem(file.name, line, "", what, "Save it as UTF-8."))
            continue
        case, wrong = read_teaching_case(text, file.name, book)
        problems += wrong
        if case is None:
            continue
        if case.title in titles:
            what = f"the title is already used by {titles[case.title]}."
            problems.append(Problem(file.name, 0, "", what, "Let the cook say something else."))
        titles.setdefault(case.title, file.name)
        found.append(case)
    return tuple(found), problems


def read_teaching_case(
    text: str, file: str, book: Book, limits: Limits = PASTED
) -> tuple[TeachingCase | None, list[Problem]]:
    """One case, or None and what is wrong with it; the two are never both empty."""
    root, problems = read_nodes(text, file, limits)
    if root is None:
        return None, problems
    report = Report(file)
    report.problems.extend(problems)
    fields = Fields(root, "", FILE, report, root.line)
    dough = _dough(fields, book) if isinstance(root, Mapping) else None
    case = _case(fields, dough, file) if dough is not None else None
    return (None if report.problems else case), sorted(report.problems)


def _dough(fields: Fields, book: Book) -> Dough | None:
    name = fields.name("dough", "dough", [dough.id for dough in book.doughs])
    return next((dough for dough in book.doughs if dough.id == name), None)


def _case(fields: Fields, dough: Dough, file: str) -> TeachingCase | None:
    _fixed(fields, "format", FORMAT)
    _fixed(fields, "label", LABEL)
    kitchen = Fields(
        fields.node("kitchen"), "kitchen", KITCHEN, fields.report, fields.line_of("kitchen")
    )
    parts = {
        "id": _id(fields, file),
        "title": _title(fields),
        "place": kitchen.text("place"),
        "causes": _causes(fields, dough),
        "first_remedy": fields.name("first remedy", "remedy", [r.id for r in dough.remedies]),
        "outcome": fields.word("outcome", OUTCOMES),
        "difficulty": fields.word("difficulty", DIFFICULTIES),
        "story": _story(fields),
        "lesson": _sentence(fields, fields.text("lesson"), fields.line_of("lesson"), "lesson"),
    }
    told, tried = _told(fields, dough), _tried(fields, dough)
    if fields.report.problems:
        return None
    situation = _situation(fields, kitchen, dough, told, tried)
    if situation is None:
        return None
    return TeachingCase(told=told, tried=tried, situation=situation, **parts)


def _fixed(fields: Fields, key: str, wanted: str) -> None:
    text = fields.text(key)
    if text and text != wanted:
        fields.wrong(
            fields.line_of(key), f'"{key}" cannot be {quoted(text)}.', f"Write {key}: {wanted}."
        )


def _id(fields: Fields, file: str) -> str:
    text, line = fields.text("case"), fields.line_of("case")
    if text and not NAME.fullmatch(text):
        fields.wrong(
            line,
            f"{quoted(text)} cannot be a name.",
            "Use 2 to 41 small letters, digits and hyphens, like torn-crust.",
        )
    elif text and f"{text}.yaml" != file:
        fields.wrong(
            line, f"the case {quoted(text)} is in another file.", f"Call the file {text}.yaml."
        )
    return text


def _title(fields: Fields) -> str:
    text = fields.text("title")
    if len(text) > LONGEST_TITLE:
        fields.wrong(
            fields.line_of("title"),
            f"the title has {len(text)} letters.",
            f"At most {LONGEST_TITLE} fit on a line of a phone: say it shorter.",
        )
    return text


def _causes(fields: Fields, dough: Dough) -> tuple[str, ...]:
    found = fields.names("causes", "cause", [cause.id for cause in dough.causes])
    if len(found) > 2:
        fields.wrong(
            fields.line_of("causes"), f"{len(found)} causes are too many.", "Write one or two."
        )
    return found


def _story(fields: Fields) -> tuple[str, ...]:
    node = fields.node("story")
    if node is None:
        return ()
    items = node.items if isinstance(node, Sequence) else (node,)
    if not FEWEST_SENTENCES <= len(items) <= MOST_SENTENCES:
        fields.wrong(
            fields.line_of("story"),
            f"the story has {len(items)} sentences.",
            f"Tell it in {FEWEST_SENTENCES} to {MOST_SENTENCES}, one to a line.",
        )
    return tuple(
        _sentence(fields, fields.text_of(item, "story"), item.line, "story") for item in items
    )


def _sentence(fields: Fields, text: str, line: int, key: str) -> str:
    if text and not text.endswith((".", "?", "!")):
        fields.wrong(line, f"a sentence of the {key} has no end.", "End it with a full stop.")
    return text


def _told(fields: Fields, dough: Dough) -> tuple[Told, ...]:
    found: dict[str, Told] = {}
    for node in fields.items("told"):
        item = Fields(node, "told", TOLD, fields.report, node.line)
        one = _one_told(item, dough)
        if one is None:
            continue
        if one.about in found:
            what = f"{quoted(one.about)} is told twice, here and in line {found[one.about].line}."
            item.wrong(item.line, what, "Keep one of the two.")
        found.setdefault(one.about, one)
    return tuple(found.values())


def _one_told(item: Fields, dough: Dough) -> Told | None:
    kinds = [key for key in ("sign", "reading", "looked not") if item.has(key)]
    others = {"sign": "answer", "reading": "value"}
    wanted = {*kinds, *(others[kind] for kind in kinds if kind in others)}
    if len(kinds) != 1 or any(item.has(key) != (key in wanted) for key in TOLD):
        if item.ok:
            item.wrong(
                item.line,
                "this is not one thing that was told.",
                "Write sign and answer, reading and value, or looked not.",
            )
        return None
    signs = {sign.id: [answer.id for answer in sign.answers] for sign in dough.signs}
    readings = {reading.id: reading.unit for reading in dough.readings}
    if kinds == ["sign"]:
        name = item.name("sign", "sign", signs)
        answer = item.name("answer", f"answer to {name}", signs[name]) if name in signs else ""
        return Told(about=name, answer=answer, line=item.line) if item.ok else None
    if kinds == ["reading"]:
        name = item.name("reading", "reading", readings)
        return _measured(item, name, readings[name]) if name in readings else None
    name = item.name("looked not", "sign or reading", (*signs, *readings))
    return Told(about=name, line=item.line) if item.ok else None


def _measured(item: Fields, name: str, unit: str) -> Told | None:
    text = item.text("value")
    match = _VALUE.fullmatch(text)
    told_unit = unit_named(match[2]) if match else None
    if match is None or told_unit not in accepted(unit):
        if text:
            item.wrong(
                item.line_of("value"),
                f"{quoted(text)} does not fit {name}.",
                f"Write a number, a space and a unit: {listed(accepted(unit), 'or')}.",
            )
        return None
    return Told(about=name, value=float(match[1]), unit=told_unit, line=item.line)


def _tried(fields: Fields, dough: Dough) -> tuple[TriedBefore, ...]:
    found: list[TriedBefore] = []
    for node in fields.items("tried"):
        item = Fields(node, "tried", TRIED, fields.report, node.line)
        remedy = item.name("remedy", "remedy", [each.id for each in dough.remedies])
        result = item.word("result", RESULTS)
        if item.ok:
            found.append(TriedBefore(remedy=remedy, result=result, line=item.line))
    return tuple(found)


def _situation(
    fields: Fields,
    kitchen: Fields,
    dough: Dough,
    told: tuple[Told, ...],
    tried: tuple[TriedBefore, ...],
) -> Situation | None:
    """All of it as the machine face would take it; its mistakes, each at its own line."""
    batch, elevation = fields.node("batch"), kitchen.node("elevation_m")
    data = {
        "dough": dough.id,
        "stage": fields.text("stage"),
        "kitchen": {} if elevation is None else {"elevation_m": plain(elevation)},
        "batch": {} if batch is None else plain(batch),
        "signs": {one.about: one.answer for one in told if one.answer is not None},
        "readings": {
            one.about: {"value": one.value, "unit": one.unit}
            for one in told
            if one.value is not None
        },
        "tried": [{"remedy": one.remedy, "result": one.result} for one in tried],
        "not_looked": [one.about for one in told if one.answer is None and one.value is None],
    }
    situation, problems = read_situation(data, dough)
    lines = {one.about: one.line for one in told}
    for problem in problems:
        line = _line(problem.where, fields, batch, lines)
        fields.report.add(line, problem.where, problem.what, problem.advice)
    return situation


def _line(where: str, fields: Fields, batch: Node | None, told: dict[str, int]) -> int:
    """The line that a field of the machine face was written in."""
    part, _, name = where.partition(".")
    if name in told:
        return told[name]
    if part == "batch" and isinstance(batch, Mapping):
        return next((e.line for e in batch.entries if e.key == name), fields.line_of("batch"))
    return fields.line_of(part)
