"""What a book covers: every failure mode walked from its complaint to its first remedy.

A walk is one simulated consultation about a whole case. The cook says the complaint that fits what
the case tells, then answers what is asked and nothing else: from the case where the case says it,
"did not look" where it does not. Every answer is one tap.

Pure: an open book goes in, figures come out; ``tabulating`` prints them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from .consulting import OpenBook
from .knowledge.book import Complaint, Dough, Stage, WholeCase
from .knowledge.diagnosis import Diagnosis
from .knowledge.facts import facts_of
from .knowledge.modes import FailureMode
from .knowledge.phrases import Value
from .knowledge.situation import Situation
from .knowledge.situations import read_situation


@dataclass(frozen=True, slots=True)
class Step:
    """One question on the way and what was answered; None is "did not look"."""

    question: str
    answer: str | float | None


@dataclass(frozen=True, slots=True)
class Walk:
    """One whole case from its complaint to the first remedy."""

    case: str
    stage: str
    complaint: str | None
    """The id of the chief complaint; None is "something else"."""
    steps: tuple[Step, ...]
    word: str
    """The situation in which it ended, like ``needs-a-remedy``."""
    first_remedy: str
    first_cause: str | None
    wrong: str | None
    """Why the walk does not end where the case says; None if it does."""

    @property
    def taps(self) -> int:
        """Taps after the complaint."""
        return len(self.steps)


@dataclass(frozen=True, slots=True)
class Shown:
    """A failure mode and its walk; none if the book says why it is not covered."""

    mode: FailureMode
    walk: Walk | None


@dataclass(frozen=True, slots=True)
class Coverage:
    """What one dough covers."""

    dough: Dough
    modes: tuple[Shown, ...]
    others: tuple[Walk, ...]
    """The whole cases that no failure mode names."""
    never_spoke: tuple[str, ...]
    """Rules that spoke in no whole case and in no case beside a rule."""
    in_no_whole_case: tuple[str, ...]
    """Rules that spoke in no whole case."""
    never_first: tuple[str, ...]
    """Causes that came first in no whole case."""

    @property
    def walks(self) -> tuple[Walk, ...]:
        """Every walk: of the failure modes, then of the other whole cases."""
        return (*(shown.walk for shown in self.modes if shown.walk is not None), *self.others)

    @property
    def reached(self) -> tuple[Shown, ...]:
        """The failure modes whose walk ends in the remedy that their case expects."""
        return tuple(s for s in self.modes if s.walk is not None and s.walk.wrong is None)

    @property
    def unreachable(self) -> tuple[Shown, ...]:
        """The failure modes whose walk ends elsewhere."""
        return tuple(s for s in self.modes if s.walk is not None and s.walk.wrong is not None)

    @property
    def not_covered(self) -> tuple[FailureMode, ...]:
        """The failure modes that the book leaves out and says why."""
        return tuple(shown.mode for shown in self.modes if shown.walk is None)

    @property
    def needs_telling(self) -> tuple[Walk, ...]:
        """Other whole cases that come out only if the cook tells more than is asked."""
        return tuple(walk for walk in self.others if walk.wrong is not None)

    @property
    def median_taps(self) -> float | None:
        """The median of the taps of the failure modes; None if none was walked."""
        taps = self._taps()
        return float(median(taps)) if taps else None

    @property
    def worst_taps(self) -> int | None:
        """The most taps of any failure mode; None if none was walked."""
        return max(self._taps(), default=None)

    def _taps(self) -> list[int]:
        return [shown.walk.taps for shown in self.modes if shown.walk is not None]

    @property
    def complete(self) -> bool:
        """Whether every failure mode is reached or explained, and every rule spoke somewhere."""
        return not self.unreachable and not self.never_spoke


def cover(opened: OpenBook, dough: Dough) -> Coverage:
    """Walk every failure mode and every other whole case of a dough, and see which rules speak.

    Raises:
        ValueError: a whole case could not be told; the reader of a book sees to that.
    """
    cases = {case.id: case for case in dough.whole_cases}
    walks = {name: walk(opened, dough, case) for name, case in cases.items()}
    named = {mode.case for mode in dough.failure_modes}
    told = {name: told_in(dough, case) for name, case in cases.items()}
    in_whole = {name for situation in told.values() for name in _spoke(opened, situation)}
    beside = {
        name
        for rule in dough.rules
        for each in rule.cases
        if each.speaks
        for name in opened.spoke(dough.id, each.told)
    }
    first = {walk.first_cause for walk in walks.values()}
    first |= {_first_cause(opened.diagnose(situation)) for situation in told.values()}
    rules = [rule.id for rule in dough.rules if rule.standing != "retired"]
    return Coverage(
        dough=dough,
        modes=tuple(
            Shown(mode, None if mode.case is None else walks[mode.case])
            for mode in dough.failure_modes
        ),
        others=tuple(walk for name, walk in walks.items() if name not in named),
        never_spoke=tuple(name for name in rules if name not in in_whole | beside),
        in_no_whole_case=tuple(name for name in rules if name not in in_whole),
        never_first=tuple(cause.id for cause in dough.causes if cause.id not in first),
    )


def walk(opened: OpenBook, dough: Dough, case: WholeCase) -> Walk:
    """One simulated consultation about a whole case, up to the first remedy.

    What the set-up form and an earlier part of the consultation would have told (kitchen, batch,
    remedies tried, what is used up) is known from the start.

    Raises:
        ValueError: the case could not be told.
    """
    truth = told_in(dough, case)
    stage = next(stage for stage in dough.stages if stage.id == truth.stage)
    complaint = complaint_of(stage, facts_of(truth, dough))
    now = truth.model_copy(
        update={
            # What the form tells already (how flour was measured) is not told again as a sign.
            "signs": {n: truth.signs[n] for n in _told_by(complaint) if n in truth.signs},
            "readings": {},
            "not_looked": frozenset(),
        }
    )
    steps: list[Step] = []
    said = opened.diagnose(now)
    while said.question is not None:
        name = said.question.id
        if any(step.question == name for step in steps):
            raise AssertionError(f"{name} is asked twice in {case.id}")
        answer = truth.signs.get(name, truth.readings.get(name))
        steps.append(Step(name, answer))
        now = answered(now, name, answer)
        said = opened.diagnose(now)
    return Walk(
        case=case.id,
        stage=stage.id,
        complaint=complaint.id if complaint else None,
        steps=tuple(steps),
        word=said.situation,
        first_remedy=said.plan[0].remedy,
        first_cause=_first_cause(said),
        wrong=_wrong(case, truth, now, said),
    )


def told_in(dough: Dough, case: WholeCase) -> Situation:
    """Everything a whole case tells.

    Raises:
        ValueError: it could not be told, with the reasons.
    """
    situation, problems = read_situation({"dough": dough.id, **case.situation}, dough)
    if situation is None:
        raise ValueError(f"whole case {case.id}: " + "; ".join(str(each) for each in problems))
    return situation


def complaint_of(stage: Stage, seen: Mapping[str, Value]) -> Complaint | None:
    """The complaint that a cook who sees all this would choose: the one that says most.

    Of two that say as much, the one the page shows first. None stands for "something else".
    """
    fitting = [c for c in stage.complaints if c.told.items() <= seen.items()]
    return max(fitting, key=lambda complaint: len(complaint.told), default=None)


def _told_by(complaint: Complaint | None) -> Mapping[str, str]:
    return {} if complaint is None else complaint.told


def answered(now: Situation, name: str, answer: str | float | None) -> Situation:
    """The situation with one more answer; None is "did not look"."""
    if answer is None:
        return now.model_copy(update={"not_looked": now.not_looked | {name}})
    if isinstance(answer, str):
        return now.model_copy(update={"signs": {**now.signs, name: answer}})
    return now.model_copy(update={"readings": {**now.readings, name: answer}})


def _first_cause(said: Diagnosis) -> str | None:
    return said.causes[0].id if said.causes else None


def _spoke(opened: OpenBook, situation: Situation) -> Iterator[str]:
    return (trace.rule.id for trace in opened.trace(situation) if trace.status == "spoke")


def _wrong(case: WholeCase, truth: Situation, end: Situation, said: Diagnosis) -> str | None:
    """Why a walk does not end where its case says: one sentence, or None."""
    first, cause = said.plan[0].remedy, _first_cause(said)
    if case.first_remedy is not None:
        if first == case.first_remedy:
            return None
        what = f"it ends in {first}, not {case.first_remedy}"
    elif first in case.never:
        what = f"it ends in {first}, which must never be"
    elif cause != case.first_cause:
        what = f"it ends with {cause} as the likeliest, not {case.first_cause}"
    else:
        return None
    unasked = _unasked(truth, end)
    return what + (f"; nobody asked for {', '.join(unasked)}" if unasked else "")


def _unasked(truth: Situation, end: Situation) -> Sequence[str]:
    return [
        name
        for told, then in ((truth.signs, end.signs), (truth.readings, end.readings))
        for name in told
        if name not in then
    ]
