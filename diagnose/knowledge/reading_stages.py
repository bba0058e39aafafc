"""Reading the frame of a dough: its house batch, and its stages with their complaints."""

from __future__ import annotations

import re
from collections.abc import Iterator

from . import keys
from .book import Complaint, HouseBatch, Meanwhile, Stage, StageTimer
from .fields import Fields, Report, check_name
from .names import Names
from .nodes import Entry
from .parsing_phrases import NotAPhrase, check_answer, parse_value
from .problems import listed, quoted
from .reading_vocabulary import LONGEST_TIME_MIN

_BRACED = re.compile(r"\{([^{}]*)\}")


def read_house_batch(fields: Fields) -> HouseBatch | None:
    """The amounts that stand in when none are told."""
    if not fields.has("house batch"):
        return None
    inner = Fields(fields.node("house batch"), "house batch", keys.HOUSE_BATCH, fields.report)
    grams = {key: _grams(inner, key) for key in keys.HOUSE_BATCH if key != "yolks"}
    yolks = inner.number("yolks", 0, 200)
    if not inner.ok:
        return None
    return HouseBatch(yolks=yolks, **{f"{key}_g": value for key, value in grams.items()})


def _grams(fields: Fields, key: str) -> float:
    text = fields.text(key)
    if not text:
        return 0.0
    try:
        value = parse_value(text, key, "g")
    except NotAPhrase as fault:
        fields.wrong(fields.line_of(key), fault.what, fault.advice)
        return 0.0
    if value < 0:
        fields.wrong(fields.line_of(key), f'"{key}" cannot be below nothing.', "Write 0 g or more.")
    return value


def read_stage(entry: Entry, names: Names, report: Report) -> Stage | None:
    """One step of the dough."""
    fields = Fields(entry.value, f"stage {entry.key}", keys.STAGE, report, entry.line)
    stage = Stage(
        id=entry.key,
        title=fields.text("title"),
        do=_steps(fields),
        timers=tuple(_timers(fields)),
        right=fields.texts("right"),
        minutes_from_scratch=fields.number("minutes from scratch", 0, LONGEST_TIME_MIN),
        minutes_to_plate=fields.number("minutes to the plate", 0, LONGEST_TIME_MIN),
        meanwhile=tuple(_meanwhile(fields, names)),
        complaints=tuple(_complaints(fields, names)),
        line=entry.line,
    )
    return stage if fields.ok else None


def _steps(fields: Fields) -> tuple[str, ...]:
    steps = fields.texts("do")
    for text in steps:
        for braced in _BRACED.findall(text):
            if braced not in keys.HOUSE_BATCH:
                known = listed([f"{{{word}}}" for word in keys.HOUSE_BATCH])
                fields.wrong(
                    fields.line_of("do"),
                    f"{quoted('{' + braced + '}')} is not an amount of the batch.",
                    f"The program fills in {known}.",
                )
    return steps


def _timers(fields: Fields) -> Iterator[StageTimer]:
    for node in fields.items("timers"):
        inner = Fields(node, fields.where, keys.STAGE_TIMER, fields.report)
        minutes = inner.number("minutes", 0.5, LONGEST_TIME_MIN)
        yield StageTimer(say=inner.text("say"), minutes=minutes)


def _meanwhile(fields: Fields, names: Names) -> Iterator[Meanwhile]:
    nodes = tuple(fields.items("meanwhile"))
    for place, node in enumerate(nodes, start=1):
        inner = Fields(node, fields.where, keys.MEANWHILE, fields.report)
        if place < len(nodes) and not inner.has("not under"):
            inner.wrong(
                node.line,
                "a line of meanwhile that holds always hides those after it.",
                'Move it to the end, or say "not under" which causes it is unsafe.',
            )
        if place == len(nodes) and inner.has("not under"):
            inner.wrong(
                node.line,
                "the last line of meanwhile must be safe under every cause.",
                'Add a line without "not under" at the end.',
            )
        not_under = inner.names("not under", "cause", names.causes)
        yield Meanwhile(say=inner.text("say"), not_under=not_under)


def _complaints(fields: Fields, names: Names) -> Iterator[Complaint]:
    for entry in fields.entries("complaints", may_be_empty=True):
        if not check_name(entry, fields.where, fields.report):
            continue
        where = f"{fields.where}, complaint {entry.key}"
        inner = Fields(entry.value, where, keys.COMPLAINT, fields.report, entry.line)
        told: dict[str, str] = {}
        for fact in inner.entries("told"):
            text = inner.text_of(fact.value, fact.key)
            if fact.key not in names.signs:
                fields.report.unknown(fact.line, where, "sign", fact.key, names.signs)
                continue
            try:
                check_answer(text, fact.key, names.signs[fact.key])
            except NotAPhrase as fault:
                inner.wrong(fact.line, fault.what, fault.advice)
            told[fact.key] = text
        yield Complaint(id=entry.key, say=inner.text("say"), told=told)
