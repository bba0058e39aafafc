"""All hypothetical answers at once: one bit per world.

An integer per atom holds its truth in every world; a rule is a few ``and`` and ``and not``; rules
run in level order, so findings chain. World 0 is the present. The engine stays the authority on
what was really told; this serves only what might be answered next.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.knowledge.phrases import PRESENT, Value

from .net import Net


@dataclass(frozen=True, slots=True)
class Spoken:
    """Bit *i* of a rule or finding: does it hold in world *i*?"""

    rules: tuple[int, ...]
    """In the net's order."""
    findings: Mapping[str, int]

    def findings_in(self, world: int) -> frozenset[str]:
        """The findings present in one world."""
        return frozenset(name for name, bits in self.findings.items() if bits >> world & 1)


def evaluate_worlds(
    net: Net, facts: Mapping[str, Value], changes: Sequence[Mapping[str, Value | None]]
) -> Spoken:
    """Run the rules in the present world and in one world per entry of ``changes``.

    Each entry holds the facts that differ from the present; None takes a fact away.
    """
    everywhere = (1 << len(changes) + 1) - 1
    atoms = [0] * len(net.phrases)
    for subject, value in facts.items():
        for atom in net.true_atoms(subject, value):
            atoms[atom] = everywhere
    findings = {name: everywhere for name, value in facts.items() if value == PRESENT}
    bit = 1
    for change in changes:
        bit <<= 1
        for subject, changed in change.items():
            if (value_now := facts.get(subject)) is not None:
                for atom in net.true_atoms(subject, value_now):
                    atoms[atom] &= ~bit
            if changed is not None:
                for atom in net.true_atoms(subject, changed):
                    atoms[atom] |= bit
            if changed == PRESENT:
                findings[subject] = findings.get(subject, 0) | bit
            elif subject in findings:
                findings[subject] &= ~bit
    return Spoken(_run(net, atoms, everywhere, findings), findings)


def _run(net: Net, atoms: list[int], everywhere: int, findings: dict[str, int]) -> tuple[int, ...]:
    """The worlds in which each rule speaks; findings and their atoms grow as rules conclude."""
    spoken = []
    for place, literals in enumerate(net.literals):
        speaks = everywhere
        for atom in literals.needs:
            speaks &= atoms[atom]
            if not speaks:
                break
        else:
            for atom in literals.forbids:
                speaks &= ~atoms[atom]
            concludes = net.rules[place].concludes
            if speaks and concludes is not None:
                findings[concludes] = findings.get(concludes, 0) | speaks
                for atom in net.true_atoms(concludes, PRESENT):
                    atoms[atom] |= speaks
        spoken.append(speaks)
    return tuple(spoken)
