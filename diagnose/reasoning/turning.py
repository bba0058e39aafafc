"""What would change my mind: the fewest further answers that would change the first remedy.

Also the reverse: the fewest answers already told without which another remedy would come first.

A quick order of remedies (``quick_order.QuickOrder``) over all hypothetical answers at once finds
where to look. It may differ from the exact order, so nothing is returned on its word: each set is
told to ``decides``, the same rule that makes the plan, and so is every smaller set within it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from diagnose.knowledge.book import Given, Reading, Sign
from diagnose.knowledge.phrases import Interval, Value
from diagnose.knowledge.situation import Situation

from .belief import chances_of
from .guessing import Guesses
from .known import Known, change_if, middle_of
from .likelihood import Table

MOST_WORLDS: Final = 1500
"""No more sets of answers than this are looked at, of each kind."""
MOST_PAIRS: Final = 80
"""Of all pairs of answers so many are tried that come near a change, and so many by rules."""
MOST_CHECKS: Final = 6
"""Runs of the exact rule for sets that turn out not to change anything, before giving up."""
MOST_WITHDRAWN: Final = 3
"""More answers than this at once are no reason a cook could follow."""

Decides = Callable[[Situation], str]
"""The id of the remedy that the front door would put first in a situation."""
Answers = tuple[tuple[str, str], ...]
"""(question, answer), in the book's order."""


@dataclass(frozen=True, slots=True)
class Turn:
    """Answers that, told together, would put another remedy first; no fewer of them would."""

    answers: Answers
    first: str
    """The remedy that would come first, "start over" and "carry on" included."""


def turning_points(known: Known, first: str, decides: Decides, most: int = 3) -> tuple[Turn, ...]:
    """The smallest sets of further answers that would change the first remedy.

    Single answers to any question of this stage that has no answer yet, also one that the cook
    could not answer; those that can best be expected come first, of each question one per remedy.
    Only if no single answer does, pairs: those that together come nearest to a change, and those
    that some rule looks at together; ``MOST_PAIRS`` of each and of ``MOST_WORLDS`` at most, so a
    pair may exist and not be found. An answer that calls for throwing away overrides
    everything and so says little about the reasoning: such answers come last.

    Args:
        first: the first remedy now, as ``decides(known.situation)`` gives it.
        decides: the exact rule; it is run for every set returned and for all smaller ones in it.
            A reading's answer must hold at both ends of its band as well as in the middle.
        most: the largest number of sets returned.
    """
    if most < 1:
        raise ValueError(f"most is {most}; at least 1 is needed")
    search = _Search(known, first, decides)
    singles = search.singles(most)
    plain = [turn for turn in singles if not search.is_gate(turn.first)]
    gates = [turn for turn in singles if search.is_gate(turn.first)]
    if not plain:
        plain = search.pairs(most)
    return tuple((plain + gates)[:most])


def would_not_hold_without(known: Known, first: str, decides: Decides) -> tuple[str, ...]:
    """The smallest set of signs and readings without which the first remedy would be another.

    At most ``MOST_WITHDRAWN`` of them, and no smaller set among them has that effect. Empty if
    there is none: then the remedy rests on more answers than that, or is what most often helps at
    this stage whatever was told. What the batch form tells counts as an answer where a sign or
    reading asks for it. Of sets of equal size the one that comes first in the book is given.
    """
    dough = known.dough
    parts: tuple[Sign | Reading, ...] = (*dough.signs, *dough.readings)
    told = [part.id for part in parts if part.id in known.facts]
    holding: dict[frozenset[str], bool] = {}

    def still_holds(names: frozenset[str]) -> bool:
        if names not in holding:
            holding[names] = decides(without(known, names)) == first
        return holding[names]

    for size in range(1, min(MOST_WITHDRAWN, len(told)) + 1):
        sets = list(itertools.islice(itertools.combinations(told, size), MOST_WORLDS))
        changes = [_withdrawal(known, names) for names in sets]
        quick = Guesses(known, changes)
        checks = 0
        for names, place in zip(sets, range(1, len(sets) + 1), strict=True):
            if quick.first_in(place) == quick.now:
                continue
            if not still_holds(frozenset(names)) and all(
                still_holds(frozenset(fewer)) for fewer in _proper_parts(names)
            ):
                return names
            checks += 1
            if checks >= MOST_CHECKS:
                break
    return ()


def told_with(known: Known, answers: Answers, place: float = 0.5) -> Situation | None:
    """The situation with these answers told as well.

    A reading's answer is a band; ``place`` says where in its likely part the number lies (0 to 1).
    For a reading that is judged by another (grams, by what they mean for the batch) a number that
    comes out in the band is looked for; None if there is none.
    """
    situation = known.situation
    for name, answer in answers:
        part = known.tables[name].asked.part
        if isinstance(part, Sign):
            update: dict[str, object] = {"signs": {**situation.signs, name: answer}}
        else:
            assert isinstance(part, Reading)
            number = _number_for(known, situation, part, answer, place)
            if number is None:
                return None
            update = {"readings": {**situation.readings, name: number}}
        update["not_looked"] = situation.not_looked - {name}
        situation = situation.model_copy(update=update)
    return situation


