"""The front door: open a book, and get a diagnosis for a situation.

>>> from diagnose.consulting import open_book
>>> from diagnose.knowledge.situation import Situation
>>> told = Situation(dough="milk-panade-slab", stage="cook-paste", signs={"paste-body": "slumps"})
>>> open_book().diagnose(told).plan[0].kind
'heat'
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from diagnose.engine.compiling import CompiledRules, compile_rules
from diagnose.engine.session import Outcome, run
from diagnose.engine.trace import RuleTrace, trace_of
from diagnose.kitchen.state import KitchenState
from diagnose.knowledge.book import Book, Dough, Reading, Remedy, Sign, Stage
from diagnose.knowledge.diagnosis import (
    AnswerChoice,
    CauseChance,
    Computed,
    Diagnosis,
    HeldBack,
    Question,
    SituationWord,
    StartOver,
)
from diagnose.knowledge.facts import facts_of, kitchen_state
from diagnose.knowledge.loading import load_book
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.situation import Situation
from diagnose.reasoning.asking import Ahead, Known, Worth
from diagnose.reasoning.belief import Prior, chances_of, prior, scores_of
from diagnose.reasoning.likelihood import Table, tables
from diagnose.reasoning.posterior import Weighed, weigh
from diagnose.reasoning.repair import (
    START_OVER_EXTRA,
    Course,
    Held,
    Option,
    best_course,
    candidates,
    sort_out,
)
from diagnose.reasoning.words import SOMETHING_ELSE, chance_in_words

from .explaining import Speaker, because, number, one_fact_short
from .filling import fill, minutes_for, with_house_batch

WORTH_A_TAP = 0.3
"""Minutes a question must save, beyond the trouble of answering it, to be asked."""
MOST_SHRUGS = 3
"""After so many "I did not look" the cook is told what to do instead of being asked; house rule."""
SURE_NOTHING_IS_WRONG = 0.6
STILL_IN_PLAY = 0.03
SHOWN = 0.01
MOST_CAUSES = 6
SOMETHING_ELSE_SAYS = "Something else, or something this book does not know"


@dataclass(frozen=True)
class Ready:
    """One dough, compiled."""

    dough: Dough
    rules: CompiledRules
    tables: Mapping[str, Table]
    speaker: Speaker
    cautions: Mapping[str, str]
    remedies: Mapping[str, Remedy]
    stages: Mapping[str, Stage]


class OpenBook:
    """A loaded and compiled book: immutable, and safe to share between threads."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self._ready = {dough.id: _make_ready(book, dough) for dough in book.doughs}

    def diagnose(self, situation: Situation) -> Diagnosis:
        """The diagnosis of a situation whose ids are all in the book (the reader sees to that)."""
        return _diagnose(self.book, self._ready[situation.dough], situation)

    def trace(self, situation: Situation) -> tuple[RuleTrace, ...]:
        """For every rule, why it spoke or stayed silent."""
        ready = self._ready[situation.dough]
        facts = facts_of(situation, ready.dough)
        return trace_of(ready.rules.rules, facts, run(ready.rules, facts))

    def spoke(self, dough: str, facts: Mapping[str, Value]) -> frozenset[str]:
        """Ids of the rules that speak on bare facts; for checking the cases beside the rules."""
        return frozenset(rule.id for rule in run(self._ready[dough].rules, facts).spoke)


def open_book(folder: Path | None = None) -> OpenBook:
    """Load the book in a folder (the shipped one by default) and compile it.

    Raises:
        BrokenBook: with every problem found in it.
    """
    return OpenBook(load_book(folder))


def _make_ready(book: Book, dough: Dough) -> Ready:
    return Ready(
        dough=dough,
        rules=compile_rules(dough),
        tables=tables(dough),
        speaker=Speaker(book, dough),
        cautions={caution.id: caution.say for caution in dough.cautions},
        remedies={remedy.id: remedy for remedy in dough.remedies},
        stages={stage.id: stage for stage in dough.stages},
    )


@dataclass(frozen=True)
class _Case:
    """One situation on its way through the house."""

    ready: Ready
    situation: Situation
    stage: Stage
    facts: Mapping[str, Value]
    state: KitchenState
    assumed: bool
    outcome: Outcome
    before: Prior
    weights: Sequence[Weighed]
    scores: Mapping[str, float]
    chances: Mapping[str, float]
    options: Sequence[Option]
    start_over: float


