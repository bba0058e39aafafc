"""The order in which rules fire, through experta's own extension point.

experta's stock strategy looks for an activation that must go among three neighbours of where it
ought to stand; activations with equal keys stand in no defined order, so the dead one often stays
on the agenda and fires although its conditions no longer hold (experta issues 3 and 10). Here
every activation has a key of its own, so it is found exactly, and the firing order is the book's.
"""

from __future__ import annotations

import bisect
from typing import Any

from . import repair  # noqa: F401  (experta can only be imported after the repair)

from experta.abstract import Strategy  # isort: skip


def key_of(activation: Any) -> int:
    """Total order of activations: the later key fires first.

    Rules stand in firing order, by level and then as the book has them, so a rule's place says it
    all. No rule waits twice: of each subject at most one fact stands.
    """
    place: int = activation.rule.place
    return -place


class BookOrder(Strategy):  # type: ignore[misc]  # experta carries no types
    """Keeps the agenda sorted by a total key, so that what must go is always found."""

    def __init__(self) -> None:
        super().__init__()
        self.undone: list[Any] = []
        """Activations whose conditions fell away after they had fired."""

    def _update_agenda(self, agenda: Any, added: Any, removed: Any) -> None:
        waiting = agenda.activations
        for activation in removed:
            activation.key = key_of(activation)
            place = bisect.bisect_left(waiting, activation)
            if place < len(waiting) and waiting[place].key == activation.key:
                del waiting[place]
            else:
                self.undone.append(activation)
        for activation in added:
            activation.key = key_of(activation)
            bisect.insort(waiting, activation)
