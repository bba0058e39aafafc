"""What a changed part would do, before anybody saves it: in words, checked, tried on the past."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from casebook.publishing import Press, Refused, Trial
from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Dough, Rule
from diagnose.knowledge.editions import PartName
from diagnose.knowledge.facts import facts_of
from diagnose.knowledge.problems import Problem
from diagnose.knowledge.situations import read_situation
from diagnose.reasoning.posterior import about

from .rulebook import RuleWords, words_of


@dataclass(frozen=True, slots=True)
class Preview:
    """What is shown before a rule is saved."""

    rule: Rule | None
    words: RuleWords | None
    errors: tuple[str, ...]
    notices: tuple[str, ...]
    spoken: tuple[tuple[str, str, str], ...] | None = None
    """Case, its title, and whether the rule said the right thing there."""
    looked_at: int = 0
    changed_standing: str = ""


def preview_of(press: Press, part: PartName, text: str, changed_standing: str = "") -> Preview:
    """What a rule with this text says, what the checks find, and where it would have spoken."""
    try:
        trial = press.try_out({part: text})
    except Refused as refused:
        return Preview(None, None, sentences(refused.problems), ())
    opened = trial.opened
    dough = opened.book.dough(part.dough)
    rule = next((r for r in dough.rules if r.id == part.name), None) if dough else None
    errors, notices = new_problems(press, trial)
    if dough is None or rule is None:
        return Preview(None, None, errors or ("There is no such rule any more.",), notices)
    spoken, looked_at = _spoken(opened, dough, rule) if not errors else ((), 0)
    words = words_of(opened.book, dough, rule)
    return Preview(rule, words, errors, notices, spoken, looked_at, changed_standing)


def new_problems(press: Press, trial: Trial) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Errors, and what else the checks find that they do not find in the book as it is."""
    before = {(p.where, p.what) for _, p in press.try_out({}).found}
    found = [
        (lint.level, p) for lint, p in trial.found if (p.where, p.what) not in before
    ]  # fmt: skip
    errors = sentences([p for level, p in found if level == "error"])
    notices = sentences([p for level, p in found if level != "error"])
    return errors or sentences(trial.errors), notices


def sentences(problems: tuple[Problem, ...] | list[Problem]) -> tuple[str, ...]:
    """Problems without the file and line, which whoever fills in a form has not seen."""
    told = [str(Problem("", 0, p.where, p.what, p.advice)) for p in problems]
    return tuple(dict.fromkeys(s[:1].upper() + s[1:] for s in told))


def _spoken(
    opened: OpenBook, dough: Dough, rule: Rule
) -> tuple[tuple[tuple[str, str, str], ...], int]:
    """The book's whole cases in which it speaks, and whether that was right."""
    found = []
    for case in dough.whole_cases:
        data: Mapping[str, object] = {"dough": dough.id, **case.situation}
        situation, _ = read_situation(data, opened.book)
        if situation is None:
            continue
        if rule.id in opened.spoke(dough.id, facts_of(situation, dough)):
            found.append((case.id, case.story, _verdict(rule, case.first_cause)))
    return tuple(found), len(dough.whole_cases)


def _verdict(rule: Rule, true: str | None) -> str:
    meant = about(rule)
    if meant is None or true is None:
        return "spoke"
    right = (meant == true) is (rule.points_to is not None)
    return "rightly" if right else "wrongly"
