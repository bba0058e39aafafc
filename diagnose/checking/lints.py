"""The list of lints. The command, the tests and the rule desk all use this one."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from diagnose.knowledge.book import Book
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.problems import Problem
from diagnose.knowledge.situation import Situation

from .audit import Audits
from .case_lints import (
    CaseShowsNoMode,
    NobodyLookedMissing,
    NoNearMiss,
    OwnCaseFails,
    SpeaksNowhere,
    WholeCaseFails,
)
from .evidence_lints import FarFromAddingUp, TurnedWord
from .fixed_names import FixedNames
from .lint import Lint, Run
from .rule_lints import (
    ExceptionToAnother,
    NeverSpeaks,
    NotDecidedYet,
    OppositeConclusions,
    Redundant,
)
from .safety_lints import FlourWithoutGate, NothingToDoHere, OutsidePossible
from .use_lints import (
    AnswerUsedByNothing,
    CauseWithoutEvidence,
    CautionUnused,
    FindingNeverConcluded,
    FindingUnused,
    NothingUsesIt,
    RemedyForNothing,
    SourceUnused,
)
from .worth_lints import CountedTwice, QuestionChangesNothing, RuleChangesNothing, SaidTwice


class Found(NamedTuple):
    """A problem and the lint that found it."""

    lint: Lint
    problem: Problem


def all_lints(
    run: Run | None = None, diagnose: Callable[[Situation], Diagnosis] | None = None
) -> tuple[Lint, ...]:
    """Every lint. Those that try cases need something that runs them and are left out without.

    ``run`` fires the rules of a dough on bare facts; ``diagnose`` answers a whole situation.
    """
    audits = Audits()
    lints: list[Lint] = [
        SpeaksNowhere(),
        NoNearMiss(),
        NobodyLookedMissing(),
        CaseShowsNoMode(),
        FindingNeverConcluded(),
        FlourWithoutGate(),
        OutsidePossible(),
        FixedNames(),
        CauseWithoutEvidence(),
        TurnedWord(),
        AnswerUsedByNothing(),
        NothingUsesIt(),
        FindingUnused(),
        RemedyForNothing(),
        NothingToDoHere(),
        SourceUnused(),
        CautionUnused(),
        NeverSpeaks(audits),
        OppositeConclusions(audits),
        ExceptionToAnother(audits),
        Redundant(audits),
        CountedTwice(audits),
        SaidTwice(audits),
        QuestionChangesNothing(audits),
        RuleChangesNothing(audits),
        FarFromAddingUp(),
        NotDecidedYet(audits),  # after those whose questions it reports
    ]
    if run is not None:
        lints.append(OwnCaseFails(run))
    if diagnose is not None:
        lints.append(WholeCaseFails(diagnose))
    return tuple(lints)


def check_book(book: Book, lints: Iterable[Lint]) -> list[Found]:
    """Everything the lints find in a book, errors first, then by file and line."""
    order = ("error", "warning", "note")
    found = [
        Found(lint, problem)
        for lint in lints
        for dough in book.doughs
        for problem in lint.check(dough, book)
    ]
    return sorted(found, key=lambda each: (order.index(each.lint.level), each.problem))
