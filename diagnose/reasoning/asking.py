"""Which question next, and whether any is worth a tap.

A question is worth what it saves: the minutes expected from the best plan now, less the minutes
expected once its answer is known, less the trouble of answering. Causes that share a remedy are
never worth telling apart, however uncertain they are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.knowledge.book import Reading, Sign

from .hypotheses import Hypotheses
from .known import Known
from .likelihood import Table
from .limits import carry_on_loss
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
    """What each open question would save, over the hypotheses of a situation."""

    def __init__(self, known: Known, hypotheses: Hypotheses | None = None) -> None:
        self._known = known
        self._worlds = Hypotheses(known) if hypotheses is None else hypotheses
        self._discards = {f.id for f in known.dough.findings if f.calls_for is not None}
        self._order = QuickOrder(known.options, known.start_over, known.limits)
        names = self._worlds.names
        carry_on = known.dough.carry_on
        self._carry_on = names.index(carry_on) if carry_on in names else None
        self.now = self._loss(self._worlds.present, 0)

    def opened(self, world: int = 0) -> Opened:
        """What each remedy that establishes something would open, in a world (0: the present)."""
        return self._worlds.opened(world)

    def questions(self, *, quick: bool = False) -> list[Worth]:
        """Every open question with what it saves, the best first.

        With ``quick``, a question whose every answer surely leaves the first remedy as it is gets
        no worth of its own: it counts as saving nothing.
        """
        worths = [
            self._idle(table)
            if quick and self._surely_idle(table, worlds)
            else self._worth_of(table, worlds)
            for table, worlds in zip(self._worlds.asked, self._worlds.places, strict=True)
        ]
        order = {name: place for place, name in enumerate(self._known.tables)}
        return sorted(worths, key=lambda w: (-round(w.saves, 9), order[w.part.id]))

    def _idle(self, table: Table) -> Worth:
        """A question that changes nothing."""
        part = table.asked.part
        assert isinstance(part, Sign | Reading)
        leads = tuple((answer, self.now[1]) for answer in table.asked.answers)
        return Worth(part, -EFFORT_MINUTES[part.effort], leads, False)

    def _surely_idle(self, table: Table, worlds: range) -> bool:
        """Whether one look at each answer tells that the first remedy stays."""
        known, hypotheses = self._known, self._worlds
        end = known.limits.end(known.start_over)
        for world, weights in zip(worlds, hypotheses.joint(table, worlds), strict=True):
            findings = hypotheses.findings(world)
            if findings & self._discards:
                continue
            chance = math.fsum(weights)
            believed = [weight / chance for weight in weights]
            fine = 0.0 if self._carry_on is None else believed[self._carry_on]
            if carry_on_loss(fine, known.start_over) < end:
                return False
            opened = hypotheses.opened(world)
            if self._order.surely_first(believed, findings, opened) != self.now[1]:
                return False
        return True

    def _loss(self, weights: Sequence[float], world: int) -> Loss:
        """Minutes expected under the best quick plan, and the remedy it starts with."""
        known, worlds = self._known, self._worlds
        goes, minutes = self._order.goes(weights, worlds.findings(world), worlds.opened(world))
        best = (minutes, goes[0].remedy.id if goes else "start-over")
        fine = 0.0 if self._carry_on is None else weights[self._carry_on]
        return min(best, (carry_on_loss(fine, known.start_over), "carry-on"))

    def _worth_of(self, table: Table, worlds: range) -> Worth:
        part = table.asked.part
        assert isinstance(part, Sign | Reading)
        answers = table.asked.answers
        effort = EFFORT_MINUTES[part.effort]
        if self._worlds.changes_nothing(worlds):
            return self._idle(table)
        joint = self._worlds.joint(table, worlds)
        after_asking = 0.0
        leads = []
        changing = 0.0
        for answer, world, weights in zip(answers, worlds, joint, strict=True):
            chance = math.fsum(weights)
            if self._worlds.findings(world) & self._discards:
                # a safety question is asked by its complaint, never to save minutes
                loss, first = self.now
            else:
                loss, first = self._loss([w / chance for w in weights], world)
            after_asking += chance * loss
            changing += chance if first != self.now[1] else 0.0
            leads.append((answer, first))
        saves = self.now[0] - after_asking - effort
        return Worth(part, saves, tuple(leads), changing >= WELL_EXPECTED)
