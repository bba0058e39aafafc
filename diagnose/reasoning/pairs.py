"""Two things wrong at once: every pair of causes beside every cause by itself.

The chances of single causes take one cause to be at work. Here each pair in play becomes one more
hypothesis. What a pair is expected to show follows from what its two causes show alone, by
noisy-OR (Pearl, Probabilistic Reasoning in Intelligent Systems, 1988, section 4.3.2; section from
memory), carried over from yes and no to several answers.

Noisy-OR for several answers. Let ``base`` be how likely each answer x is with nothing wrong: the
row of the carry-on cause where it has one, how usual the answer is otherwise. A cause shows itself
at a look with chance ``s`` and then produces an answer of its own; otherwise the look stays as it
would be with nothing wrong. The least chance of showing that explains its row is taken::

    P(x | c) = q(c) base(x) + m(c, x)         q(c) = min over x of P(x | c) / base(x) = 1 - s(c)

Two causes show themselves independently; if both do, the cook meets the answer of either, evenly::

    P(x | a, b) = q(a) q(b) base(x) + m(a, x) q(b) + q(a) m(b, x)
                  + (m(a, x) s(b) + s(a) m(b, x)) / 2

For a yes or no that both causes make likelier this is plain noisy-OR with a leak,
P(no | a, b) = P(no | a) P(no | b) / P(no | none). A cause without a row is silent: q = 1, m = 0,
whether alone or in a pair, so a pair shows what its other cause shows. The chances of the answers
add up to one for every pair.

Here the looks of a silent cause are as with nothing wrong. The chances of single causes take them
to be as usual, which counts the mishaps of other pans in; beside pairs that would explain the
sign of a second cause away as chance. So ``alone`` is not quite what the cook is shown.

Rules weigh combinations, and have no table. Where weights of both causes stand in one evidence
group, the combination is taken to be rare with nothing wrong, and the same formula with base
tending to zero says what both are worth together: F(a) + F(b) - 1 for two factors in favour,
F(a) F(b) for two against. Elsewhere weights of a pair add up as they do for its causes alone.

Limits. Three things at once are not considered, nor causes that exclude or bring about one
another. That both answers are noticed evenly is a house rule, and so is the prior of a pair. A
weight meets at most one weight of the other cause, the first in the book's order.
"""

from __future__ import annotations

import itertools
import math
import operator
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from diagnose.knowledge.book import Dough, Rule
from diagnose.knowledge.phrases import Value

from .belief import Prior, scores_of
from .likelihood import Table
from .posterior import Weighed, heaviest, softmax, weigh
from .words import SOMETHING_ELSE

TOGETHER: Final = 0.25
"""How likely a second cause is, beside one that is there, as a share of how likely it is to come
alone; house rule. Before anything is told about one visit in thirteen is about two things."""

SAID_ABOVE: Final = 0.5
"""Two things are spoken of only if they are likelier than not; house rule."""

Pair = tuple[str, str]
"""Two cause ids in the book's order."""

Meet = dict[str, dict[str, float]]
"""cause -> a later cause -> nats"""


@dataclass(frozen=True, slots=True)
class Pairs:
    """Chances of every cause alone and of every pair; together they add up to one."""

    alone: Mapping[str, float]
    """By cause id, "nothing wrong" and "something else" among them."""
    together: Mapping[Pair, float]
    chance: float
    """That two things are wrong which do not call for the very same remedies."""
    best: Pair | None
    """The likeliest such pair, however unlikely; of equals the first in the book's order."""

    @property
    def named(self) -> Pair | None:
        """The pair to speak of, or None: only if two things are likelier than not."""
        return self.best if self.chance > SAID_ABOVE else None


class Shows(NamedTuple):
    """What one cause does to one answer: see the formula above. ``s`` is 1 - ``q``."""

    q: float
    """Chance that the look stays as it would be with nothing wrong."""
    m: float
    """Chance that the cause shows itself and produces this very answer."""


def shows(logs: Mapping[str, float], base: Mapping[str, float], answer: str) -> Shows:
    """The parts of a row, from log P(answer | cause) and log P(answer | nothing wrong).

    >>> row = {"yes": math.log(0.6), "no": math.log(0.4)}
    >>> none = {"yes": math.log(0.2), "no": math.log(0.8)}
    >>> parts = shows(row, none, "yes")
    >>> round(parts.q, 3), round(parts.m, 3)
    (0.5, 0.5)
    """
    q = math.exp(min(map(operator.sub, map(logs.__getitem__, base), base.values())))
    return Shows(q, max(math.exp(logs[answer]) - q * math.exp(base[answer]), 0.0))


