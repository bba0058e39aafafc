"""Why not: what speaks against a cause, or keeps a remedy from coming first.

Every sentence comes from the trace, the tables or the remedy's own entry in the book.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from diagnose.engine.trace import Judged, RuleTrace
from diagnose.knowledge.book import Cause, EvidenceRow, Remedy
from diagnose.knowledge.phrases import Truth
from diagnose.reasoning.belief import chances_of
from diagnose.reasoning.known import Known
from diagnose.reasoning.likelihood import Table
from diagnose.reasoning.options import HARM_HELD_BACK, LEAST_HELP, exhausted, needs
from diagnose.reasoning.posterior import about, weight_of
from diagnose.reasoning.words import SAYS_NOTHING, chance_in_words

from .explaining import Speaker, strength_in_words

MOST_REASONS = 4
"""Of each kind of reason why not; the weightiest are given."""
RESULTS = {
    "worked": "it worked",
    "no-change": "no change",
    "worse": "it got worse",
    "cannot": "it could not be done",
}


ReasonKind = Literal[
    "first",
    "stage",
    "larder",
    "against",
    "silent",
    "not looked",
    "tried",
    "gate",
    "opens",
    "harm",
    "unlikely",
    "later",
    "unsafe",
    "rare",
]


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason why not."""

    kind: ReasonKind
    say: str
    rule: str | None = None
    """The rule, or the row of the table, that it comes from."""
    draft: bool = False


@dataclass(frozen=True, slots=True)
class WhyNot:
    """Why a cause is not thought likely, or a remedy not advised first. Never without a reason."""

    id: str
    kind: Literal["cause", "remedy"]
    reasons: tuple[Reason, ...]


Headline = Callable[[str], str]
"""A remedy's first line, filled in for this batch, by the remedy's id."""


def why_not(
    name: str,
    speaker: Speaker,
    known: Known,
    traces: Sequence[RuleTrace],
    plan: Sequence[str],
    headline: Headline,
) -> WhyNot:
    """Why the cause or remedy ``name`` is not what is thought of or advised first.

    Args:
        traces: of every rule, for the situation in ``known``.
        plan: ids of the remedies advised, the first one first.

    Raises:
        ValueError: if the dough has no cause and no remedy of that name.
    """
    for cause in known.dough.causes:
        if cause.id == name:
            return WhyNot(name, "cause", _why_not_cause(cause, speaker, known, traces, headline))
    for remedy in known.dough.remedies:
        if remedy.id == name:
            reasons = _why_not_remedy(remedy, speaker, known, traces, plan, headline)
            return WhyNot(name, "remedy", reasons)
    raise ValueError(f"{name} is neither a cause nor a remedy of {known.dough.id}")


def _why_not_cause(
    cause: Cause, speaker: Speaker, known: Known, traces: Sequence[RuleTrace], headline: Headline
) -> tuple[Reason, ...]:
    situation = known.situation
    if situation.stage not in cause.shows_at:
        return (_other_stage("It shows at", cause.shows_at, situation.stage, speaker),)
    reasons: list[Reason] = []
    chances = chances_of(known.scores)
    if chances[cause.id] >= max(chances.values()):
        reasons.append(Reason("first", "It is what I think most likely."))
    reasons += _against(cause, speaker, known, traces)
    for tried in situation.tried:
        meant_for = any(attempt.remedy == tried.remedy for attempt in cause.tries)
        if meant_for and tried.result in ("no-change", "worse"):
            say = f"What helps against it was tried: {headline(tried.remedy)} – "
            reasons.append(Reason("tried", f"{say}{RESULTS[tried.result]}."))
    if cause.how_common == "rare":
        reasons.append(Reason("rare", "It is rarely met, so it takes more to make it likely."))
    reasons += _silent(cause, speaker, known, traces)
    if not reasons:
        say = "Nothing you told counts against it; other causes are only more usual or fit better."
        reasons.append(Reason("unlikely", say))
    return tuple(reasons)