_FIELDS: Final[Mapping[Given, str]] = {
    "flour measured": "flour_measured",
    "minutes simmered": "simmer_min",
    "minutes cooked": "cook_min",
    "minutes to serving": "serve_in_min",
    "yolks": "yolks",
}


def without(known: Known, names: Iterable[str]) -> Situation:
    """The situation as if these signs and readings had not been told, by form or by answer."""
    situation = known.situation
    gone = set(names)
    batch: dict[str, object] = {}
    update: dict[str, object] = {
        "signs": {name: a for name, a in situation.signs.items() if name not in gone},
        "readings": {name: a for name, a in situation.readings.items() if name not in gone},
    }
    parts: tuple[Sign | Reading, ...] = (*known.dough.signs, *known.dough.readings)
    for part in parts:
        if part.id not in gone or part.given_by is None:
            continue
        if part.given_by == "elevation":
            update["kitchen"] = situation.kitchen.model_copy(update={"elevation_m": None})
        else:
            field = _FIELDS[part.given_by]
            batch[field] = "unknown" if field == "flour_measured" else None
    if batch:
        update["batch"] = situation.batch.model_copy(update=batch)
    return situation.model_copy(update=update)


def _proper_parts(names: Sequence[str]) -> Iterator[tuple[str, ...]]:
    for size in range(1, len(names)):
        yield from itertools.combinations(names, size)


def _withdrawal(known: Known, names: Iterable[str]) -> dict[str, Value | None]:
    facts = known.facts_of(without(known, names))
    return {
        name: facts.get(name)
        for name in sorted({*facts, *known.facts})
        if facts.get(name) != known.facts.get(name)
    }


def _number_for(
    known: Known, situation: Situation, reading: Reading, answer: str, place: float
) -> float | None:
    if reading.judged_by is None:
        band = next(band.phrase for band in reading.bands if band.id == answer)
        assert isinstance(band, Interval)
        low = reading.likely[0] if band.low is None else max(band.low, reading.likely[0])
        high = reading.likely[1] if band.high is None else min(band.high, reading.likely[1])
        return low + (high - low) * place if low < high else middle_of(band, reading.likely)
    judge = known.tables[reading.judged_by].asked
    low, high = reading.likely
    found = []
    for step in range(_STEPS + 1):
        number = low + (high - low) * step / _STEPS
        tell = {"readings": {**situation.readings, reading.id: number}}
        facts = known.facts_of(situation.model_copy(update=tell))
        if judge.answer_for(facts.get(judge.id)) == answer:
            found.append(number)
    return found[int((len(found) - 1) * place)] if found else None


_STEPS: Final = 40
_PLACES: Final = (0.5, 0.1, 0.9)
"""Where in a band an answer must hold: its middle, and nearly its ends."""


_Guess = tuple[Answers, str]
"""Answers, and the first remedy that the quick order sees after them."""


@dataclass(frozen=True, slots=True)
class _Single:
    """One answer that might be told, and what would differ."""

    table: Table
    answer: str
    change: Mapping[str, Value | None]
    chance: float

    @property
    def told(self) -> tuple[str, str]:
        return self.table.asked.id, self.answer