def of_factor(factor: float) -> Shows:
    """The parts of a factor on the odds, per base chance of a combination that is rare.

    >>> of_factor(3.0), of_factor(0.25)
    (Shows(q=1.0, m=2.0), Shows(q=0.25, m=0.0))
    """
    return Shows(min(factor, 1.0), max(factor - 1.0, 0.0))


def beside(base: float, one: Shows) -> tuple[float, float, float]:
    """The formula above as seen from the other cause: factors for its q and m, and a constant."""
    half = one.m / 2
    return one.q * base + half, (one.q + 1) / 2, half


def noisy_or(base: float, one: Shows, other: Shows) -> float:
    """P(answer | both causes), by the formula above.

    Two causes that each turn a yes of 0.2 into one of 0.6 make a no of 0.4 x 0.4 / 0.8:

    >>> both = Shows(0.5, 0.5)
    >>> round(noisy_or(0.2, both, both), 3)
    0.8
    """
    by_q, by_m, rest = beside(base, one)
    return by_q * other.q + by_m * other.m + rest


def two_causes(
    before: Prior,
    tables: Mapping[str, Table],
    facts: Mapping[str, Value],
    spoke: Iterable[Rule],
    dough: Dough,
    *,
    together: float = TOGETHER,
) -> Pairs:
    """How likely it is that two things are wrong, and which two.

    ``before``, ``tables``, ``facts`` and ``spoke`` are those of the single causes. The carry-on
    cause stands for "none", and "something else", with every look as usual, for what the book does
    not know; neither is paired.

    The weight of a pair before any look is ``together`` x w(a) x w(b) / sum of all w, where w are
    the words for how common a cause is. The outcomes of remedies count as if each cause made it
    fail by itself. The result depends neither on the order of the facts nor on that of the rules.
    """
    weights = weigh(before.causes, tables, facts, sorted(spoke, key=lambda rule: rule.id))
    names = [cause.id for cause in before.causes if cause.id != dough.carry_on]
    leak = _leak(weights, tables, dough.carry_on)
    alone = scores_of(before, weights)
    for name in names:
        alone[name] += math.fsum(w for look, w in leak.items() if name not in tables[look].rows)
    priors = before.common
    scale = math.log(together) - math.log(math.fsum(math.exp(w) for w in priors.values()))
    taught = {name: before.scores[name] - priors[name] for name in before.names}
    # what both leave silent was counted for each of them
    level = scale - math.fsum(leak.values())
    pairs = {}
    for one, others in _meetings(weights, tables, facts, dough, names, leak).items():
        for other, worth in others.items():
            tried = taught[one] + taught[other]
            outcome = min(tried - taught[SOMETHING_ELSE], 0.0) - tried
            pairs[one, other] = alone[one] + alone[other] + level + outcome + worth
    return _chances(before, alone, pairs)


def _leak(
    weights: Iterable[Weighed], tables: Mapping[str, Table], carry_on: str
) -> dict[str, float]:
    """By look, what the answer given is worth for "nothing wrong", in nats."""
    rows = {t.rows[carry_on].id: name for name, t in tables.items() if carry_on in t.rows}
    return {rows[w.by]: w.nats for w in heaviest(weights) if w.cause == carry_on and w.by in rows}


def _chances(before: Prior, scores: Mapping[str, float], pairs: Mapping[Pair, float]) -> Pairs:
    top = max(*scores.values(), *pairs.values()) if pairs else max(scores.values())
    grown = {pair: math.exp(score - top) for pair, score in pairs.items()}
    single = math.fsum(math.exp(score - top) for score in scores.values())
    whole = single + math.fsum(grown.values())
    together = {pair: weight / whole for pair, weight in grown.items()}
    alone = {name: c * single / whole for name, c in softmax(scores).items()}
    remedies = {cause.id: {attempt.remedy for attempt in cause.tries} for cause in before.causes}
    apart = [pair for pair in together if remedies[pair[0]] != remedies[pair[1]]]
    return Pairs(
        alone=alone,
        together=together,
        chance=math.fsum(together[pair] for pair in apart),
        best=max(apart, key=together.__getitem__, default=None),
    )


class _Counted(NamedTuple):
    """The one weight that counts for a cause and a group, and all that it stands for."""

    cause: str
    nats: float
    look: str | None
    """The table whose row it is; None if a rule counts."""
    row: Shows
    """What the row, or the bare factor of a rule, shows."""
    tags: tuple[str, ...]
    """Its group, and the looks of every row in that group, outweighed ones too."""


