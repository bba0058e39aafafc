"""Confirmed cases put to the house again, each judged by what the other cases taught.

Only the rows and shares that a case bears on are worked out anew for it, so that leaving one out
costs little more than one more diagnosis. The results feed ``learning.reporting``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from diagnose.knowledge.book import Dough, Sign
from diagnose.knowledge.situation import Kitchen, Situation
from diagnose.learning.cases import ConfirmedCase
from diagnose.learning.reporting import Judged
from diagnose.reasoning.known import middle_of
from diagnose.reasoning.likelihood import asked_parts
from diagnose.reasoning.turning import without

from .deciding import Ready, first_remedy, infer


def situation_of(dough: Dough, case: ConfirmedCase) -> Situation:
    """What the case told before the first remedy.

    A record without its situation is put together from its answers: a band of a reading that the
    cook measured stands as a number in its middle, for judging only and never to be shown.
    """
    if case.situation is not None:
        return case.situation
    signs, readings = {}, {}
    measured = {reading.id: reading for reading in dough.readings}
    for asked in asked_parts(dough):
        answer = case.answers.get(asked.id)
        if answer not in asked.answers:
            continue
        if isinstance(asked.part, Sign):
            signs[asked.id] = str(answer)
        elif asked.id in measured and asked.part.bands and measured[asked.id].given_by is None:
            band = next(band for band in asked.part.bands if band.id == answer)
            readings[asked.id] = middle_of(band.phrase, measured[asked.id].likely)  # type: ignore[arg-type]  # bands are intervals
    return Situation(
        dough=dough.id,
        stage=case.stage,
        kitchen=Kitchen(elevation_m=case.elevation_m),
        signs=signs,
        readings=readings,
    )


def leaving_out(ready: Ready, case: ConfirmedCase) -> Ready:
    """The dough as it would be if this case had never been confirmed."""
    if ready.learned is None:
        return ready
    learned = ready.learned.without(case)
    if learned is ready.learned:
        return ready
    return replace(ready, learned=learned, tables=learned.tables_for(case, ready.tables))


def rejudge(
    ready: Ready,
    cases: Iterable[ConfirmedCase],
    *,
    remedies: bool = True,
    rests_on: bool = False,
) -> Iterator[Judged]:
    """What the house says of each case with the case itself left out, one by one, in order.

    ``remedies``: work out the first remedy too; ``rests_on``: and which of the questions asked
    decided it. That costs a diagnosis more for each of them, so a caller counts what has come.

    A case that ``ready`` did not learn from is simply judged.
    """
    for case in cases:
        yield _judge(leaving_out(ready, case), case, remedies=remedies, rests_on=rests_on)


def _judge(ready: Ready, case: ConfirmedCase, *, remedies: bool, rests_on: bool) -> Judged:
    said = infer(ready, situation_of(ready.dough, case))
    first = first_remedy(said) if remedies or rests_on else None
    looks = None
    if rests_on and first is not None:
        looks = tuple(
            look
            for look in dict.fromkeys(case.asked)
            if look in said.facts
            and first_remedy(infer(ready, without(said.known, frozenset((look,))))) != first
        )
    spoke = frozenset(rule.id for rule in said.outcome.spoke)
    return Judged(case, said.chances, first, looks, spoke)
