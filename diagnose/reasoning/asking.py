"""Which question next, and whether any is worth a tap.

A question is worth what it saves: the minutes expected from the best plan now, less the minutes
expected once its answer is known, less the trouble of answering. Causes that share a remedy are
never worth telling apart, however uncertain they are.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from diagnose.engine.worlds import evaluate_worlds
from diagnose.knowledge.book import Reading, Sign
from diagnose.knowledge.phrases import Value

from .belief import chances_of
from .known import Known, after, change_if, open_questions
from .likelihood import Table
from .limits import carry_on_loss
from .moving import Moves
from .options import Opened
from .quick_order import QuickOrder
from .words import EFFORT_MINUTES

WELL_EXPECTED = 0.05
"""A question must have at least this chance of changing the first remedy, to be worth a tap."""

Loss = tuple[float, str]
"""Minutes expected, and the id of the first remedy they start with."""


@dataclass(frozen=True, slots=True)
class Worth:
    """A question, what asking it saves in minutes, and where each answer would lead."""

    part: Sign | Reading
    saves: float
    leads_to: tuple[tuple[str, str], ...]
    """(answer, first remedy) for each answer."""
    changes_first: bool
    """Whether some answer that can well be expected would change what to do first."""


class Ahead:
    """Every world that might be next: each answer to each open question, and what acting opens."""

    def __init__(self, known: Known) -> None:
        self._known = known
        self._asked = open_questions(known)
        self._openers = [o.remedy for o in known.options if o.remedy.establishes]
        self._places: list[range] = []
        changes: list[Mapping[str, Value | None]] = []
        for table in self._asked:
            first = len(changes) + 1
            changes += [change_if(known, table, answer) for answer in table.asked.answers]
            self._places.append(range(first, len(changes) + 1))
        self._count = len(changes)
        answers = tuple(changes)
        for remedy in self._openers:
            done = after(remedy)
            changes.append(done)
            changes.extend({**change, **done} for change in answers)
        spoken = evaluate_worlds(known.net, known.facts, changes)
        self._moves = Moves(known, spoken, changes)
        self._discards = {f.id for f in known.dough.findings if f.calls_for is not None}
        self._order = QuickOrder(known.options, known.start_over, known.limits)
        present = chances_of(known.scores)
        names = known.before.names
        self._place_of = {name: place for place, name in enumerate(names)}
        self._carry_on = self._place_of.get(known.dough.carry_on)
        self._present = [present[name] for name in names]
        self.now = self._loss(self._present, 0)

    def opened(self, world: int = 0) -> Opened:
        """What each remedy that establishes something would open, in a world (0: the present)."""
        return {
            remedy.id: self._moves.findings(self._twin(place, world))
            for place, remedy in enumerate(self._openers)
        }

    def _twin(self, opener: int, world: int) -> int:
        """The world in which a remedy that opens others was done as well."""
        return self._count + 1 + opener * (self._count + 1) + world

    def beliefs(self) -> Iterator[tuple[str, list[list[float]]]]:
        """For each open question that moves anything: P(answer and cause), by answer."""
        for table, worlds in zip(self._asked, self._places, strict=True):
            if not self._changes_nothing(worlds):
                yield table.asked.id, self._joint(table, worlds)

    def questions(self) -> list[Worth]:
        """Every open question with what it saves, the best first."""
        worths = [
            self._worth_of(table, worlds)
            for table, worlds in zip(self._asked, self._places, strict=True)
        ]
        order = {name: place for place, name in enumerate(self._known.tables)}
        return sorted(worths, key=lambda w: (-round(w.saves, 9), order[w.part.id]))

    def _loss(self, weights: Sequence[float], world: int) -> Loss:
        """Minutes expected under the best quick plan, and the remedy it starts with."""
        known = self._known
        goes, minutes = self._order.goes(weights, self._moves.findings(world), self.opened(world))
        best = (minutes, goes[0].remedy.id if goes else "start-over")
        fine = 0.0 if self._carry_on is None else weights[self._carry_on]
        return min(best, (carry_on_loss(fine, known.start_over), "carry-on"))

    def _changes_nothing(self, worlds: range) -> bool:
        """Whether no answer moves a cause or a finding, also after what acting opens."""
        return not any(
            self._moves.shifts(world)
            or self._moves.moved(world)
            or any(
                self._moves.moved(self._twin(place, world))
                != self._moves.moved(self._twin(place, 0))
                for place in range(len(self._openers))
            )
            for world in worlds
        )

    def _worth_of(self, table: Table, worlds: range) -> Worth:
        part = table.asked.part
        assert isinstance(part, Sign | Reading)
        answers = table.asked.answers
        effort = EFFORT_MINUTES[part.effort]
        if self._changes_nothing(worlds):
            return Worth(part, -effort, tuple((a, self.now[1]) for a in answers), False)
        joint = self._joint(table, worlds)
        after_asking = 0.0
        leads = []
        changing = 0.0
        for answer, world, weights in zip(answers, worlds, joint, strict=True):
            chance = math.fsum(weights)
            if self._moves.findings(world) & self._discards:
                # a safety question is asked by its complaint, never to save minutes
                loss, first = self.now
            else:
                loss, first = self._loss([w / chance for w in weights], world)
            after_asking += chance * loss
            changing += chance if first != self.now[1] else 0.0
            leads.append((answer, first))
        saves = self.now[0] - after_asking - effort
        return Worth(part, saves, tuple(leads), changing >= WELL_EXPECTED)

    def _joint(self, table: Table, worlds: range) -> list[list[float]]:
        """P(answer and cause), by answer, on what is known.

        Made to add up to the chance of the cause: no gain out of nothing.
        """
        moved = [self._moves.shifts(world) for world in worlds]
        usual = [table.log_usual(answer) for answer in table.asked.answers]
        still = [math.exp(log) for log in usual]
        whole = math.fsum(still)
        joint = [[p * part / whole for p in self._present] for part in still]
        for name in dict.fromkeys(name for shift in moved for name in shift):
            place = self._place_of[name]
            grown = [
                math.exp(shift.get(name, 0.0) + log)
                for shift, log in zip(moved, usual, strict=True)
            ]
            whole = math.fsum(grown)
            for weights, part_of in zip(joint, grown, strict=True):
                weights[place] = self._present[place] * part_of / whole
        return joint
