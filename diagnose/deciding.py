"""From a situation to what to do now: facts, rules, chances, and the decision.

One gate (an unsafe history), one question, one plan, or an honest end. ``answering`` puts the
decision into words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from diagnose.engine.compiling import CompiledRules, compile_rules
from diagnose.engine.session import Outcome, run
from diagnose.engine.trace import RuleTrace, Telling, trace_of
from diagnose.kitchen.state import KitchenState
from diagnose.knowledge.book import Book, Dough, Remedy, Stage
from diagnose.knowledge.diagnosis import SituationWord
from diagnose.knowledge.facts import facts_of, kitchen_state
from diagnose.knowledge.phrases import Value
from diagnose.knowledge.situation import Situation
from diagnose.learning.recalibrating import Learned, refuse_other_words
from diagnose.reasoning.asking import Ahead, Worth
from diagnose.reasoning.belief import Prior, chances_of, prior, scores_of
from diagnose.reasoning.exact_order import best_course
from diagnose.reasoning.guessing import SURE_NOTHING_IS_WRONG, opened_now
from diagnose.reasoning.holding import Held, sort_out
from diagnose.reasoning.hypotheses import Hypotheses
from diagnose.reasoning.known import Known
from diagnose.reasoning.likelihood import Table, tables
from diagnose.reasoning.limits import START_OVER_EXTRA, Limits, limits_for
from diagnose.reasoning.options import MadeFor, Opened, Option, candidates
from diagnose.reasoning.posterior import Weighed, weigh
from diagnose.reasoning.quick_order import Course
from diagnose.reasoning.risking import Risks, settle_risks

from .explaining import Speaker
from .filling import minutes_for, with_house_batch

WORTH_A_TAP = 0.3
"""Minutes a question must save, beyond the trouble of answering it, to be asked; house rule."""
MOST_SHRUGS = 3
"""After so many "I did not look" the cook is told what to do instead of being asked; house rule."""


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
    telling: Telling
    """Which rules an answer speaks of."""
    made: dict[MadeFor, Option | None] = field(default_factory=dict)
    """Options worked out before; threads may both make one, to the same end."""
    learned: Learned | None = None
    """What confirmed cases taught; already in the tables."""


def make_ready(book: Book, dough: Dough, learned: Learned | None = None) -> Ready:
    """Compile one dough, with what confirmed cases taught about it.

    Raises:
        Circular: some rules can only speak after themselves.
        ValueError: it was learned about other words than those of this dough.
    """
    if learned is not None:
        refuse_other_words(learned, dough)
    rules = compile_rules(dough)
    return Ready(
        dough=dough,
        rules=rules,
        tables=tables(dough) if learned is None else tables(dough, learned.taught),
        speaker=Speaker(book, dough),
        cautions={caution.id: caution.say for caution in dough.cautions},
        remedies={remedy.id: remedy for remedy in dough.remedies},
        stages={stage.id: stage for stage in dough.stages},
        telling=Telling(rules.rules),
        learned=learned,
    )


@dataclass(frozen=True)
class Case:
    """One situation on its way through the house: everything that follows before a decision."""

    ready: Ready
    situation: Situation
    stage: Stage
    facts: Mapping[str, Value]
    state: KitchenState
    assumed: bool
    """Whether the house batch stands in for amounts that were not told."""
    outcome: Outcome
    before: Prior
    weights: Sequence[Weighed]
    scores: Mapping[str, float]
    chances: Mapping[str, float]
    candidates: Sequence[Option]
    """Every remedy that can still be done and helps against something in play."""
    start_over: float
    limits: Limits

    @cached_property
    def risks(self) -> Risks:
        """Which remedies that could harm wait for a question."""
        return settle_risks(self.unsettled, lambda: self.hypotheses)

    @property
    def options(self) -> Sequence[Option]:
        """The candidates, with what they could harm settled."""
        return self.risks.options

    @cached_property
    def known(self) -> Known:
        """The present, as the question step sees it."""
        return replace(self.unsettled, options=self.options)

    @cached_property
    def hypotheses(self) -> Hypotheses:
        """Every answer that might be given next."""
        return Hypotheses(self.unsettled)

    @cached_property
    def unsettled(self) -> Known:
        """The same before it is settled what a remedy could harm."""
        dough = self.ready.dough
        return Known(
            dough=dough,
            situation=self.situation,
            net=self.ready.rules.net,
            tables=self.ready.tables,
            facts_of=lambda situation: facts_of(situation, dough),
            facts=self.facts,
            before=self.before,
            weights=self.weights,
            scores=self.scores,
            findings=self.outcome.findings,
            options=self.candidates,
            start_over=self.start_over,
            limits=self.limits,
        )

    @cached_property
    def traces(self) -> tuple[RuleTrace, ...]:
        """For every rule, why it spoke or stayed silent."""
        return trace_of(self.ready.rules.rules, self.facts, self.outcome)

    @cached_property
    def telling_traces(self) -> tuple[RuleTrace, ...]:
        """The same for the rules that spoke or still might: all that an answer speaks of."""
        rules = self.ready.telling.of(self.facts, self.outcome)
        return trace_of(rules, self.facts, self.outcome)

    @cached_property
    def held(self) -> list[Held]:
        """The remedies that would help but may not be advised yet."""
        return sort_out(self.options, self.chances, self.outcome.findings)

    def course(self, opened: Opened) -> Course:
        """The best order of remedies; ``opened`` is what doing one would open."""
        weights = [self.chances[name] for name in self.before.names]
        findings = self.outcome.findings
        return best_course(self.options, weights, self.start_over, findings, opened, self.limits)


@dataclass(frozen=True, slots=True)
class Decision:
    """What to do now. ``remedies`` is best on what is known, also while a question waits."""

    word: SituationWord
    remedies: tuple[Remedy, ...]
    question: Worth | None = None
    worths: tuple[Worth, ...] = ()


def infer(ready: Ready, situation: Situation) -> Case:
    """Run the rules and weigh the causes; decides nothing yet."""
    dough = ready.dough
    facts = facts_of(situation, dough)
    outcome = run(ready.rules, facts)
    told = kitchen_state(situation, dough)
    taught = ready.learned
    common = None if taught is None else taught.log_weights(situation.stage, told.elevation_m)
    before = prior(dough, situation.stage, situation.tried, common)
    weights = weigh(before.causes, ready.tables, facts, outcome.spoke)
    scores = scores_of(before, weights)
    state, assumed = with_house_batch(told, dough.house_batch)
    stage = ready.stages[situation.stage]
    minutes = minutes_for(dough, state)
    serve = situation.batch.serve_in_min
    return Case(
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
        candidates=candidates(
            dough, stage.id, before.causes, situation.tried, minutes, situation.missing, ready.made
        ),
        start_over=stage.minutes_from_scratch + START_OVER_EXTRA,
        limits=limits_for(stage, serve, dough.house_batch, situation.missing),
    )


def decide(case: Case) -> Decision:
    """One gate, one question, one plan, or an honest end."""
    settled = _settled(case)
    if settled is not None:
        return settled
    ahead = Ahead(case.known, case.hypotheses)
    now = _best_now(case, case.course(ahead.opened()))
    situation = case.situation
    nothing_told = not situation.signs and not situation.readings
    worths = tuple(ahead.questions(quick=not nothing_told))
    shrugged = len(situation.not_looked) >= MOST_SHRUGS and not nothing_told
    asking = [
        w
        for w in worths
        if nothing_told or (w.changes_first and w.saves > WORTH_A_TAP and not shrugged)
    ]
    if not asking and now.word == "start-over":
        # also from a cook who would rather not look: a batch is at stake
        waiting = _waited_for(case)
        worths = tuple(ahead.questions()) if waiting else worths
        asking = [w for w in worths if w.part.id in waiting]
    if asking:
        return Decision("needs-an-answer", now.remedies, asking[0], worths)
    return Decision(now.word, now.remedies, None, worths)


def first_remedy(case: Case) -> str:
    """The id of the remedy that would come first if nothing more were asked."""
    settled = _settled(case)
    if settled is not None:
        return settled.remedies[0].id
    return _best_now(case, case.course(opened_now(case.known))).remedies[0].id


def gate_of(case: Case) -> Remedy | None:
    """The remedy that an unsafe history leaves, whatever the chances say."""
    for finding in case.ready.dough.findings:
        if finding.calls_for is not None and finding.id in case.outcome.findings:
            return case.ready.remedies[finding.calls_for]
    return None


def only(ready: Ready, kind: str) -> Remedy:
    """The one remedy of a kind that every dough has: none, restart or discard."""
    return next(remedy for remedy in ready.dough.remedies if remedy.kind == kind)


def _waited_for(case: Case) -> set[str]:
    """The questions that stand between the cook and a remedy that at worst makes it worse."""
    clearing = case.risks.clearing
    return {
        clearing[held.remedy.id]
        for held in case.held
        if held.remedy.id in clearing and not held.waits_for and not held.could_ruin
    }


def _settled(case: Case) -> Decision | None:
    """What needs no plan: food to be thrown away, or a remedy that worked."""
    gate = gate_of(case)
    if gate is not None:
        return Decision("discard", (gate,))
    tried = case.situation.tried
    if tried and tried[-1].result == "worked":
        return Decision("ok-to-carry-on", (only(case.ready, "none"),))
    return None


def _best_now(case: Case, course: Course) -> Decision:
    """What to do if nothing more is asked."""
    if case.chances.get(case.ready.dough.carry_on, 0.0) >= SURE_NOTHING_IS_WRONG:
        return Decision("ok-to-carry-on", (only(case.ready, "none"),))
    if course.remedies:
        return Decision("needs-a-remedy", course.remedies)
    return Decision("start-over", (only(case.ready, "restart"),))
