"""From a case to the rows that keep it, and from rows to the case: no database in sight."""

import json
import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from diagnose.knowledge.case import (
    JSON,
    LONGEST_WORD,
    MOST_PHOTOS,
    Case,
    Mark,
    Photo,
    Thought,
    Told,
    check_case,
    check_line,
)
from diagnose.knowledge.casefile import CaseFile, write_case
from diagnose.knowledge.casetext import CASE

from .moments import from_text, to_text
from .problems import NotStorable
from .storing import to_json

LARGEST_PHOTO = 400_000
"""Bytes of a picture as kept."""

LOW_M, HIGH_M = 300.0, 900.0
"""Kitchens below 300 m are low, from 900 m (3,000 ft) on high, between them middle; house rule."""

Row = dict[str, object]


@dataclass(frozen=True, slots=True)
class Prepared:
    """The rows of one case, without its number."""

    case: Row
    words: Row
    facts: tuple[Row, ...]
    marks: tuple[Row, ...] = ()
    photos: tuple[Row, ...] = ()


def prepare(
    case: Case,
    key: str,
    *,
    token: str | None = None,
    marks: Sequence[Mark] = (),
    photos: Sequence[Photo] = (),
) -> Prepared:
    """The rows of a case. Raises `NotStorable` with every reason for one that cannot be kept."""
    problems = [str(problem) for problem in check_case(case)]
    problems += _photo_problems(photos)
    if problems:
        raise NotStorable("\n".join(problems))
    # Whatever is kept must fit the file by which it can leave again, marks to come included.
    size = len(write_case(CaseFile(case)).encode("utf-8", "replace"))
    if size > CASE.bytes // 2:
        raise NotStorable(f"The case takes {size:,} bytes; at most {CASE.bytes // 2:,} are kept.")
    last = marks[-1] if marks else None
    return Prepared(
        case=_case_row(case, key, token, "new" if last is None else last.verdict),
        words={"title": folded(case.title), "body": folded(_body(case))},
        facts=tuple(_facts(case, last)),
        marks=tuple(mark_row(mark, f"{key} {mark.number}") for mark in marks),
        photos=tuple(
            {"number": number, "jpeg": photo.jpeg, "alt": photo.alt}
            for number, photo in enumerate(photos, 1)
        ),
    )


def _photo_problems(photos: Sequence[Photo]) -> Iterator[str]:
    if len(photos) > MOST_PHOTOS:
        yield f"photos: {len(photos)} are too many; at most {MOST_PHOTOS} are kept."
    for photo in photos:
        if not check_line(photo.alt, LONGEST_WORD):
            yield f"photos: describe the picture in one line of 1 to {LONGEST_WORD} characters."
        if len(photo.jpeg) > LARGEST_PHOTO or not photo.jpeg.startswith(b"\xff\xd8"):
            yield f"photos: a picture has to be a JPEG of at most {LARGEST_PHOTO:,} bytes."


def _case_row(case: Case, key: str, token: str | None, standing: str) -> Row:
    thought: JSON = None
    if case.thought is not None:
        thought = {
            "causes": [[name, chance] for name, chance in case.thought.causes],
            "situation": case.thought.situation,
            "first_remedy": case.thought.first_remedy,
        }
    story: JSON = [
        {"at": to_text(t.at), "kind": t.kind, "name": t.name, "value": t.value} for t in case.told
    ]
    return {
        "id": case.id,
        "idempotency_key": key,
        "token": token,
        "dough": case.dough,
        "book": case.book,
        "opened": to_text(case.opened),
        "kept": to_text(case.kept),
        "entered_by": case.entered_by,
        "class_code": case.class_code,
        "stage": case.stage,
        "elevation_m": case.elevation_m,
        "title": case.title,
        "situation": to_json("situation", case.situation),
        "story": to_json("told", story),
        "bands": to_json("bands", dict(case.bands)),
        "thought": to_json("thought", thought),
        "said": to_json("said", list(case.said)),
        "outcome": case.outcome,
        "note": case.note,
        "standing": standing,
    }


def case_from(row: Any) -> Case:
    """The case in a row of `kept_case`."""
    return Case(
        dough=row.dough,
        title=row.title,
        stage=row.stage,
        opened=from_text(row.opened),
        kept=from_text(row.kept),
        book=row.book,
        entered_by=row.entered_by,
        id=row.id,
        class_code=row.class_code,
        elevation_m=row.elevation_m,
        situation=json.loads(row.situation),
        told=tuple(
            Told(from_text(t["at"]), t["kind"], t["name"], t["value"])
            for t in json.loads(row.story)
        ),
        bands=json.loads(row.bands),
        thought=thought_from(row.thought),
        said=tuple(json.loads(row.said)),
        outcome=row.outcome,
        note=row.note,
    )


