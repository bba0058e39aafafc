"""What a changed part would do, before anybody saves it: in words, checked, tried on the past."""

from __future__ import annotations

from dataclasses import dataclass

from casebook.progress import Progress, silent
from casebook.publishing import Press, Refused, Trial
from diagnose.judging import Effect, what_it_does
from diagnose.knowledge.book import Rule
from diagnose.knowledge.editions import PartName
from diagnose.knowledge.problems import Problem

from .past_cases import PastCases
from .rulebook import RuleWords, words_of

PATIENCE_S = 3.0
"""How long a page waits for a preview before it shows how far that has come."""


@dataclass(frozen=True, slots=True)
class Preview:
    """What is shown before a rule is saved."""

    rule: Rule | None
    words: RuleWords | None
    errors: tuple[str, ...]
    notices: tuple[str, ...]
    effect: Effect | None = None
    changed_standing: str = ""


def preview_of(
    press: Press,
    past: PastCases,
    part: PartName,
    text: str,
    changed_standing: str = "",
    progress: Progress = silent,
) -> Preview:
    """What a rule with this text says, what the checks find, and what it does to past cases."""
    progress("checks of the changed book", 0, 0)
    try:
        trial = press.try_out({part: text})
    except Refused as refused:
        return Preview(None, None, sentences(refused.problems), ())
    dough = trial.opened.book.dough(part.dough)
    rule = next((r for r in dough.rules if r.id == part.name), None) if dough else None
    errors, notices = new_problems(press, trial)
    if dough is None or rule is None:
        return Preview(None, None, errors or ("There is no such rule any more.",), notices)
    words = words_of(trial.opened.book, dough, rule)
    effect = None
    if not errors:
        before = past.of(press.shelf.current)
        effect = what_it_does(before, trial.opened, dough.id, rule.id, progress)
        others = [one.other for one in effect.beside if one.other]
        # how it stands to those is said in words, with a situation
        notices = tuple(
            line for line in notices if not any(f" {other} " in line for other in others)
        )
    return Preview(rule, words, errors, notices, effect, changed_standing)


def new_problems(press: Press, trial: Trial) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Errors, and what else the checks find that they do not find in the book as it is."""
    before = {(p.where, p.what) for _, p in press.try_out({}).found}
    found = [(lint.level, p) for lint, p in trial.found if (p.where, p.what) not in before]
    errors = sentences([p for level, p in found if level == "error"])
    notices = sentences([p for level, p in found if level != "error"])
    return errors or sentences(trial.errors), notices


def sentences(problems: tuple[Problem, ...] | list[Problem]) -> tuple[str, ...]:
    """Problems without the file and line, which whoever fills in a form has not seen."""
    told = [str(Problem("", 0, p.where, p.what, p.advice)) for p in problems]
    return tuple(dict.fromkeys(s[:1].upper() + s[1:] for s in told))
