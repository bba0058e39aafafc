"""The cases as a table for a spreadsheet, in which no cell is ever taken for a formula."""

import csv
from collections.abc import Iterator, Sequence
from pathlib import Path

from sqlalchemy import select

from diagnose.knowledge.casefile import CaseFile

from .cases import is_shipped
from .connecting import Store
from .exchange import case_files
from .files import written_whole
from .preparing import elevation_band
from .progress import Progress, counted, silent
from .tables import kept_case

COLUMNS = (
    "case", "title", "dough", "stage", "opened", "kept", "entered by", "class", "elevation m",
    "elevation band", "outcome", "thought", "first remedy", "tried", "standing", "true causes",
    "right first remedy", "same as", "marked by", "note", "said",
)  # fmt: skip

_DANGEROUS = frozenset("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
"""What makes a spreadsheet take a cell for a formula, also in full width (U+FF1D and so on)."""


def safe(cell: str) -> str:
    """The cell, with an apostrophe before anything that could be taken for a formula.

    >>> safe("=1+1"), safe("  @sum"), safe("soupy")
    ("'=1+1", "'  @sum", 'soupy')
    """
    # Some programs look behind leading spaces, others cut them off.
    start = cell.lstrip(" \xa0\u3000")
    return f"'{cell}" if start[:1] in _DANGEROUS and start else cell


def export_csv(store: Store, path: Path, *, progress: Progress = silent) -> int:
    """Write a new file with one line a case, by name; how many. Raises `FileRefused`.

    Shipped teaching cases are left out.

    UTF-8 with a byte order mark, by which spreadsheets know it; every cell in quotation marks.
    """
    with store.reading() as connection, written_whole(path) as unfinished:
        rows = connection.execute(
            select(kept_case.c.number).where(~is_shipped()).order_by(kept_case.c.id)
        )
        numbers = [row.number for row in rows]
        with unfinished.open("w", encoding="utf-8-sig", newline="") as out:
            table = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
            table.writerow(COLUMNS)
            files = case_files(connection, numbers)
            for _, file in counted(files, "cases exported", len(numbers), progress):
                table.writerow([safe(cell) for cell in _cells(file)])
    return len(numbers)


def _cells(file: CaseFile) -> Iterator[str]:
    case, last = file.case, file.marks[-1] if file.marks else None
    thought = case.thought
    yield from (case.id, case.title, case.dough, case.stage)
    yield from (case.opened.isoformat(), case.kept.isoformat(), case.entered_by)
    yield case.class_code or ""
    yield "" if case.elevation_m is None else f"{case.elevation_m:g}"
    yield elevation_band(case.elevation_m) or ""
    yield case.outcome or ""
    yield _joined([f"{name} {chance:.2f}" for name, chance in thought.causes] if thought else ())
    yield (thought and thought.first_remedy) or ""
    yield _joined(
        [
            f"{told.value.get('remedy')} {told.value.get('result')}"
            for told in case.told
            if told.kind == "tried" and isinstance(told.value, dict)
        ]
    )
    yield last.verdict if last else "new"
    yield _joined(last.causes if last else ())
    yield (last and last.first_remedy) or ""
    yield (last and last.other) or ""
    yield last.by if last else ""
    yield case.note or ""
    yield _joined(case.said)


def _joined(parts: Sequence[str]) -> str:
    return "; ".join(parts)
