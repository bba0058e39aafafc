"""The ``cover`` command: every failure mode of a book in a table, and what is not covered."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from .consulting import OpenBook
from .covering import Coverage, Shown, Walk, cover
from .inspecting import book_of
from .knowledge.loading import load_book
from .knowledge.problems import BrokenBook

HEADS = ("failure mode", "stage", "complaint", "taps", "first remedy", "ok")
SOMETHING_ELSE = "something else"


def cover_command(files: Sequence[Path]) -> int:
    """Walk the shipped book, or these dough files; 1 if anything is unreachable or unreadable."""
    try:
        book = book_of(files) if files else load_book()
    except BrokenBook as broken:
        for problem in broken.problems:
            print(f"error: {problem}", file=sys.stderr)
        return 1
    opened = OpenBook(book)
    coverages = [cover(opened, dough) for dough in book.doughs]
    for coverage in coverages:
        print("\n".join(report(coverage)))
    return 0 if all(coverage.complete for coverage in coverages) else 1


def report(coverage: Coverage) -> Iterator[str]:
    """The lines of the report on one dough."""
    yield coverage.dough.title
    yield ""
    if coverage.modes:
        yield from _aligned([HEADS, *(_row(shown) for shown in coverage.modes)])
    else:
        yield "It lists no failure modes, so there is nothing to walk."
    yield ""
    yield from _totals(coverage)
    yield from _listed("Unreachable", (_failing(shown) for shown in coverage.unreachable))
    yield from _listed("Not covered", (f"{m.id}: {m.why_not}" for m in coverage.not_covered))
    yield from _listed(
        "Whole cases that come out only if more is told than asked",
        (f"{walk.case}: {walk.wrong}" for walk in coverage.needs_telling),
    )
    yield from _listed("Rules never fired by any case", coverage.never_spoke)
    yield from _listed(
        "Rules that speak in no whole case, only in the cases beside rules",
        (name for name in coverage.in_no_whole_case if name not in coverage.never_spoke),
    )
    yield from _listed("Causes that never came first", coverage.never_first)
    yield ""


def _row(shown: Shown) -> tuple[str, ...]:
    walk = shown.walk
    if walk is None:
        return (shown.mode.id, "-", "-", "-", "-", "not covered")
    right = "yes" if walk.wrong is None else "NO"
    return (shown.mode.id, walk.stage, _complaint(walk), str(walk.taps), walk.first_remedy, right)


def _complaint(walk: Walk) -> str:
    return walk.complaint or SOMETHING_ELSE


def _failing(shown: Shown) -> str:
    walk = shown.walk
    assert walk is not None, "only what was walked can fail"
    asked = ", ".join(f"{s.question}: {_said(s.answer)}" for s in walk.steps) or "nothing asked"
    return f"{shown.mode.id} ({walk.case}): {walk.wrong} [{_complaint(walk)}; {asked}]"


def _said(answer: str | float | None) -> str:
    if answer is None:
        return "did not look"
    return answer if isinstance(answer, str) else f"{answer:g}"


def _totals(coverage: Coverage) -> Iterator[str]:
    taps, worst = coverage.median_taps, coverage.worst_taps
    ok = len(coverage.others) - len(coverage.needs_telling)
    rows = [
        ("failure modes", str(len(coverage.modes))),
        ("reached", str(len(coverage.reached))),
        ("unreachable", str(len(coverage.unreachable))),
        ("not covered, with the reason", str(len(coverage.not_covered))),
        ("taps after the complaint, median", "-" if taps is None else f"{taps:g}"),
        ("taps after the complaint, worst", "-" if worst is None else str(worst)),
        ("other whole cases reached", f"{ok} of {len(coverage.others)}"),
        ("rules never fired by any case", str(len(coverage.never_spoke) or "none")),
        ("rules that speak in no whole case", str(len(coverage.in_no_whole_case) or "none")),
        ("causes that never came first", str(len(coverage.never_first) or "none")),
    ]
    yield from _aligned(rows)


def _listed(head: str, lines: Iterator[str] | Sequence[str]) -> Iterator[str]:
    lines = list(lines)
    if lines:
        yield ""
        yield f"{head}:"
        yield from (f"  {line}" for line in lines)


def _aligned(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Columns as wide as their widest entry."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        padded = (text.ljust(width) for text, width in zip(row, widths, strict=True))
        yield "  ".join(padded).rstrip()
