"""What a remedy could harm: held back while a question would tell, weighed in minutes otherwise.

A remedy that "ruins it" under a still likely cause is held back, whatever may be asked. One that
only "makes it worse" is held back while an open question would clear it. Where none would, holding
it back for ever would do more harm: two likely causes whose remedies make each other worse would
leave nothing but starting over. The harm is then counted in minutes, and the cook is warned.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose.knowledge.book import ComputedReading

from .asking import WELL_EXPECTED
from .belief import chances_of
from .hypotheses import Hypotheses
from .known import Known
from .options import HARM_HELD_BACK, JUST, Option, may_follow


@dataclass(frozen=True, slots=True)
class Risks:
    """The options of a situation, with what they could harm settled."""

    options: tuple[Option, ...]
    """Those whose harm no question would tell are ``priced``."""
    clearing: Mapping[str, str]
    """The question that would clear it best, by the id of a remedy that could harm now."""
    taken: Mapping[str, tuple[str, ...]]
    """The causes a priced remedy could make worse, by its id."""


def settle_risks(known: Known, worlds: Callable[[], Hypotheses]) -> Risks:
    """Which remedies that could harm wait for a question, and which are weighed by their harm.

    A question clears a remedy if with a fair chance (``WELL_EXPECTED``) its answer leaves no danger
    and something to gain, gates not counted. Of several the likeliest to do so is named.
    ``worlds`` are asked for only if some remedy could harm.
    """
    chances = chances_of(known.scores)
    names = known.before.names
    weights = [chances[name] for name in names]
    risky = _risky(known.options, weights)
    if not risky:
        return Risks(tuple(known.options), {}, {})
    cleared = _cleared(risky, worlds())
    clearing = {name: max(by, key=by.__getitem__) for name, by in cleared.items() if by}
    taken = {}
    for option in risky:
        worse = _likely([place for place, _ in option.harm], weights)
        if worse and option.remedy.id not in clearing:
            taken[option.remedy.id] = tuple(names[place] for place in worse)
    options = tuple(replace(o, priced=True) if o.remedy.id in taken else o for o in known.options)
    return Risks(options, clearing, taken)


def could_harm(known: Known) -> bool:
    """Whether some remedy could harm now, so that what might be told next counts already."""
    chances = chances_of(known.scores)
    return bool(_risky(known.options, [chances[name] for name in known.before.names]))


def clearing_chances(known: Known, looks: Collection[str]) -> dict[str, dict[str, float]]:
    """For each remedy that could harm, how likely each of these looks is to clear it.

    ``looks`` are signs and readings that no form tells. Two books that agree on this, on what is
    believed now, and on what acting opens settle the risks alike as far as these looks go.
    """
    chances = chances_of(known.scores)
    risky = _risky(known.options, [chances[name] for name in known.before.names])
    some = {
        name: table
        for name, table in known.tables.items()
        if name in looks or isinstance(table.asked.part, ComputedReading)
    }
    return _cleared(risky, Hypotheses(replace(known, tables=some)))


def _risky(options: Sequence[Option], weights: Sequence[float]) -> list[Option]:
    return [option for option in options if _likely(option.danger, weights)]


def _likely(places: Sequence[int], weights: Sequence[float]) -> list[int]:
    """Those of these causes that are likely enough to hold a remedy back."""
    return [place for place in places if weights[place] >= HARM_HELD_BACK * JUST]


def _cleared(risky: Sequence[Option], worlds: Hypotheses) -> dict[str, dict[str, float]]:
    """The questions that would clear each remedy, with the chance that they do."""
    found: dict[str, dict[str, float]] = {option.remedy.id: {} for option in risky}
    for question, joint in worlds.beliefs():
        for option in risky:
            chance = sum(
                whole
                for weights in joint
                if may_follow(option, weights, whole := sum(weights), option.gates)
            )
            if chance >= WELL_EXPECTED:
                found[option.remedy.id][question] = chance
    return found