def _diagnose(book: Book, ready: Ready, situation: Situation) -> Diagnosis:
    case = _infer(ready, situation)
    held = sort_out(case.options, case.chances, case.outcome.findings)
    ahead = Ahead(_known(case))
    weights = [case.chances[name] for name in case.before.names]
    course = best_course(
        case.options, weights, case.start_over, case.outcome.findings, ahead.opened()
    )
    worths = ahead.questions()
    gate = _gate(case)
    word, remedies, worth = _decide(case, course, worths, gate)
    plan = tuple(fill(remedy, case.state, ready.speaker, ready.cautions) for remedy in remedies)
    traces = trace_of(ready.rules.rules, case.facts, case.outcome)
    causes = _causes(case)
    shown = {cause.id for cause in causes}
    return Diagnosis(
        book=book.version,
        situation=word,
        causes=causes,
        meanwhile=_meanwhile(case),
        question=None if worth is None else _question(case, worth),
        plan=plan,
        held_back=() if gate else tuple(_held(ready, h) for h in held),
        start_over=_start_over(case, word),
        cautions=plan[0].cautions if plan else (),
        because=because(ready.speaker, traces, ready.tables, case.facts, shown),
        one_fact_short=one_fact_short(ready.speaker, traces, shown),
        computed=_computed(case),
        assumed=_assumed(case),
    )


def _infer(ready: Ready, situation: Situation) -> _Case:
    facts = facts_of(situation, ready.dough)
    outcome = run(ready.rules, facts)
    before = prior(ready.dough, situation.stage, situation.tried)
    weights = weigh(before.causes, ready.tables, facts, outcome.spoke)
    scores = scores_of(before, weights)
    state, assumed = with_house_batch(
        kitchen_state(situation, ready.dough), ready.dough.house_batch
    )
    stage = ready.stages[situation.stage]
    return _Case(
        ready=ready,
        situation=situation,
        stage=stage,
        facts=facts,
        state=state,
        assumed=assumed,
        outcome=outcome,
        before=before,
        weights=weights,
        scores=scores,
        chances=chances_of(scores),
        options=candidates(
            ready.dough,
            situation.stage,
            before.causes,
            situation.tried,
            minutes_for(ready.dough, state),
        ),
        start_over=stage.minutes_from_scratch + START_OVER_EXTRA,
    )


def _known(case: _Case) -> Known:
    dough = case.ready.dough
    return Known(
        dough=dough,
        situation=case.situation,
        net=case.ready.rules.net,
        tables=case.ready.tables,
        facts_of=lambda situation: facts_of(situation, dough),
        facts=case.facts,
        before=case.before,
        weights=case.weights,
        scores=case.scores,
        findings=case.outcome.findings,
        options=case.options,
        start_over=case.start_over,
    )


def _gate(case: _Case) -> Remedy | None:
    """The remedy that an unsafe history leaves, whatever the chances say."""
    for finding in case.ready.dough.findings:
        if finding.calls_for is not None and finding.id in case.outcome.findings:
            return case.ready.remedies[finding.calls_for]
    return None


def _decide(
    case: _Case, course: Course, worths: list[Worth], gate: Remedy | None
) -> tuple[SituationWord, tuple[Remedy, ...], Worth | None]:
    """What to do now: one gate, one question, one plan, or an honest end."""
    ready, situation = case.ready, case.situation
    if gate is not None:
        return "discard", (gate,), None
    if situation.tried and situation.tried[-1].result == "worked":
        return "ok-to-carry-on", (_only(ready, "none"),), None
    word, remedies = _best_now(case, course)
    nothing_told = not situation.signs and not situation.readings
    shrugged = len(situation.not_looked) >= MOST_SHRUGS and not nothing_told
    asking = [
        w
        for w in worths
        if nothing_told or (w.changes_first and w.saves > WORTH_A_TAP and not shrugged)
    ]
    return ("needs-an-answer", remedies, asking[0]) if asking else (word, remedies, None)


def _best_now(case: _Case, course: Course) -> tuple[SituationWord, tuple[Remedy, ...]]:
    """What to do if nothing more is asked."""
    if case.chances.get(case.ready.dough.carry_on, 0.0) >= SURE_NOTHING_IS_WRONG:
        return "ok-to-carry-on", (_only(case.ready, "none"),)
    if course.remedies:
        return "needs-a-remedy", course.remedies
    return "start-over", (_only(case.ready, "restart"),)


def _only(ready: Ready, kind: str) -> Remedy:
    return next(r for r in ready.dough.remedies if r.kind == kind)