def _meetings(
    weights: Sequence[Weighed],
    tables: Mapping[str, Table],
    facts: Mapping[str, Value],
    dough: Dough,
    names: Sequence[str],
    leak: Mapping[str, float],
) -> Meet:
    """For each pair, what its causes are worth together beyond the sum of each alone, in nats."""
    looks = _looks(tables, facts, dough)
    tagged: dict[str, list[_Counted]] = {}
    for counted in _all_counted(weights, looks, names):
        for tag in counted.tags:
            tagged.setdefault(tag, []).append(counted)
    meet = {one: dict.fromkeys(names[place + 1 :], 0.0) for place, one in enumerate(names)}
    for look, nats in leak.items():
        speaking = [name for name in names if name in tables[look].rows]
        for place, one in enumerate(speaking):
            others = meet[one]
            for other in speaking[place + 1 :]:
                others[other] += nats
    met: set[tuple[Pair, _Counted]] = set()
    for group in tagged.values():
        shared = group[0].look
        if shared is not None and all(c.look == shared and len(c.tags) == 1 for c in group):
            _meet_at_look(looks[shared], group, meet)
        else:
            _meet_in_group(looks, group, meet, met)
    return meet


def _meet_at_look(look: _Look, group: Sequence[_Counted], meet: Meet) -> None:
    """Rows of one look that stand for nothing else: nearly all, so the plain and quick way."""
    sides = [(c.cause, c.row.q, c.row.m, c.nats) for c in group]
    for index, one in enumerate(group):
        others = meet[one.cause]
        by_q, by_m, rest = beside(look.base, one.row)
        alone = look.log_usual + one.nats
        for other, q, m, nats in sides[index + 1 :]:
            others[other] += math.log(by_q * q + by_m * m + rest) - alone - nats


def _meet_in_group(
    looks: Mapping[str, _Look],
    group: Sequence[_Counted],
    meet: Meet,
    met: set[tuple[Pair, _Counted]],
) -> None:
    """Rules and rows that an author bound together; two may meet under several names."""
    for one, other in itertools.combinations(group, 2):
        pair = (one.cause, other.cause)
        ends = (pair, one), (pair, other)
        if ends[0] in met or ends[1] in met:
            continue
        met.update(ends)
        if one.look is not None and one.look == other.look:
            look = looks[one.look]
            worth = math.log(noisy_or(look.base, one.row, other.row)) - look.log_usual
        else:
            first, second = of_factor(math.exp(one.nats)), of_factor(math.exp(other.nats))
            worth = math.log(noisy_or(1.0, first, second))
        meet[one.cause][other.cause] += worth - one.nats - other.nats


@dataclass(frozen=True, slots=True)
class _Look:
    """One answered look."""

    table: Table
    answer: str
    log_base: Mapping[str, float]
    """answer -> log P(answer) with nothing wrong"""
    base: float
    """P(answer given) with nothing wrong"""
    log_usual: float


def _looks(
    tables: Mapping[str, Table], facts: Mapping[str, Value], dough: Dough
) -> dict[str, _Look]:
    looks = {}
    for name, table in tables.items():
        answer = table.asked.answer_for(facts.get(name))
        if answer is not None:
            logs = {a: table.log_for(dough.carry_on, a) for a in table.asked.answers}
            looks[name] = _Look(
                table, answer, logs, math.exp(logs[answer]), table.log_usual(answer)
            )
    return looks


def _all_counted(
    weights: Sequence[Weighed], looks: Mapping[str, _Look], names: Sequence[str]
) -> list[_Counted]:
    """The weights that count, cause by cause in the book's order."""
    look_of = {row.id: name for name, look in looks.items() for row in look.table.rows.values()}
    tags: dict[tuple[str, str], dict[str, None]] = {}
    for weight in weights:
        held = tags.setdefault((weight.cause, weight.group), {weight.group: None})
        if weight.by in look_of:
            held[f"look at {look_of[weight.by]}"] = None
    by_cause: dict[str, list[_Counted]] = {name: [] for name in names}
    for weight in heaviest(weights):
        if weight.cause not in by_cause:
            continue
        name = look_of.get(weight.by)
        if name is None:
            row = of_factor(math.exp(weight.nats))
        else:
            look = looks[name]
            row = shows(look.table.log_chance[weight.cause], look.log_base, look.answer)
        among = tuple(tags[weight.cause, weight.group])
        by_cause[weight.cause].append(_Counted(weight.cause, weight.nats, name, row, among))
    return [counted for name in names for counted in by_cause[name]]
