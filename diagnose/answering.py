"""A decision put into words: the whole answer that pages and programs get."""

from __future__ import annotations

from diagnose.kitchen.spoons import GRAMS_PER_OUNCE, measure
from diagnose.knowledge.book import Reading, Remedy, Sign
from diagnose.knowledge.diagnosis import (
    AnswerChoice,
    CauseChance,
    Computed,
    Diagnosis,
    HeldBack,
    PlanStep,
    Question,
    StartOver,
    TwoThings,
)
from diagnose.reasoning.asking import Worth
from diagnose.reasoning.holding import Held, clearing_question
from diagnose.reasoning.pairs import two_causes
from diagnose.reasoning.words import SOMETHING_ELSE, chance_in_words

from .deciding import Case, Decision, only
from .explaining import because, number, one_fact_short
from .filling import fill, in_both_scales

STILL_IN_PLAY = 0.03
"""A cause with at least this chance must not be made worse by what is done meanwhile."""
SHOWN = 0.01
MOST_CAUSES = 6
SOMETHING_ELSE_SAYS = "Something else, or something this book does not know"


def answer(case: Case, decision: Decision, version: str) -> Diagnosis:
    """The whole answer to a situation; ``version`` is the book's."""
    ready = case.ready
    plan = tuple(_step(case, remedy) for remedy in decision.remedies)
    causes = _causes(case)
    shown = {cause.id for cause in causes}
    top = causes[0].id if causes else None
    return Diagnosis(
        book=version,
        situation=decision.word,
        causes=causes,
        two_things=_two_things(case, decision),
        meanwhile=_meanwhile(case),
        question=None if decision.question is None else _question(case, decision.question),
        plan=plan,
        held_back=_held_back(case, decision),
        start_over=_start_over(case, decision),
        cautions=plan[0].cautions if plan else (),
        because=because(ready.speaker, case.telling_traces, ready.tables, case.facts, shown, top),
        one_fact_short=one_fact_short(ready.speaker, case.telling_traces, shown),
        computed=_computed(case),
        assumed=_assumed(case),
        learned=0 if ready.learned is None else ready.learned.cases,
    )


def _step(case: Case, remedy: Remedy) -> PlanStep:
    """A remedy filled in for this batch, with a warning of what it could make worse."""
    step = fill(remedy, case.state, case.ready.speaker, case.ready.cautions)
    says = {cause.id: cause.say for cause in case.before.causes}
    risks = [says[cause] for cause in case.risks.taken.get(remedy.id, ())]
    if not risks:
        return step
    warning = f"It makes things worse if this is the cause: {'; or: '.join(risks)}. Watch for that"
    return step.model_copy(update={"cautions": (warning, *step.cautions)})


def headline(case: Case, remedy: str) -> str:
    """A remedy's first line, filled in for this batch, by the remedy's id."""
    known = case.ready.remedies[remedy]
    return fill(known, case.state, case.ready.speaker, case.ready.cautions).first


def _causes(case: Case) -> tuple[CauseChance, ...]:
    says = {cause.id: cause.say for cause in case.before.causes}
    says[SOMETHING_ELSE] = SOMETHING_ELSE_SAYS
    place = {name: index for index, name in enumerate(case.before.names)}
    ranked = sorted(case.chances.items(), key=lambda item: (-round(item[1], 9), place[item[0]]))
    return tuple(
        CauseChance(id=name, say=says[name], chance=round(chance, 2), words=chance_in_words(chance))
        for name, chance in ranked[:MOST_CAUSES]
        if chance >= SHOWN
    )


def _two_things(case: Case, decision: Decision) -> TwoThings | None:
    if decision.word not in ("needs-a-remedy", "needs-an-answer"):
        return None
    ready = case.ready
    found = two_causes(case.before, ready.tables, case.facts, case.outcome.spoke, ready.dough).named
    if found is None:
        return None
    says = {cause.id: cause.say for cause in case.before.causes}
    say = f"Possibly two things at once: {says[found[0]]}; and {says[found[1]]}"
    return TwoThings(causes=found, say=say)


