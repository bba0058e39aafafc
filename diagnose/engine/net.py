"""The tests that all rules of a book share, numbered once; knows no experta.

Every distinct test ("paste-body is pours or slumps", "paste-temperature below 85 °C", "finding
present") is an *atom*. A rule is then the atoms that must hold and the atoms that must not. Two
readers use the same net: the matcher, for what was really told, and the worlds, for what might be
answered next.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from diagnose.knowledge.book import Condition, Rule
from diagnose.knowledge.phrases import Phrase, Presence, Truth, Value

_IS_PRESENT = Presence(True)


@dataclass(frozen=True, slots=True)
class Literals:
    """One rule: atoms that must hold, and atoms that must not be known to hold."""

    needs: tuple[int, ...]
    forbids: tuple[int, ...]


@dataclass(frozen=True)
class Net:
    """Atoms by number, and for each rule (by its place in firing order) its literals."""

    rules: tuple[Rule, ...]
    phrases: tuple[Phrase, ...]
    of_subject: Mapping[str, tuple[int, ...]]
    literals: tuple[Literals, ...]
    needed_by: tuple[tuple[int, ...], ...]
    """atom -> places of the rules that need it."""
    forbidden_by: tuple[tuple[int, ...], ...]
    """atom -> places of the rules that need its absence."""

    def true_atoms(self, subject: str, value: Value) -> list[int]:
        """The atoms about a subject that hold for a value."""
        return [
            atom
            for atom in self.of_subject.get(subject, ())
            if self.phrases[atom].judge(value) is Truth.YES
        ]


def build(rules: Sequence[Rule]) -> Net:
    """Number the atoms of rules that stand in firing order."""
    numbers: dict[tuple[str, Phrase], int] = {}

    def numbered(conditions: Iterable[Condition]) -> tuple[int, ...]:
        found = {
            numbers.setdefault(
                (c.subject, _IS_PRESENT if isinstance(c.phrase, Presence) else c.phrase),
                len(numbers),
            )
            for c in conditions
        }
        return tuple(sorted(found))

    literals = []
    for rule in rules:
        absent = [c for c in rule.when if c.phrase == Presence(False)]
        literals.append(
            Literals(
                needs=numbered(c for c in rule.when if c.phrase != Presence(False)),
                forbids=numbered((*absent, *rule.unless)),
            )
        )
    of_subject: dict[str, list[int]] = {}
    for (subject, _), number in numbers.items():
        of_subject.setdefault(subject, []).append(number)
    needed_by: list[list[int]] = [[] for _ in numbers]
    forbidden_by: list[list[int]] = [[] for _ in numbers]
    for place, rule_literals in enumerate(literals):
        for atom in rule_literals.needs:
            needed_by[atom].append(place)
        for atom in rule_literals.forbids:
            forbidden_by[atom].append(place)
    return Net(
        rules=tuple(rules),
        phrases=tuple(phrase for _, phrase in numbers),
        of_subject={subject: tuple(atoms) for subject, atoms in of_subject.items()},
        literals=tuple(literals),
        needed_by=tuple(map(tuple, needed_by)),
        forbidden_by=tuple(map(tuple, forbidden_by)),
    )
