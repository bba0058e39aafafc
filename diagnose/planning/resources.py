"""Tasks of a day, and what of a kitchen is taken in each minute before plating."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

MOST_BACK = 7 * 24 * 60
"""Minutes before plating; a plan that begins earlier than a week ahead is no plan."""


@dataclass(frozen=True, slots=True)
class Segment:
    """Some minutes of a task, and what they need."""

    minutes: int
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Task:
    """Something to be done in one go. ``segments`` are in the order of the clock."""

    id: str
    segments: tuple[Segment, ...]
    before: tuple[str, ...] = ()
    """The tasks that can only begin once this one has ended."""
    ready_by: int = 0
    """It must end at least so many minutes before plating."""
    keeps: int | None = None
    """It must not end earlier than so many minutes before plating; None: it can wait."""

    @property
    def minutes(self) -> int:
        """How long it takes."""
        return sum(segment.minutes for segment in self.segments)


class Used:
    """What is taken in each minute before plating: for each resource and level a row of bits.

    Bit *m* of level *k* says that at least *k* of the resource are taken in minute *m*.
    """

    def __init__(self, capacity: Mapping[str, int]) -> None:
        self._levels = {name: [0] * count for name, count in capacity.items()}
        self._rows: dict[str, dict[str, int]] = {}

    def _row(self, task: Task) -> dict[str, int]:
        """Which of its own minutes need what; bit 0 is its last minute."""
        row = self._rows.get(task.id)
        if row is None:
            row = self._rows[task.id] = {}
            at = task.minutes
            for segment in task.segments:
                at -= segment.minutes
                for need in segment.needs:
                    row[need] = row.get(need, 0) | ((1 << segment.minutes) - 1) << at
        return row

    def free(self, task: Task, end: int) -> bool:
        """Whether a task that ends then finds all it needs."""
        return not any(self._levels[n][-1] & bits << end for n, bits in self._row(task).items())

    def blocking(self, task: Task, end: int) -> set[str]:
        """The resources that are all taken in some minute it would need them."""
        return {n for n, bits in self._row(task).items() if self._levels[n][-1] & bits << end}

    def take(self, task: Task, end: int) -> None:
        """Take what it needs, and more than there is if need be."""
        for need, bits in self._row(task).items():
            levels, more = self._levels[need], bits << end
            for level, taken in enumerate(levels):
                levels[level], more = taken | more, taken & more

    def copy(self) -> dict[str, list[int]]:
        """What is taken now, for ``put_back``."""
        return {name: list(levels) for name, levels in self._levels.items()}

    def put_back(self, levels: dict[str, list[int]]) -> None:
        """As it was."""
        self._levels = {name: list(bits) for name, bits in levels.items()}
