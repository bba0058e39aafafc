"""Every answer that might be given next, and what would be believed after it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from diagnose.engine.worlds import evaluate_worlds
from diagnose.knowledge.phrases import Value

from .belief import chances_of
from .known import Known, after, change_if, open_questions
from .likelihood import Table
from .moving import Moves
from .options import Opened

Beliefs = Sequence[Sequence[float]]
"""By answer: P(answer and cause), in the order of the causes in play."""


class Hypotheses:
    """The worlds of a situation: each answer to each open question, and what acting opens.

    Nothing here depends on what a remedy costs or may harm, so it is worked out once.
    """

    def __init__(self, known: Known) -> None:
        self.asked = open_questions(known)
        self._openers = [o.remedy for o in known.options if o.remedy.establishes]
        self.places: list[range] = []
        """By question: the worlds of its answers."""
        changes: list[Mapping[str, Value | None]] = []
        for table in self.asked:
            first = len(changes) + 1
            changes += [change_if(known, table, answer) for answer in table.asked.answers]
            self.places.append(range(first, len(changes) + 1))
        self._count = len(changes)
        answers = tuple(changes)
        for remedy in self._openers:
            done = after(remedy)
            changes.append(done)
            changes.extend({**change, **done} for change in answers)
        self._moves = Moves(known, evaluate_worlds(known.net, known.facts, changes), changes)
        chances = chances_of(known.scores)
        self.names = known.before.names
        self._place_of = {name: place for place, name in enumerate(self.names)}
        self.present = [chances[name] for name in self.names]
        self._joint: dict[int, Beliefs] = {}

    def findings(self, world: int) -> frozenset[str]:
        """The findings present in a world."""
        return self._moves.findings(world)

    def opened(self, world: int = 0) -> Opened:
        """What each remedy that establishes something would open, in a world (0: the present)."""
        return {
            remedy.id: self._moves.findings(self._twin(place, world))
            for place, remedy in enumerate(self._openers)
        }

    def _twin(self, opener: int, world: int) -> int:
        """The world in which a remedy that opens others was done as well."""
        return self._count + 1 + opener * (self._count + 1) + world

    def changes_nothing(self, worlds: range) -> bool:
        """Whether no answer moves a cause or a finding, also after what acting opens."""
        moves = self._moves
        return not any(
            moves.shifts(world)
            or moves.moved(world)
            or any(
                moves.moved(self._twin(place, world)) != moves.moved(self._twin(place, 0))
                for place in range(len(self._openers))
            )
            for world in worlds
        )

    def beliefs(self) -> Iterator[tuple[str, Beliefs]]:
        """For each open question that moves anything: what would be believed, by answer."""
        for table, worlds in zip(self.asked, self.places, strict=True):
            if not self.changes_nothing(worlds):
                yield table.asked.id, self.joint(table, worlds)

    def joint(self, table: Table, worlds: range) -> Beliefs:
        """P(answer and cause), by answer, on what is known.

        Made to add up to the chance of the cause: no gain out of nothing.
        """
        found = self._joint.get(worlds.start)
        if found is None:
            found = self._joint[worlds.start] = self._joint_of(table, worlds)
        return found

    def _joint_of(self, table: Table, worlds: range) -> Beliefs:
        moved = [self._moves.shifts(world) for world in worlds]
        usual = [table.log_usual(answer) for answer in table.asked.answers]
        still = [math.exp(log) for log in usual]
        whole = math.fsum(still)
        joint = [[p * part / whole for p in self.present] for part in still]
        for name in dict.fromkeys(name for shift in moved for name in shift):
            place = self._place_of[name]
            grown = [
                math.exp(shift.get(name, 0.0) + log)
                for shift, log in zip(moved, usual, strict=True)
            ]
            whole = math.fsum(grown)
            for weights, part_of in zip(joint, grown, strict=True):
                weights[place] = self.present[place] * part_of / whole
        return joint
