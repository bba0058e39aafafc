"""The tests that all rules of a book share, numbered once; knows no experta.

Every distinct test ("paste-body is pours or slumps", "paste-temperature below 85 °C", "finding
present") is an *atom*; a list of answers is one atom, however long. A rule is then the atoms that
must hold and the atoms that must not. What a value means to the rules is looked up, not judged
anew: an answer by its name, a number by the stretch between the limits that any rule uses.

Two readers use the same net: the matcher, for what was really told, and the worlds, for what might
be answered next.
"""

from __future__ import annotations

import bisect
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from diagnose.knowledge.book import Rule
from diagnose.knowledge.phrases import Interval, OneOf, Phrase, Presence, Value

_IS_PRESENT = Presence(True)


@dataclass(frozen=True, slots=True)
class Literals:
    """One rule: atoms that must hold, and atoms that must not be known to hold."""

    needs: tuple[int, ...]
    forbids: tuple[int, ...]
    subjects: tuple[str, ...]
    """What the needed atoms are about, each once."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """What one value of a subject means to the rules.

    A rule is named by its place; it stands once for each of its atoms that hold.
    """

    atoms: tuple[int, ...]
    helps: tuple[int, ...]
    """Rules that need one of these atoms."""
    hinders: tuple[int, ...]
    """Rules that need the absence of one of these atoms."""


NOTHING = Meaning((), (), ())


@dataclass(frozen=True, slots=True)
class Meanings:
    """The meanings of all values of one subject."""

    of_answer: Mapping[str, Meaning]
    of_other_answer: Meaning
    """An answer that no rule names: "not pours" holds for it."""
    limits: tuple[float, ...]
    of_stretch: tuple[Meaning, ...]
    """Below the first limit, on it, between it and the second, and so on."""

    def of(self, value: Value) -> Meaning:
        """The meaning of a value."""
        if isinstance(value, str):
            return self.of_answer.get(value, self.of_other_answer)
        limits = self.limits
        return self.of_stretch[bisect.bisect_left(limits, value) + bisect.bisect(limits, value)]


@dataclass(frozen=True)
class Net:
    """Atoms by number, and for each rule (by its place in firing order) its literals."""

    rules: tuple[Rule, ...]
    subjects: tuple[str, ...]
    """For each atom what it is about."""
    phrases: tuple[Phrase, ...]
    """For each atom what must be so."""
    of_subject: Mapping[str, tuple[int, ...]]
    literals: tuple[Literals, ...]
    meanings: Mapping[str, Meanings]
    unmet: tuple[int, ...]
    """For each rule how many literals are unmet while nothing is known."""
    unconditional: tuple[int, ...]
    """The rules that need nothing, and speak unless something is known."""

    def meaning(self, subject: str, value: Value) -> Meaning:
        """What it means to the rules that a subject has a value."""
        meanings = self.meanings.get(subject)
        return NOTHING if meanings is None else meanings.of(value)

    def true_atoms(self, subject: str, value: Value) -> tuple[int, ...]:
        """The atoms about a subject that hold for a value."""
        return self.meaning(subject, value).atoms


def build(rules: Sequence[Rule]) -> Net:
    """Number the atoms of rules that stand in firing order."""
    numbers: dict[tuple[str, Phrase], int] = {}
    literals = tuple(_literals(rule, numbers) for rule in rules)
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
    subjects = tuple(subject for subject, _ in numbers)
    phrases = tuple(phrase for _, phrase in numbers)

    def meaning(atoms: Iterable[int]) -> Meaning:
        held = tuple(atoms)
        return Meaning(
            held,
            tuple(place for atom in held for place in needed_by[atom]),
            tuple(place for atom in held for place in forbidden_by[atom]),
        )

    def meanings(atoms: Sequence[int]) -> Meanings:
        by_answer, others = _by_answer(atoms, phrases)
        limits, stretches = _by_stretch(atoms, phrases)
        return Meanings(
            {answer: meaning(held) for answer, held in by_answer.items()},
            meaning(others),
            limits,
            tuple(map(meaning, stretches)),
        )

    return Net(
        rules=tuple(rules),
        subjects=subjects,
        phrases=phrases,
        of_subject={subject: tuple(atoms) for subject, atoms in of_subject.items()},
        literals=literals,
        meanings={subject: meanings(atoms) for subject, atoms in of_subject.items()},
        unmet=tuple(len(one.needs) for one in literals),
        unconditional=tuple(place for place, one in enumerate(literals) if not one.needs),
    )


def _literals(rule: Rule, numbers: dict[tuple[str, Phrase], int]) -> Literals:
    """The literals of a rule; ``numbers`` grows by the atoms met for the first time."""
    needs: dict[int, str] = {}
    forbids: dict[int, None] = {}

    for wanted, conditions in ((True, rule.when), (False, rule.unless)):
        for condition in conditions:
            subject, phrase = condition.subject, condition.phrase
            here = wanted
            if isinstance(phrase, Presence):
                # "unless absent" is "when present", and the other way round
                here = wanted is phrase.present
                phrase = _IS_PRESENT
            atom = numbers.setdefault((subject, phrase), len(numbers))
            if here:
                needs[atom] = subject
            else:
                forbids[atom] = None
    return Literals(tuple(needs), tuple(forbids), tuple(dict.fromkeys(needs.values())))


def _by_answer(
    atoms: Sequence[int], phrases: Sequence[Phrase]
) -> tuple[dict[str, list[int]], list[int]]:
    """The atoms that hold for each answer that a phrase names, and for any other answer."""
    held: dict[str, list[int]] = {}
    others: list[int] = []
    for atom in atoms:
        if isinstance(phrase := phrases[atom], OneOf):
            for answer in phrase.answers:
                held.setdefault(answer, [])
    for atom in atoms:
        phrase = phrases[atom]
        if isinstance(phrase, Presence) or (isinstance(phrase, OneOf) and phrase.negated):
            others.append(atom)
            left_out = phrase.answers if isinstance(phrase, OneOf) else ()
            for answer, holding in held.items():
                if answer not in left_out:
                    holding.append(atom)
        elif isinstance(phrase, OneOf):
            for answer in dict.fromkeys(phrase.answers):
                held[answer].append(atom)
    return held, others


def _by_stretch(
    atoms: Sequence[int], phrases: Sequence[Phrase]
) -> tuple[tuple[float, ...], list[list[int]]]:
    """The limits that intervals use, in order, and the atoms that hold between and on them."""
    intervals = [p for atom in atoms if isinstance(p := phrases[atom], Interval)]
    ends = {x for p in intervals for x in (p.low, p.high) if x is not None}
    limits = tuple(sorted(ends))
    place = {limit: 2 * index + 1 for index, limit in enumerate(limits)}
    held: list[list[int]] = [[] for _ in range(2 * len(limits) + 1)]
    for atom in atoms:
        phrase = phrases[atom]
        first, last = 0, len(held) - 1
        if isinstance(phrase, Interval):
            if phrase.low is not None:
                first = place[phrase.low] + (not phrase.low_inside)
            if phrase.high is not None:
                last = place[phrase.high] - (not phrase.high_inside)
        elif isinstance(phrase, OneOf) and not phrase.negated:
            continue
        for stretch in held[first : last + 1]:
            stretch.append(atom)
    return limits, held
