"""The front door: open a book, and get a diagnosis for a situation.

>>> from diagnose.consulting import open_book
>>> from diagnose.knowledge.situation import Situation
>>> told = Situation(dough="milk-panade-slab", stage="cook-paste", signs={"paste-body": "slumps"})
>>> open_book().diagnose(told).plan[0].kind
'heat'
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from diagnose.engine.session import run
from diagnose.engine.trace import RuleTrace
from diagnose.knowledge.book import Book
from diagnose.knowledge.diagnosis import Diagnosis, Turning, TurningAnswer, TurningPoint
from diagnose.knowledge.loading import load_book
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.situation import Situation
from diagnose.learning.recalibrating import Learned
from diagnose.reasoning.turning import turning_points, would_not_hold_without

from .answering import answer, headline
from .deciding import Ready, decide, first_remedy, infer, make_ready
from .explaining import holds_because_says, turn_says
from .objecting import WhyNot, why_not


class OpenBook:
    """A loaded and compiled book: immutable, and safe to share between threads."""

    def __init__(self, book: Book, learned: Mapping[str, Learned] | None = None) -> None:
        """Compile every dough; ``learned``: by dough, what confirmed cases taught, if in use.

        Raises:
            Circular: some rules can only speak after themselves.
            ValueError: something was learned about a dough, or words, that the book has not.
        """
        taught = learned or {}
        unknown = sorted(set(taught) - {dough.id for dough in book.doughs})
        if unknown:
            known = ", ".join(dough.id for dough in book.doughs)
            raise ValueError(f"Learned about {', '.join(unknown)}; this book has {known}")
        self.book = book
        self._ready = {
            dough.id: make_ready(book, dough, taught.get(dough.id)) for dough in book.doughs
        }

    def ready(self, dough: str) -> Ready:
        """One dough of the book, compiled."""
        return self._ready[dough]

    def diagnose(self, situation: Situation) -> Diagnosis:
        """The diagnosis of a situation whose ids are all in the book (the reader sees to that)."""
        case = infer(self._ready[situation.dough], situation)
        return answer(case, decide(case), self.book.version)

    def turning(self, situation: Situation) -> Turning:
        """The fewest further answers that would change the first remedy, and what it rests on."""
        ready = self._ready[situation.dough]
        case = infer(ready, situation)

        def decides(other: Situation) -> str:
            return first_remedy(infer(ready, other))

        speaker, first = ready.speaker, first_remedy(case)
        points = tuple(
            TurningPoint(
                answers=tuple(
                    TurningAnswer(question=q, answer=a, say=speaker.choice(q, a))
                    for q, a in turn.answers
                ),
                first=turn.first,
                say=turn_says(speaker, turn, headline(case, turn.first)),
            )
            for turn in turning_points(case.known, first, decides)
        )
        names = would_not_hold_without(case.known, first, decides)
        return Turning(
            points=points,
            rests_on=names,
            say=holds_because_says(speaker, names, case.facts),
        )

    def why_not(self, situation: Situation, name: str) -> WhyNot:
        """What speaks against a cause, or keeps a remedy from coming first.

        Raises:
            ValueError: the book has no such cause or remedy.
        """
        ready = self._ready[situation.dough]
        case = infer(ready, situation)
        plan = [remedy.id for remedy in decide(case).remedies]
        return why_not(
            name, ready.speaker, case.known, case.traces, plan, lambda other: headline(case, other)
        )

    def trace(self, situation: Situation) -> tuple[RuleTrace, ...]:
        """For every rule, why it spoke or stayed silent."""
        return infer(self._ready[situation.dough], situation).traces

    def spoke(self, dough: str, facts: Mapping[str, Value]) -> frozenset[str]:
        """Ids of the rules that speak on bare facts; for checking the cases beside the rules."""
        return frozenset(rule.id for rule in run(self._ready[dough].rules, facts).spoke)


def open_book(folder: Path | None = None, learned: Mapping[str, Learned] | None = None) -> OpenBook:
    """Load the book in a folder (the shipped one by default) and compile it.

    ``learned`` holds, by dough, what confirmed cases taught (``learning.recalibrating.learn``);
    a dough without it is judged by the written words alone.

    Raises:
        BrokenBook: with every problem found in it.
        ValueError: something was learned about a dough, or words, that the book has not.
    """
    return OpenBook(load_book(folder), learned)