def _meanwhile(case: Case) -> str:
    for line in case.stage.meanwhile:
        if all(case.chances.get(cause, 0.0) < STILL_IN_PLAY for cause in line.not_under):
            return line.say
    return case.stage.meanwhile[-1].say


def _question(case: Case, worth: Worth) -> Question:
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


def _why_asked(case: Case, worth: Worth) -> str:
    """What the answer decides, in the words of the remedies it decides between."""
    ends = {"carry-on": only(case.ready, "none").id, "start-over": only(case.ready, "restart").id}
    names = dict.fromkeys(ends.get(remedy, remedy) for _, remedy in worth.leads_to)
    firsts = [f"“{headline(case, name)}”" for name in names]
    if len(firsts) == 1:
        return f"It shows how likely it is that this helps: {firsts[0]}."
    return f"The answer decides what to do first: {', '.join(firsts[:-1])} or {firsts[-1]}."


def _held_back(case: Case, decision: Decision) -> tuple[HeldBack, ...]:
    if decision.word == "discard":
        return ()
    return tuple(_held(case, held, decision) for held in case.held)


def _held(case: Case, held: Held, decision: Decision) -> HeldBack:
    dough = case.ready.dough
    means = {finding.id: finding.means for finding in dough.findings}
    says = {cause.id: cause.say for cause in dough.causes}
    parts = [f"Not before this is known: {means[name]}" for name in held.waits_for]
    parts += [f"It would do harm if this is the cause: {says[name]}" for name in held.could_harm]
    clearing = clearing_question(held, decision.worths)
    question = clearing.question if clearing else None
    if question is None and not held.waits_for:
        question = case.risks.clearing.get(held.remedy.id)
    return HeldBack(
        remedy=held.remedy.id,
        kind=held.remedy.kind,
        why=". ".join(parts),
        question=question,
    )


def _start_over(case: Case, decision: Decision) -> StartOver:
    stage, state, batch = case.stage, case.state, case.situation.batch
    house = case.ready.dough.house_batch
    scale = (state.milk_g or house.milk_g) / house.milk_g
    needs = (
        _need("milk", state.milk_g or house.milk_g),
        _need("flour", state.flour_g or house.flour_g),
        f"{number(_or(batch.yolks, house.yolks * scale))} egg yolks",
        _need("cheese", _or(batch.cheese_g, house.cheese_g * scale), "hard cheese"),
        _need("butter", _or(batch.butter_g, house.butter_g * scale)),
    )
    say = (
        f"Starting over brings you back here in about {number(stage.minutes_from_scratch)} minutes."
    )
    if not case.limits.can_start_over:
        gone = ", ".join(sorted(case.situation.missing))
        say = f"There is not enough on hand to start over: no {gone} left."
    elif batch.serve_in_min is not None:
        whole = case.start_over + stage.minutes_to_plate
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
        better_than_rescue=case.limits.can_start_over
        and decision.word in ("start-over", "discard"),
        say=say,
    )


def _need(ingredient: str, grams: float, name: str | None = None) -> str:
    return f"{number(grams)} g ({measure(ingredient, grams)}) {name or ingredient}"


def _or(told: float | None, otherwise: float) -> float:
    return otherwise if told is None else told


def _computed(case: Case) -> tuple[Computed, ...]:
    shown = []
    for computed in case.ready.dough.computed:
        value = case.facts.get(computed.id)
        if computed.say and isinstance(value, float | int):
            shown.append(
                Computed(
                    id=computed.id,
                    value=round(float(value), 1),
                    unit=computed.unit,
                    say=_with_value(computed.say, float(value)),
                )
            )
    return tuple(shown)


def _with_value(say: str, value: float) -> str:
    """A computed sentence with its number in, in both systems of units where there are two."""
    for unit, both in (
        ("{value} °C", in_both_scales(value)),
        ("{value} g", f"{value:.0f} g ({value / GRAMS_PER_OUNCE:.0f} oz)"),
    ):
        say = say.replace(unit, both)
    return say.replace("{value}", f"{value:.0f}")


def _assumed(case: Case) -> tuple[str, ...]:
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
