"""Reading what went wrong and what to do about it: causes and remedies."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import get_args

from diagnose.kitchen.computations import DOSES, MINUTES

from . import keys
from .book import Addition, Cause, Harm, Kind, Label, Remedy, Try, Works
from .fields import Fields, Report
from .names import Names
from .nodes import Entry
from .problems import listed, quoted
from .reading_vocabulary import COMMONNESS, LONGEST_TIME_MIN, read_source, scalar_text

WORKS: tuple[Works, ...] = get_args(Works)
HARMS: tuple[Harm, ...] = get_args(Harm)
KINDS: tuple[Kind, ...] = get_args(Kind)
LABELS: tuple[Label, ...] = get_args(Label)

DOSE_PLACEHOLDERS = ("dose", "start", "between", "grams")
PLACEHOLDERS = (*DOSE_PLACEHOLDERS, "minutes", "boil")
"""What may stand in { } in a remedy; filled in by plain replacement, never as a template."""
_BRACED = re.compile(r"\{([^{}]*)\}")


def read_cause(entry: Entry, names: Names, report: Report) -> Cause | None:
    """One thing that can go wrong."""
    fields = Fields(entry.value, f"cause {entry.key}", keys.CAUSE, report, entry.line)
    part = Cause(
        id=entry.key,
        say=fields.text("say"),
        how_common=fields.word("how common", COMMONNESS),
        shows_at=fields.stages("shows at", names.stages),
        tries=tuple(_tries(fields, names)),
        next_time=fields.text("next time"),
        known_gaps=fields.optional_text("known gaps"),
        line=entry.line,
    )
    return part if fields.ok else None


def _tries(fields: Fields, names: Names) -> Iterator[Try]:
    for entry in fields.entries("try"):
        if entry.key not in names.remedies:
            fields.report.unknown(entry.line, fields.where, "remedy", entry.key, names.remedies)
        works = fields.word_of(scalar_text(entry, fields), entry.key, WORKS, entry.line)
        yield Try(remedy=entry.key, works=works)


def read_remedy(entry: Entry, names: Names, report: Report) -> Remedy | None:
    """One thing to do."""
    fields = Fields(entry.value, f"remedy {entry.key}", keys.REMEDY, report, entry.line)
    amounts = tuple(_amounts(fields)) if fields.has("amounts") else ()
    _check_placeholders(fields)
    minutes_by = None
    if fields.has("minutes by"):
        minutes_by = fields.name("minutes by", "computation of minutes", MINUTES)
    part = Remedy(
        id=entry.key,
        kind=fields.word("kind", KINDS),
        first=fields.text("first"),
        do=fields.texts("do"),
        amounts=amounts,
        minutes=fields.number("minutes", 0, LONGEST_TIME_MIN),
        minutes_by=minutes_by,
        look_for=fields.text("look for"),
        give_up_when=fields.text("give up when"),
        cautions=fields.names("cautions", "caution", names.cautions),
        harm_under=tuple(_harms(fields, names)),
        only_after=fields.names("only after", "finding", names.findings),
        may_repeat=_whole(fields, "may repeat"),
        establishes=fields.names("establishes", "finding", names.findings),
        changes=fields.names("changes", "sign or reading", (*names.signs, *names.readings)),
        uses=fields.names("uses", "ingredient", tuple(keys.HOUSE_BATCH)),
        stages=fields.stages("stages", names.stages),
        label=fields.word("label", LABELS),
        source=read_source(fields, names),
        line=entry.line,
    )
    return part if fields.ok else None


def _amounts(fields: Fields) -> Iterator[Addition]:
    for node in fields.items("amounts"):
        inner = Fields(node, fields.where, keys.AMOUNT, fields.report)
        yield Addition(of=inner.text("of"), by=inner.name("by", "dose", DOSES))


def _harms(fields: Fields, names: Names) -> Iterator[tuple[str, Harm]]:
    for entry in fields.entries("harm under"):
        if entry.key not in names.causes:
            fields.report.unknown(entry.line, fields.where, "cause", entry.key, names.causes)
        text = scalar_text(entry, fields)
        yield entry.key, fields.word_of(text, entry.key, HARMS, entry.line)


def _whole(fields: Fields, key: str) -> int:
    if not fields.has(key):
        return 1
    value = fields.number(key, 1, 20)
    if value != int(value):
        fields.wrong(fields.line_of(key), f'"{key}" cannot be {value:g}.', "Write a whole number.")
    return int(value)


def _check_placeholders(fields: Fields) -> None:
    for key in ("first", "do", "look for", "give up when"):
        for text in fields.texts(key):
            for braced in _BRACED.findall(text):
                _check_placeholder(fields, key, braced)
            if set("{}") & set(_BRACED.sub("", text)):
                fields.wrong(
                    fields.line_of(key), "a brace stands alone.", "Write both, or neither."
                )


def _check_placeholder(fields: Fields, key: str, braced: str) -> None:
    if braced not in PLACEHOLDERS:
        known = listed([f"{{{word}}}" for word in PLACEHOLDERS])
        fields.wrong(
            fields.line_of(key),
            f"{quoted('{' + braced + '}')} is not something the program can fill in.",
            f"It fills in {known}.",
        )
    elif braced in DOSE_PLACEHOLDERS and not fields.has("amounts"):
        fields.wrong(
            fields.line_of(key),
            f"{{{braced}}} needs an amount, and the remedy adds nothing.",
            "Add amounts: [{of: …, by: a dose}], or take it out.",
        )
