"""Boxes for a new sign, reading, cause, remedy or caution, and the text that they write.

What the boxes write is then text like any other part, to be looked at, changed and checked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from diagnose.knowledge.book import (
    Book,
    Commonness,
    Dough,
    Effort,
    Kind,
    Label,
    Tool,
    Works,
)
from diagnose.knowledge.fields import NAME
from diagnose.knowledge.measures import UNITS
from diagnose.knowledge.ruletext import scalar

from .editing_form import name_from
from .forms import FieldProblem

Shape = Literal["line", "lines", "choice", "ticks", "pairs"]
MOST_PAIRS = 9


@dataclass(frozen=True, slots=True)
class Box:
    """One key of a part, as a box. ``choices`` are names with words; of pairs, the first half."""

    key: str
    label: str
    hint: str = ""
    shape: Shape = "line"
    needed: bool = True
    choices: tuple[tuple[str, str], ...] = ()
    seconds: tuple[tuple[str, str], ...] = ()
    rows: int = 1

    @property
    def name(self) -> str:
        """The box's name in the form."""
        return self.key.replace(" ", "-")


TITLES = {
    "signs": "A new sign",
    "readings": "A new reading",
    "causes": "A new cause",
    "remedies": "A new remedy",
    "cautions": "A new caution",
}


def boxes_for(section: str, book: Book, dough: Dough) -> tuple[Box, ...]:
    """The boxes of a section; none for a section whose parts are written as text only."""
    stages = (("all", "All steps"), *((s.id, s.title) for s in dough.stages))
    source = Box("source", "Who says so", "", "choice", True,
                 tuple((s.key, f"{s.by}: {s.title}"[:90]) for s in book.sources))  # fmt: skip
    asked = (
        Box("ask", "The question, in the cook's words", "Like: How does the slab feel?"),
        Box("how", "How to look", "May stay empty", needed=False),
    )
    where = (
        Box("stages", "At which steps it may be asked", "", "ticks", True, stages),
        Box("effort", "How much trouble it is", "", "choice", True, _words(get_args(Effort))),
    )
    if section == "signs":
        answers = Box("answers", "The answers, in the cook's words", "Two to nine, one in each box",
                      "pairs", rows=MOST_PAIRS)  # fmt: skip
        return (*asked, *where, answers)
    if section == "readings":
        return (
            *asked,
            Box("unit", "The unit it is kept in", "", "choice", True, _words(UNITS)),
            Box("likely", "The range in which nobody is surprised", "Like: 55 to 99"),
            Box("possible", "The range outside which a number is refused", "Like: 0 to 105"),
            Box("good to", "How well a kitchen can measure it", "Like: 1.5"),
            Box("tool", "The tool it needs", "", "choice", False, _words(get_args(Tool))),
            *where,
        )
    if section == "causes":
        remedies = tuple((r.id, r.first) for r in dough.remedies)
        return (
            Box("say", "What went wrong, in one sentence"),
            Box("how common", "How often it is met", "", "choice", True,
                _words(get_args(Commonness))),
            Box("shows at", "At which steps it can be noticed", "", "ticks", True, stages),
            Box("try", "What helps, easiest first", "", "pairs", True, remedies,
                _words(get_args(Works)), 3),
            Box("next time", "How to avoid it next time"),
            Box("known gaps", "What is not known about it", "May stay empty", needed=False),
        )  # fmt: skip
    if section == "remedies":
        return (
            Box("kind", "What kind of remedy", "", "choice", True, _words(get_args(Kind))),
            Box("first", "The headline", "One verb, one amount"),
            Box("do", "The steps", "One on each line", "lines"),
            Box("minutes", "How many minutes it takes"),
            Box("look for", "How the cook knows that it works"),
            Box("give up when", "When to stop"),
            Box("cautions", "Cautions", "", "ticks", False,
                tuple((c.id, c.say) for c in dough.cautions)),
            Box("stages", "At which steps it can be done", "", "ticks", True, stages),
            Box("label", "How sure", "", "choice", True, _words(get_args(Label))),
            source,
        )  # fmt: skip
    if section == "cautions":
        return (Box("say", "The warning, in one sentence"), source)
    return ()


def _words(names: Sequence[str]) -> tuple[tuple[str, str], ...]:
    return tuple((name, name) for name in names)


def missing(boxes: Sequence[Box], form: Mapping[str, str]) -> list[FieldProblem]:
    """The boxes that are empty and must not be."""
    found = []
    for box in boxes:
        if box.needed and _value(box, form) is None:
            act = {"ticks": "Tick at least one", "choice": "Choose one"}.get(box.shape, "Fill in")
            found.append(FieldProblem(box.name, f"{act}: {box.label[:1].lower()}{box.label[1:]}."))
    return found


def text_from(name: str, boxes: Sequence[Box], form: Mapping[str, str]) -> str:
    """The text that the boxes write."""
    lines = [f"{name}:"]
    for box in boxes:
        value = _value(box, form)
        if value is None:
            continue
        if isinstance(value, str):
            lines.append(f"  {box.key}: {value}")
        else:
            lines += [f"  {box.key}:", *(f"    {line}" for line in value)]
    return "\n".join(lines) + "\n"


def name_for(section: str, form: Mapping[str, str], taken: Sequence[str]) -> str:
    """The name that was typed, or one made from the words."""
    words = {"signs": "ask", "readings": "ask", "causes": "say", "remedies": "first"}
    typed = form.get("name", "")
    return typed if NAME.fullmatch(typed) else name_from(
        form.get(words.get(section, "say"), ""), set(taken)
    )  # fmt: skip


def _value(box: Box, form: Mapping[str, str]) -> str | list[str] | None:
    """What a box says, as YAML: one line, or the lines below its key; None for nothing."""
    if box.shape == "ticks":
        ticked = [name for name, _ in box.choices if f"{box.name}-{name}" in form]
        if "all" in ticked:
            return "all"
        return f"[{', '.join(ticked)}]" if ticked else None
    if box.shape == "pairs":
        return _pairs(box, form)
    text = form.get(box.name, "").replace("\r\n", "\n")
    if not text.strip():
        return None
    if box.shape == "lines":
        return [
            f"- {scalar(' '.join(one.split()), False)}" for one in text.split("\n") if one.strip()
        ]
    if box.shape == "choice":
        if text not in {name for name, _ in box.choices}:
            return None
        return f"{{see: {text}}}" if box.key == "source" else scalar(text, False)
    return scalar(" ".join(text.split()), False)


def _pairs(box: Box, form: Mapping[str, str]) -> list[str] | None:
    lines: list[str] = []
    used: set[str] = set()
    for number in range(box.rows):
        first, second = (form.get(f"{box.name}-{number}{end}", "") for end in ("", "-how"))
        if not first:
            continue
        if box.choices:
            if first in {n for n, _ in box.choices} - used and second in {
                n for n, _ in box.seconds
            }:
                lines.append(f"{first}: {second}")
                used.add(first)
            continue
        name = name_from(first, used)
        used.add(name)
        lines.append(f"{name}: {scalar(' '.join(first.split()), False)}")
    return lines or None