def _against(
    cause: Cause, speaker: Speaker, known: Known, traces: Sequence[RuleTrace]
) -> list[Reason]:
    """Rules and rows that spoke against a cause, the weightiest first."""
    found: list[tuple[float, Reason]] = []
    for trace in traces:
        rule = trace.rule
        if trace.status == "spoke" and about(rule) == cause.id and weight_of(rule) < 0:
            told = "; ".join(speaker.judged(judged) for judged in trace.when)
            say = (
                f"It counts against it ({strength_in_words(rule)}): {told}. {_sentence(rule.says)}"
            )
            found.append(
                (weight_of(rule), Reason("against", say, rule.id, rule.standing == "draft"))
            )
    for row, table, answer in _told_rows(cause.id, known):
        shift = table.shift(cause.id, answer)
        cell = table.taught.get(cause.id, {}).get(answer)
        word = row.answers.get(answer, SAYS_NOTHING) if cell is None else cell.word
        if word != SAYS_NOTHING and shift < 0:
            fact = speaker.fact(table.asked.id, known.facts[table.asked.id])
            strength = word if cell is None else cell.say
            if cell is not None and word.endswith("for"):
                strength += ", but other answers have become likelier still"
            say = f"It counts against it ({strength}): {fact}. {_sentence(row.why)}"
            found.append((shift, Reason("against", say, row.id)))
    return _weightiest(found)


def _silent(
    cause: Cause, speaker: Speaker, known: Known, traces: Sequence[RuleTrace]
) -> list[Reason]:
    """Rules and rows for a cause that would have spoken, and what kept them silent."""
    found: list[tuple[float, Reason]] = []
    for trace in traces:
        rule = trace.rule
        if rule.points_to != cause.id or trace.status == "spoke":
            continue
        lacking = [j for j in trace.when if j.truth is not Truth.YES]
        if any(j.condition.kind == "stage" for j in lacking):
            continue
        kind: ReasonKind = "not looked" if trace.status == "unknown" else "silent"
        if trace.status == "stopped":
            stopped = next(j for j in trace.unless if j.truth is Truth.YES)
            say = f"{_sentence(rule.says)} But there is an exception: {speaker.judged(stopped)}."
        else:
            say = f"It would count for it {_if_but(speaker, lacking)}"
        draft = rule.standing == "draft"
        found.append((-weight_of(rule) / max(1, len(lacking)), Reason(kind, say, rule.id, draft)))
    for row, table, answer in _told_rows(cause.id, known):
        shift = table.shift(cause.id, answer)
        hoped = [a for a in table.asked.answers if row.answers.get(a, "").endswith(" for")]
        if answer not in row.answers and shift < -_HARDLY and hoped:
            said = " or ".join(f"“{speaker.choice(row.of, a)}”" for a in hoped)
            fact = speaker.fact(row.of, known.facts[row.of])
            say = f"It would count for it if it were {said}, but: {fact}."
            found.append((shift, Reason("silent", say, row.id)))
    return _weightiest(found)


_HARDLY = 0.2
"""Nats below which an answer that a row does not name is no reason worth a line."""


def _told_rows(cause: str, known: Known) -> list[tuple[EvidenceRow, Table, str]]:
    """The rows about a cause whose sign or reading has an answer, with that answer."""
    rows = []
    for table in known.tables.values():
        answer = table.asked.answer_for(known.facts.get(table.asked.id))
        if answer is not None and cause in table.rows:
            rows.append((table.rows[cause], table, answer))
    return rows


def _if_but(speaker: Speaker, lacking: Sequence[Judged]) -> str:
    """ "if ..., but ..." for the conditions that were not met."""
    wanted = " and ".join(speaker.wanted(judged.condition) for judged in lacking)
    told = [
        speaker.fact(judged.condition.subject, judged.value)
        for judged in lacking
        if judged.truth is Truth.NO and judged.value is not None
    ]
    if told:
        own = all(j.condition.kind in ("sign", "reading") for j in lacking)
        return f"if {wanted}, but {'you told' if own else 'this holds'}: {'; '.join(told)}."
    if any(judged.truth is Truth.UNKNOWN for judged in lacking):
        return f"if {wanted}; nobody has looked."
    return f"if {wanted}; that is not established."


