"""What to believe after a run of the rules: chances of the causes that can show at this stage."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diagnose.knowledge.book import Cause, Dough
from diagnose.knowledge.situation import Tried

from .posterior import Weighed, in_play, log_of_attempt, log_priors, softmax, total
from .words import SOMETHING_ELSE


@dataclass(frozen=True, slots=True)
class Prior:
    """What does not depend on looks: the causes in play, and what trying has taught."""

    causes: tuple[Cause, ...]
    scores: Mapping[str, float]
    common: Mapping[str, float]
    """Log weight of each cause before looks and trying: how common it is."""

    @property
    def names(self) -> tuple[str, ...]:
        """Cause ids in the book's order, "something else" last."""
        return (*(cause.id for cause in self.causes), SOMETHING_ELSE)


def prior(
    dough: Dough,
    stage: str,
    tried: Iterable[Tried],
    common: Mapping[str, float] | None = None,
) -> Prior:
    """Priors of the stage, moved by how each remedy tried so far turned out.

    ``common``: log weights of the causes in play and of "something else", in place of the words.
    """
    causes = in_play(dough, stage)
    by_id = {cause.id: cause for cause in causes}
    written = log_priors(causes)
    common = written if common is None else {name: common[name] for name in written}
    scores = dict(common)
    remedies = {remedy.id: remedy for remedy in dough.remedies}
    for attempt in tried:
        remedy = remedies[attempt.remedy]
        for name in scores:
            scores[name] += log_of_attempt(attempt, remedy, by_id.get(name))
    return Prior(causes, scores, common)


def scores_of(before: Prior, weights: Iterable[Weighed]) -> dict[str, float]:
    """Log weight of every cause in play (not yet adding up to one)."""
    shifts = total(weights)
    return {name: before.scores[name] + shifts.get(name, 0.0) for name in before.names}


def chances_of(scores: Mapping[str, float]) -> dict[str, float]:
    """Chances from scores; they add up to one."""
    return softmax(scores)
