"""A changed book put to the cases of the past: which come out better, worse, or otherwise.

Only the cases that a change can reach (``reaching``) are diagnosed anew, and the outcome is exactly
that of diagnosing all of them. Where more than rules changed, every case is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, Literal

from .consulting import OpenBook
from .covering import told_in
from .deciding import Case, Ready, first_remedy, infer
from .engine.plain import judge
from .knowledge.book import Dough, Rule, WholeCase
from .knowledge.phrases import Truth
from .knowledge.situation import Situation
from .knowledge.teaching import TeachingCase
from .learning.cases import ConfirmedCase, right_remedies
from .reaching import Change, change_of
from .reasoning.posterior import about
from .rejudging import leaving_out, situation_of

From = Literal["teaching case", "whole case", "confirmed case"]
Verdict = Literal["better", "worse", "different", "unchanged"]
Progress = Callable[[str, int, int], None]
"""What is being done, how many are done, of how many."""

WHAT: Final = "Cases put to the changed book"


@dataclass(frozen=True, slots=True)
class PastCase:
    """A case with a known answer, as a changed book is tried on it."""

    id: str
    kind: From
    title: str
    situation: Situation
    causes: tuple[str, ...]
    """What was really wrong; empty where the case does not say."""
    remedies: frozenset[str] = frozenset()
    """The remedies that are right to advise first; empty where the case does not say."""
    never: frozenset[str] = frozenset()
    """Remedies and causes that must not come first."""
    confirmed: ConfirmedCase | None = None
    """The record that a book may have learned from, to be left out when it is judged."""

    def remedy_is_right(self, remedy: str) -> bool | None:
        """Whether a first remedy is right; None where the case does not say."""
        if remedy in self.never:
            return False
        return remedy in self.remedies if self.remedies else None

    def cause_is_right(self, cause: str | None) -> bool | None:
        """Whether a first cause is right; None where the case does not say."""
        if cause in self.never:
            return False
        return cause in self.causes if self.causes else None


def from_teaching(case: TeachingCase) -> PastCase:
    """A shipped teaching case."""
    return PastCase(
        case.id,
        "teaching case",
        case.title,
        case.situation,
        case.causes,
        frozenset((case.first_remedy,)),
    )


def from_whole(dough: Dough, case: WholeCase) -> PastCase:
    """A whole case of the book.

    Raises:
        ValueError: it could not be told, with the reasons.
    """
    return PastCase(
        case.id,
        "whole case",
        case.story,
        told_in(dough, case),
        () if case.first_cause is None else (case.first_cause,),
        frozenset(() if case.first_remedy is None else (case.first_remedy,)),
        frozenset(case.never),
    )


def from_confirmed(dough: Dough, case: ConfirmedCase, title: str = "") -> PastCase:
    """A case that a person confirmed."""
    return PastCase(
        case.id,
        "confirmed case",
        title or case.note or case.id,
        situation_of(dough, case),
        case.causes,
        right_remedies(dough, case),
        confirmed=case,
    )


@dataclass(frozen=True, slots=True)
class Said:
    """What a book says first."""

    remedy: str
    cause: str | None


@dataclass(frozen=True, slots=True)
class Difference:
    """A case that comes out otherwise."""

    case: PastCase
    before: Said
    after: Said

    @property
    def verdict(self) -> Verdict:
        """By the first remedy; only where that is as right as before, by the first cause."""
        return _verdict(self.case, self.before, self.after)


@dataclass(frozen=True)
class Replay:
    """What a change does to the cases of the past."""

    cases: int
    looked_at: int
    """Those that the change could reach, and so were diagnosed anew."""
    differences: tuple[Difference, ...]
    """In the order of the cases; all others are unchanged."""
    spoke: Mapping[str, tuple[str, ...]]
    """By changed rule that is in use afterwards: the ids of the cases in which it speaks."""

    def of(self, verdict: Verdict) -> tuple[Difference, ...]:
        """The cases with a verdict; of those unchanged none is listed."""
        return tuple(one for one in self.differences if one.verdict == verdict)

    @property
    def unchanged(self) -> int:
        """How many cases say first what they said."""
        return self.cases - len(self.differences)

    @cached_property
    def verdicts(self) -> Mapping[str, Verdict]:
        """The verdict by case id, of those that changed."""
        return {one.case.id: one.verdict for one in self.differences}


def _verdict(case: PastCase, before: Said, after: Said) -> Verdict:
    if before == after:
        return "unchanged"
    pairs = (
        (case.remedy_is_right(before.remedy), case.remedy_is_right(after.remedy)),
        (case.cause_is_right(before.cause), case.cause_is_right(after.cause)),
    )
    for was, now in pairs:
        if was is not now and was is not None and now is not None:
            return "better" if now else "worse"
    return "different"


class _Then:
    """What the earlier book made of a case, as far as it was asked."""

    def __init__(self, found: Case) -> None:
        self.findings = set(found.outcome.findings)
        self.known = found.unsettled
        self._found: Case | None = found

    @cached_property
    def said(self) -> Said:
        """What it said first."""
        assert self._found is not None, "kept until it has said something"
        said, self._found = _said(self._found), None
        return said


@dataclass
class Past:
    """One book and cases of the past; what the book says of a case is kept once it was asked."""

    opened: OpenBook
    cases: Sequence[PastCase]
    _then: dict[int, _Then] = field(default_factory=dict, repr=False)

    def replay(self, after: OpenBook, progress: Progress | None = None) -> Replay:
        """What another book says of these cases, against what this one says."""
        changes = {dough.id: self._change(after, dough.id) for dough in after.book.doughs}
        cases = [(n, case) for n, case in enumerate(self.cases) if case.situation.dough in changes]
        differences: list[Difference] = []
        spoke: dict[str, list[str]] = {
            rule.id: [] for change in changes.values() for rule in change.after
        }
        looked_at = 0
        for done, (number, case) in enumerate(cases):
            if progress is not None and done % 100 == 0:
                progress(WHAT, done, len(cases))
            change = changes[case.situation.dough]
            if not change.reaches(case.situation):
                continue
            looked_at += 1
            said, speaking = self._anew(number, case, change, after)
            for name in speaking:
                spoke[name].append(case.id)
            if said is None:
                continue
            before = self._of(number, case).said
            if said != before:
                differences.append(Difference(case, before, said))
        if progress is not None:
            progress(WHAT, len(cases), len(cases))
        return Replay(
            cases=len(cases),
            looked_at=looked_at,
            differences=tuple(differences),
            spoke={name: tuple(ids) for name, ids in spoke.items()},
        )

    def _change(self, after: OpenBook, dough: str) -> Change:
        known = self.opened.book.dough(dough) is not None
        return change_of(self.opened.ready(dough) if known else None, after.ready(dough))

    def _of(self, number: int, case: PastCase) -> _Then:
        then = self._then.get(number)
        if then is None:
            then = self._then[number] = _Then(infer(_ready(self.opened, case), case.situation))
        return then

    def _anew(
        self, number: int, case: PastCase, change: Change, after: OpenBook
    ) -> tuple[Said | None, list[str]]:
        """What the other book says first (None: the same), and which changed rules speak in it."""
        if change.only_evidence:
            then = self._of(number, case)
            stage = case.situation.stage
            was = [r for r in change.before if _speaks(r, then)]
            now = [r for r in change.after if _speaks(r, then)]
            speaking = [rule.id for rule in now]
            bearing = [r for r in (*was, *now) if about(r) in change.in_play[stage]]
            if not bearing and change.stays(then.known, after.ready(case.situation.dough)):
                return None, speaking
            return _said(infer(_ready(after, case), case.situation)), speaking
        found = infer(_ready(after, case), case.situation)
        names = {rule.id for rule in change.after}
        return _said(found), [rule.id for rule in found.outcome.spoke if rule.id in names]


def replay(
    before: OpenBook, after: OpenBook, cases: Sequence[PastCase], progress: Progress | None = None
) -> Replay:
    """What a changed book says first of each case, against the book before the change.

    Whoever tries several changes of one book makes one ``Past`` and keeps it: what the earlier
    book says is then worked out once. Cases of a dough that the changed book has not are left out.
    """
    return Past(before, cases).replay(after, progress)


def naive_replay(before: OpenBook, after: OpenBook, cases: Iterable[PastCase]) -> list[Difference]:
    """The same differences by diagnosing every case twice: plain, slow, and what replay must be."""
    found = []
    for case in cases:
        one, other = (_said(infer(_ready(book, case), case.situation)) for book in (before, after))
        if one != other:
            found.append(Difference(case, one, other))
    return found


def _ready(opened: OpenBook, case: PastCase) -> Ready:
    ready = opened.ready(case.situation.dough)
    return ready if case.confirmed is None else leaving_out(ready, case.confirmed)


def _said(found: Case) -> Said:
    chances = found.chances
    # of equals the one that the book names first
    return Said(first_remedy(found), max(chances, key=chances.__getitem__, default=None))


def _speaks(rule: Rule, then: _Then) -> bool:
    facts, findings = then.known.facts, then.findings
    return all(judge(c, facts, findings) is Truth.YES for c in rule.when) and not any(
        judge(c, facts, findings) is Truth.YES for c in rule.unless
    )