def _causes(case: _Case) -> tuple[CauseChance, ...]:
    says = {cause.id: cause.say for cause in case.before.causes}
    says[SOMETHING_ELSE] = SOMETHING_ELSE_SAYS
    place = {name: index for index, name in enumerate(case.before.names)}
    ranked = sorted(case.chances.items(), key=lambda item: (-round(item[1], 9), place[item[0]]))
    return tuple(
        CauseChance(id=name, say=says[name], chance=round(chance, 2), words=chance_in_words(chance))
        for name, chance in ranked[:MOST_CAUSES]
        if chance >= SHOWN
    )


def _meanwhile(case: _Case) -> str:
    for line in case.stage.meanwhile:
        if all(case.chances.get(cause, 0.0) < STILL_IN_PLAY for cause in line.not_under):
            return line.say
    return case.stage.meanwhile[-1].say


def _question(case: _Case, worth: Worth) -> Question:
    part = worth.part
    return Question(
        id=part.id,
        ask=part.ask,
        how=part.how,
        answers=tuple(AnswerChoice(id=a.id, say=a.say) for a in part.answers)
        if isinstance(part, Sign)
        else (),
        unit=part.unit if isinstance(part, Reading) else None,
        needs=part.tool if isinstance(part, Reading) else None,
        why=_why_asked(case, worth),
    )


def _why_asked(case: _Case, worth: Worth) -> str:
    """What the answer decides, in the words of the remedies it decides between."""
    ready = case.ready
    only = {"carry-on": _only(ready, "none"), "start-over": _only(ready, "restart")}
    firsts = []
    for name in dict.fromkeys(remedy for _, remedy in worth.leads_to):
        remedy = only.get(name) or ready.remedies[name]
        firsts.append(f"“{fill(remedy, case.state, ready.speaker, ready.cautions).first}”")
    if len(firsts) == 1:
        return f"It shows how likely it is that this helps: {firsts[0]}."
    return f"The answer decides what to do first: {', '.join(firsts[:-1])} or {firsts[-1]}."


def _held(ready: Ready, held: Held) -> HeldBack:
    means = {finding.id: finding.means for finding in ready.dough.findings}
    says = {cause.id: cause.say for cause in ready.dough.causes}
    parts = [f"Not before this is known: {means[name]}" for name in held.waits_for]
    parts += [f"It would do harm if this is the cause: {says[name]}" for name in held.could_harm]
    return HeldBack(remedy=held.remedy.id, kind=held.remedy.kind, why=". ".join(parts))


def _start_over(case: _Case, word: SituationWord) -> StartOver:
    stage, state, batch = case.stage, case.state, case.situation.batch
    house = case.ready.dough.house_batch
    scale = (state.milk_g or house.milk_g) / house.milk_g
    needs = (
        f"{number(state.milk_g or house.milk_g)} g milk",
        f"{number(state.flour_g or house.flour_g)} g flour",
        f"{number(_or(batch.yolks, house.yolks * scale))} egg yolks",
        f"{number(_or(batch.cheese_g, house.cheese_g * scale))} g hard cheese",
        f"{number(_or(batch.butter_g, house.butter_g * scale))} g butter",
    )
    say = (
        f"Starting over brings you back here in about {number(stage.minutes_from_scratch)} minutes."
    )
    if batch.serve_in_min is not None:
        whole = stage.minutes_from_scratch + stage.minutes_to_plate
        if whole > batch.serve_in_min:
            say += (
                f" From there to the plate takes longer than you have: about {number(whole)} "
                f"minutes in all, and you serve in {number(batch.serve_in_min)}."
            )
        else:
            say += f" There is time: about {number(whole)} minutes to the plate."
    return StartOver(
        minutes=stage.minutes_from_scratch,
        needs=needs,
        better_than_rescue=word in ("start-over", "discard"),
        say=say,
    )


def _or(told: float | None, otherwise: float) -> float:
    return otherwise if told is None else told


def _computed(case: _Case) -> tuple[Computed, ...]:
    shown = []
    for computed in case.ready.dough.computed:
        value = case.facts.get(computed.id)
        if computed.say and isinstance(value, float | int):
            shown.append(
                Computed(
                    id=computed.id,
                    value=round(float(value), 1),
                    unit=computed.unit,
                    say=computed.say.replace("{value}", f"{float(value):.0f}"),
                )
            )
    return tuple(shown)


def _assumed(case: _Case) -> tuple[str, ...]:
    said = []
    house = case.ready.dough.house_batch
    if case.assumed:
        said.append(
            f"No amounts of milk and flour were told, so doses are for {number(house.milk_g)} g "
            f"milk and {number(house.flour_g)} g flour. For another size, scale them with the milk."
        )
    if case.state.elevation_m is None and case.state.boil_c is None:
        said.append("No elevation was told, so nothing here depends on where you cook.")
    return tuple(said)