def _why_not_remedy(
    remedy: Remedy,
    speaker: Speaker,
    known: Known,
    traces: Sequence[RuleTrace],
    plan: Sequence[str],
    headline: Headline,
) -> tuple[Reason, ...]:
    situation = known.situation
    if plan and plan[0] == remedy.id:
        return (Reason("first", "It is what I advise first."),)
    unsafe = [f for f in known.dough.findings if f.calls_for and f.id in known.findings]
    if unsafe:
        say = f"An unsafe history overrides every remedy: {_sentence(unsafe[0].means)}"
        return (Reason("unsafe", say),)
    chances = chances_of(known.scores)
    if remedy.kind in ("restart", "discard", "none"):
        return (_why_not_end(remedy, known, chances, plan, headline),)
    reasons: list[Reason] = []
    if situation.stage not in remedy.stages:
        reasons.append(_other_stage("It is done at", remedy.stages, situation.stage, speaker))
    if exhausted(remedy, situation.tried):
        results = [RESULTS[t.result] for t in situation.tried if t.remedy == remedy.id]
        reasons.append(Reason("tried", f"You have tried it: {', then '.join(results)}."))
    lacking = [name for name in needs(remedy) if name in situation.missing]
    if lacking:
        reasons.append(Reason("larder", f"You have none left of this: {', '.join(lacking)}."))
    for finding in remedy.only_after:
        if finding not in known.findings:
            reasons += _gate(finding, speaker, known, traces, headline)
    says = {cause.id: cause.say for cause in known.dough.causes}
    for name, harm in remedy.harm_under:
        chance = chances.get(name, 0.0)
        if chance >= HARM_HELD_BACK:
            words = chance_in_words(chance)
            say = f"If this is the cause ({words}), doing it {harm}: {_sentence(says[name])}"
            reasons.append(Reason("harm", say))
    reasons += _unlikely(remedy, known, chances)
    if not reasons and remedy.id in plan:
        say = f"It comes later in the plan; first: {headline(plan[0])}"
        reasons.append(Reason("later", say))
    if not reasons:
        say = "It might help, but less surely or more slowly than what I advise."
        reasons.append(Reason("later", say))
    return tuple(reasons)


def _why_not_end(
    remedy: Remedy,
    known: Known,
    chances: Mapping[str, float],
    plan: Sequence[str],
    headline: Headline,
) -> Reason:
    """Why not start over, throw away, or simply carry on."""
    if remedy.kind == "discard":
        return Reason("gate", "Only an unsafe history calls for it, and nothing of that was told.")
    if remedy.kind == "none":
        words = chance_in_words(chances.get(known.dough.carry_on, 0.0))
        return Reason("unlikely", f"That nothing is wrong is {words}.")
    first = f"; first: {headline(plan[0])}" if plan else "."
    return Reason("later", f"It costs more minutes than what I advise is expected to cost{first}")


def _unlikely(remedy: Remedy, known: Known, chances: Mapping[str, float]) -> list[Reason]:
    option = next((o for o in known.options if o.remedy.id == remedy.id), None)
    if option is None:
        situation = known.situation
        if (
            situation.stage not in remedy.stages
            or exhausted(remedy, situation.tried)
            or situation.missing & {*needs(remedy)}
        ):
            return []
        return [Reason("unlikely", "It helps against no cause that shows at this stage.")]
    if sum(chances[cause] * helped for cause, helped in option.cures) >= LEAST_HELP:
        return []
    says = {cause.id: cause.say for cause in known.dough.causes}
    listed = "; ".join(
        f"{says[cause]} ({chance_in_words(chances[cause])})" for cause, _ in option.cures
    )
    return [Reason("unlikely", f"It would hardly help now. It is for: {listed}.")]


def _gate(
    finding: str,
    speaker: Speaker,
    known: Known,
    traces: Sequence[RuleTrace],
    headline: Headline,
) -> list[Reason]:
    """What a remedy waits for, and what would establish it."""
    means = next(f.means for f in known.dough.findings if f.id == finding)
    say = f"Not before this is known: {means}."
    found: list[tuple[float, Reason]] = []
    for trace in traces:
        rule = trace.rule
        lacking = [j for j in trace.when if j.truth is not Truth.YES]
        if rule.concludes != finding or any(j.condition.kind == "stage" for j in lacking):
            continue
        if trace.status == "stopped":
            stopped = next(j for j in trace.unless if j.truth is Truth.YES)
            how = f"It would follow, but there is an exception: {speaker.judged(stopped)}."
        else:
            how = f"It would follow {_if_but(speaker, lacking)}"
        found.append((len(lacking), Reason("opens", how, rule.id, rule.standing == "draft")))
    for opener in known.dough.remedies:
        if finding in opener.establishes and known.situation.stage in opener.stages:
            how = f"It is established by doing this: {headline(opener.id)}"
            found.append((0, Reason("opens", how)))
    return [Reason("gate", say), *_weightiest(found)]


def _other_stage(what: str, stages: Sequence[str], stage: str, speaker: Speaker) -> Reason:
    listed = ", ".join(speaker.stage(name) for name in stages)
    return Reason("stage", f"{what}: {listed}. You are at: {speaker.stage(stage)}.")


def _weightiest(found: list[tuple[float, Reason]]) -> list[Reason]:
    """The few with the least numbers; of equals the book's order."""
    return [reason for _, reason in sorted(found, key=lambda f: round(f[0], 9))[:MOST_REASONS]]


def _sentence(text: str) -> str:
    return text if text.endswith((".", "?", "!")) else f"{text}."
