"""Which page comes next: a pure function of what was told and what follows from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from casebook.consultations import Consultation, Entry
from diagnose.knowledge.diagnosis import Diagnosis

Page = Literal["stage", "complaint", "ask", "remedy", "done", "over", "right", "end", "summary"]

_TURNS = ("stage", "complaint", "sign", "reading", "not-looked", "tried", "look-again", "follows",
          "outcome")  # fmt: skip


PLATED = "plated"
"""Where a cook who goes through the recipe stands after the last stage."""


@dataclass(frozen=True, slots=True)
class Step:
    """A page of a consultation, with the question's or remedy's id where there is one."""

    page: Page
    name: str | None = None

    @property
    def path(self) -> str:
        """The address below the consultation's own.

        >>> Step("ask", "paste-body").path
        'ask/paste-body'
        """
        return self.page if self.name is None else f"{self.page}/{self.name}"


def settled_first(consultation: Consultation) -> Step | None:
    """The next page while it does not depend on a diagnosis; None where it does.

    A cook who goes through the recipe is there; otherwise stage comes first, then complaint.
    """
    turn = last_turn(consultation)
    if turn is not None and turn.kind == "outcome":
        return Step("summary")
    if turn is not None and turn.kind == "follows":
        return Step("end") if turn.value == PLATED else Step("right", str(turn.value))
    stage = next((e for e in reversed(consultation.entries) if e.kind == "stage"), None)
    if stage is None:
        return Step("stage")
    since = max((e.number for e in consultation.entries if e.kind == "look-again"), default=0)
    complained = any(
        e.kind == "complaint" and e.name == stage.value and e.number > since
        for e in consultation.entries
    )
    return None if complained else Step("complaint")


def last_turn(consultation: Consultation) -> Entry | None:
    """The last entry that moved the consultation on."""
    return next((e for e in reversed(consultation.entries) if e.kind in _TURNS), None)


def just_worked(consultation: Consultation) -> bool:
    """Whether the last thing told is that a remedy worked."""
    turn = last_turn(consultation)
    return (
        turn is not None
        and turn.kind == "tried"
        and isinstance(turn.value, dict)
        and turn.value.get("result") == "worked"
    )


def next_step(consultation: Consultation, diagnosis: Diagnosis) -> Step:
    """The page to show once stage and complaint are told.

    Throwing food away comes before everything else, also before "it worked".
    """
    first = diagnosis.plan[0] if diagnosis.plan else None
    if diagnosis.situation == "discard" and first is not None:
        return Step("remedy", first.remedy)
    if just_worked(consultation) or diagnosis.situation == "ok-to-carry-on":
        return Step("done")
    if diagnosis.situation == "needs-an-answer" and diagnosis.question is not None:
        return Step("ask", diagnosis.question.id)
    if diagnosis.situation == "start-over" or first is None or first.kind == "restart":
        return Step("over")
    if first.kind == "none":
        return Step("done")
    return Step("remedy", first.remedy)
