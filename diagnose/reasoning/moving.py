"""How far each hypothetical world moves the score of each cause, and what else differs there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from diagnose.engine.worlds import Spoken
from diagnose.knowledge.phrases import Value

from .known import Known
from .likelihood import Table
from .posterior import about, counts, group_of, grouped, weight_of

Turned = tuple[str, str, str, float | None]
"""Cause, evidence group, rule, and its nats where it speaks there but not now; None for the
reverse."""


class Moves:
    """What differs from the present in each of many worlds; world 0 is the present."""

    def __init__(
        self, known: Known, spoken: Spoken, changes: Sequence[Mapping[str, Value | None]]
    ) -> None:
        self._rows: dict[str, list[tuple[str, str, str]]] = {}
        self._causes = known.before.causes
        self._tables, self._groups = known.tables, grouped(known.weights)
        self._counted = {key: counts(group) for key, group in self._groups.items()}
        self._changes = changes
        self._present = spoken.findings_in(0)
        everywhere = (1 << len(changes) + 1) - 1
        self._turned = _turned_rules(known, spoken, everywhere)
        self._shifts: dict[int, dict[str, float]] = {}
        self._moved: dict[int, list[str]] = {}
        for name, bits in spoken.findings.items():
            for world in _worlds_of(bits ^ (everywhere if bits & 1 else 0)):
                self._moved.setdefault(world, []).append(name)

    def turned(self, world: int) -> Sequence[Turned]:
        """The rules about causes in play that speak there but not now, or now but not there."""
        return self._turned.get(world, ())

    def moved(self, world: int) -> Sequence[str]:
        """The findings that are there but not now, or now but not there."""
        return self._moved.get(world, ())

    def findings(self, world: int) -> frozenset[str]:
        """The findings present in a world."""
        moved = self._moved.get(world)
        return self._present.symmetric_difference(moved) if moved else self._present

    def touched(self, world: int) -> bool:
        """Whether anything there bears on causes or remedies."""
        return bool(
            world in self._turned
            or world in self._moved
            or any(name in self._tables for name in self._changes[world - 1])
        )

    def shifts(self, world: int) -> dict[str, float]:
        """The change of score by cause; causes that do not move are left out."""
        found = self._shifts.get(world)
        if found is None:
            found = self._shifts[world] = self._shifts_in(world)
        return found

    def _shifts_in(self, world: int) -> dict[str, float]:
        changed: dict[tuple[str, str], dict[str, float]] = {}
        groups = self._groups

        def group(key: tuple[str, str]) -> dict[str, float]:
            if key not in changed:
                changed[key] = dict(groups.get(key, {}))
            return changed[key]

        for subject, value in self._changes[world - 1].items():
            table = self._tables.get(subject)
            if table is None:
                continue
            answer = table.asked.answer_for(value)
            for cause, its_group, name in self._rows_in_play(table):
                held = group((cause, its_group))
                held.pop(name, None)
                if answer is not None:
                    held[name] = table.shift(cause, answer)
        for target, its_group, name, nats in self._turned.get(world, ()):
            held = group((target, its_group))
            if nats is None:
                held.pop(name, None)
            else:
                held[name] = nats
        moved: dict[str, float] = {}
        for key, held in changed.items():
            moved[key[0]] = moved.get(key[0], 0.0) + counts(held) - self._counted.get(key, 0.0)
        return moved

    def _rows_in_play(self, table: Table) -> list[tuple[str, str, str]]:
        """Cause, evidence group and id of a table's rows about causes in play."""
        found = self._rows.get(table.asked.id)
        if found is None:
            rows = ((cause.id, table.rows.get(cause.id)) for cause in self._causes)
            found = [(c, group_of(row), row.id) for c, row in rows if row is not None]
            self._rows[table.asked.id] = found
        return found


def _worlds_of(bits: int) -> Iterator[int]:
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low


def _turned_rules(known: Known, spoken: Spoken, everywhere: int) -> dict[int, list[Turned]]:
    names = set(known.before.names)
    turned: dict[int, list[Turned]] = {}
    for rule, bits in zip(known.net.rules, spoken.rules, strict=True):
        target = about(rule)
        different = bits ^ (everywhere if bits & 1 else 0)
        if target is None or target not in names or not different:
            continue
        nats = None if bits & 1 else weight_of(rule)
        for world in _worlds_of(different):
            turned.setdefault(world, []).append((target, group_of(rule), rule.id, nats))
    return turned