class _Search:
    """The candidates by the quick order, the truth by the exact rule."""

    def __init__(self, known: Known, first: str, decides: Decides) -> None:
        self._known = known
        self._first = first
        self._decides = decides
        self._decided: dict[tuple[Answers, float], str | None] = {}
        self._gates = {f.calls_for for f in known.dough.findings if f.calls_for is not None}
        present = chances_of(known.scores)
        self._singles = [
            _Single(table, answer, change_if(known, table, answer), chance)
            for table in _unanswered(known)
            for answer, chance in _expected(table, present).items()
        ][:MOST_WORLDS]
        self._quick = Guesses(known, [single.change for single in self._singles])

    def is_gate(self, remedy: str) -> bool:
        """Whether only an unsafe history calls for it."""
        return remedy in self._gates

    def singles(self, most: int) -> list[Turn]:
        """Single answers that change the first remedy: gates after all others."""
        numbered = sorted(
            enumerate(self._singles, start=1), key=lambda item: (-item[1].chance, item[0])
        )
        gates: list[_Guess] = []

        def plain() -> Iterator[_Guess]:
            # lazily: often the first few are enough
            for world, single in numbered:
                quick = self._quick.first_in(world)
                if quick in self._gates:
                    gates.append(((single.told,), quick))
                elif quick != self._quick.now:
                    yield (single.told,), quick

        found = self._checked(plain(), most)
        # one line about throwing away is enough, and only where there is room
        return found + (self._checked(gates, 1) if len(found) < most else [])

    def pairs(self, most: int) -> list[Turn]:
        """Pairs that change the first remedy although neither answer alone does."""
        near = self._near_pairs()
        pairs = list(dict.fromkeys((*near, *self._joined_pairs())))[:MOST_WORLDS]
        if not pairs:
            return []
        singles = self._singles
        quick = Guesses(self._known, [{**singles[u].change, **singles[v].change} for u, v in pairs])
        guesses = []
        looked_at = 0
        for world, (u, v) in enumerate(pairs, start=1):
            apart = self._quick.moves(u + 1) | self._quick.moves(v + 1)
            if world > len(near) and (looked_at >= MOST_PAIRS or quick.moves(world) == apart):
                continue
            looked_at += world > len(near)
            guess = quick.first_in(world)
            if guess not in {quick.now, *self._gates}:
                chance = singles[u].chance * singles[v].chance
                guesses.append((-chance, (singles[u].told, singles[v].told), guess))
        # stable: of pairs as likely, those of the questions that come first in the book
        guesses.sort(key=lambda found: found[0])
        return self._checked([(answers, guess) for _, answers, guess in guesses], most)

    def _near_pairs(self) -> list[tuple[int, int]]:
        """The pairs whose answers, one by one, come nearest to a change together."""
        whole = self._quick.margin(0)
        gains = [(whole - self._quick.margin(place + 1), place) for place in self._quiet()]
        nearer = sorted((-gain, place) for gain, place in gains if gain > 1e-9)
        ranked = sorted(
            (one + other, min(u, v), max(u, v))
            for (one, u), (other, v) in itertools.islice(
                itertools.combinations(nearer, 2), MOST_WORLDS
            )
            if self._singles[u].table is not self._singles[v].table
        )
        return [(u, v) for _, u, v in ranked[:MOST_PAIRS]]

    def _joined_pairs(self) -> Iterator[tuple[int, int]]:
        """Pairs of answers to two questions that some rule looks at together, findings included."""
        seen_by: dict[str, frozenset[str]] = {}
        joined: set[tuple[str, str]] = set()
        asked = {single.table.asked.id for single in self._singles}
        for rule in self._known.net.rules:  # in level order
            looks: frozenset[str] = frozenset()
            for condition in (*rule.when, *rule.unless):
                looks |= seen_by.get(condition.subject, frozenset({condition.subject}) & asked)
            if rule.concludes is not None:
                seen_by[rule.concludes] = seen_by.get(rule.concludes, frozenset()) | looks
            joined.update(itertools.combinations(sorted(looks), 2))
        for u, v in itertools.combinations(self._quiet(), 2):
            names = self._singles[u].table.asked.id, self._singles[v].table.asked.id
            if names in joined or names[::-1] in joined:
                yield u, v

    def _quiet(self) -> list[int]:
        """The places of the answers that by themselves change nothing."""
        return [
            place
            for place in range(len(self._singles))
            if self._quick.first_in(place + 1) == self._quick.now
        ]

    def _checked(self, guesses: Iterable[_Guess], most: int) -> list[Turn]:
        """Those that truly change the first remedy, while no part of them does."""
        found: list[Turn] = []
        seen: set[tuple[tuple[str, ...], str]] = set()
        failed = 0
        for answers, guess in guesses:
            asked = tuple(name for name, _ in answers)
            if (asked, guess) in seen:
                continue
            turn = self._turn(answers)
            if turn is None:
                failed += 1
            elif (asked, turn.first) not in seen:
                found.append(turn)
                seen.add((asked, turn.first))
            if len(found) >= most or failed >= MOST_CHECKS:
                break
        return found

    def _turn(self, answers: Answers) -> Turn | None:
        first = self._decide(answers)
        if first is None or first == self._first:
            return None
        if any(self._decide((part,)) != self._first for part in answers if len(answers) > 1):
            return None
        if any(isinstance(self._known.tables[n].asked.part, Reading) for n, _ in answers) and any(
            self._decide(answers, place) != first for place in _PLACES[1:]
        ):
            return None
        return Turn(answers, first)

    def _decide(self, answers: Answers, place: float = _PLACES[0]) -> str | None:
        key = answers, place
        if key not in self._decided:
            told = told_with(self._known, answers, place)
            self._decided[key] = None if told is None else self._decides(told)
        return self._decided[key]


def _unanswered(known: Known) -> list[Table]:
    """Every question of this stage without an answer, passed over or not."""
    return [
        table
        for table in known.tables.values()
        if isinstance(table.asked.part, Sign | Reading)
        and known.situation.stage in table.asked.part.stages
        and table.asked.id not in known.facts
    ]


def _expected(table: Table, present: Mapping[str, float]) -> dict[str, float]:
    """The chance of each answer on what is believed now."""
    silent = 1.0 - math.fsum(present[cause] for cause in table.rows if cause in present)
    return {
        answer: silent * math.exp(table.log_usual(answer))
        + math.fsum(
            present[cause] * math.exp(table.log_for(cause, answer))
            for cause in table.rows
            if cause in present
        )
        for answer in table.asked.answers
    }