def thought_from(text: str) -> Thought | None:
    """What the program thought, from its column."""
    found = json.loads(text)
    if found is None:
        return None
    causes = tuple((str(name), float(chance)) for name, chance in found["causes"])
    return Thought(causes, found["situation"], found["first_remedy"])


def mark_row(mark: Mark, key: str) -> Row:
    """The columns of a mark but its case."""
    return {
        "number": mark.number,
        "idempotency_key": key,
        "at": to_text(mark.at),
        "marked_by": mark.by,
        "verdict": mark.verdict,
        "causes": to_json("causes", list(mark.causes)),
        "first_remedy": mark.first_remedy,
        "other": mark.other,
    }


def mark_from(row: Any) -> Mark:
    """The mark in a row of `case_mark`."""
    return Mark(
        row.number,
        from_text(row.at),
        row.marked_by,
        row.verdict,
        tuple(json.loads(row.causes)),
        row.first_remedy,
        row.other,
    )


def elevation_band(metres: float | None) -> str | None:
    """The band of a kitchen's height, or None if it is not known.

    >>> [elevation_band(metres) for metres in (6, 640, 2310, None)]
    ['low', 'middle', 'high', None]
    """
    if metres is None:
        return None
    if metres < LOW_M:
        return "low"
    return "middle" if metres < HIGH_M else "high"


def _facts(case: Case, last: Mark | None) -> Iterator[Row]:
    """What filters find a case by, each once."""
    found: dict[tuple[str, str, str], None] = dict.fromkeys(
        (("dough", case.dough, ""), ("stage", case.stage, ""))
    )
    if case.class_code is not None:
        found[("class", case.class_code, "")] = None
    signs = case.situation.get("signs")
    if isinstance(signs, Mapping):
        found.update({("sign", n, a): None for n, a in signs.items() if isinstance(a, str)})
    found.update({("reading-band", name, band): None for name, band in case.bands.items()})
    for remedy, result in _tried(case):
        found[("remedy", remedy, "")] = None
        found[("remedy", remedy, result)] = None
    if case.outcome is not None:
        found[("outcome", case.outcome, "")] = None
    band = elevation_band(case.elevation_m)
    if band is not None:
        found[("band", band, "")] = None
    for kind, name, value in found:
        if len(name) <= LONGEST_WORD and len(value) <= LONGEST_WORD:
            yield {"kind": kind, "name": name, "value": value}
    yield from facts_of_causes(case.thought, last)


def _tried(case: Case) -> Iterator[tuple[str, str]]:
    """Every remedy that was tried, and how it went: from the story, else from the situation."""
    values = [one.value for one in case.told if one.kind == "tried"]
    if not values:
        for key in ("settled", "tried"):
            listed = case.situation.get(key)
            values += listed if isinstance(listed, list) else []
    for value in values:
        if isinstance(value, Mapping):
            remedy, result = value.get("remedy"), value.get("result")
            if isinstance(remedy, str) and isinstance(result, str):
                yield remedy, result


def facts_of_causes(thought: Thought | None, last: Mark | None) -> list[Row]:
    """The causes a case is found by: the true ones once confirmed, until then the likeliest."""
    causes: tuple[str, ...] = ()
    if last is not None and last.verdict == "confirmed":
        causes = last.causes
    elif thought is not None and thought.causes:
        causes = (thought.causes[0][0],)
    return [{"kind": "cause", "name": name, "value": ""} for name in dict.fromkeys(causes)]


def _body(case: Case) -> str:
    """Everything about a case in which words are looked for."""
    ids = [case.stage, *(c for c, _ in (case.thought.causes if case.thought else ())[:1])]
    height = _HEIGHT.get(elevation_band(case.elevation_m) or "", "")
    return "\n".join([*case.said, case.note or "", *ids, height])


_HEIGHT = {"high": "high altitude elevation", "low": "sea level"}
"""What cooks say of such a kitchen, so that it is found by it."""


_NOT_WORD = re.compile(r"[\W_]+")
_FRACTION = re.compile(r"(?<=[0-9])(?=[\xbc-\xbe\u2150-\u215e])")


def folded(text: str) -> str:
    """Small letters and digits without accents, single spaces for all else.

    Both databases then cut the same words out of it. Unicode Standard Annex 15, form NFKD, without
    the combining marks.

    >>> folded("Crème brûlée: 1½ hours, it pulls-away")
    'creme brulee 1 1 2 hours it pulls away'
    """
    apart = unicodedata.normalize("NFKD", _FRACTION.sub(" ", text))
    letters = "".join(c for c in apart if not unicodedata.combining(c))
    return _NOT_WORD.sub(" ", letters.casefold()).strip()
