"""A remedy filled in for this batch: its amounts, minutes, and sentences with the numbers in.

Placeholders come from a fixed list and are replaced plainly; a remedy's text is data and is never
a template.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from diagnose.kitchen.computations import DOSES, MINUTES, READINGS
from diagnose.kitchen.doses import Dose, Minutes
from diagnose.kitchen.paste import contradictions
from diagnose.kitchen.quantities import convert
from diagnose.kitchen.state import KitchenState
from diagnose.knowledge.book import Dough, HouseBatch, Remedy
from diagnose.knowledge.diagnosis import Amount, PlanStep

from .explaining import Speaker, number


def with_house_batch(state: KitchenState, house: HouseBatch) -> tuple[KitchenState, bool]:
    """The state with the house batch standing in when the amounts were not told.

    A weight in the pan, or minutes on the heat, that the house batch could not have, belong to
    another batch: the sums are then made without them.
    """
    if state.milk_g is not None and state.flour_g is not None:
        return state, False
    told = replace(state, milk_g=house.milk_g, flour_g=house.flour_g, salt_g=house.salt_g)
    if contradictions(told):
        told = replace(
            told, pan_contents_g=None, simmer_min=None, cook_min=None, cooked_more_min=0.0
        )
    return told, True


def minutes_for(dough: Dough, state: KitchenState) -> dict[str, float]:
    """The minutes of each remedy that has them worked out for this batch."""
    known = {}
    for remedy in dough.remedies:
        minutes = _minutes(remedy, state)
        if minutes is not None:
            known[remedy.id] = float(minutes.value)
    return known


def fill(
    remedy: Remedy, state: KitchenState, speaker: Speaker, cautions: Mapping[str, str]
) -> PlanStep:
    """One step of the plan. ``state`` must hold amounts of milk and flour."""
    doses = [(addition.of, DOSES[addition.by].function(state)) for addition in remedy.amounts]
    amounts = tuple(_amount(of, dose) for of, dose in doses if dose is not None)
    minutes = _minutes(remedy, state)
    took = float(minutes.value) if minutes is not None else remedy.minutes
    say = minutes.say if minutes is not None else _say_minutes(remedy.minutes)
    boil = READINGS["boiling-point"].function(state)
    words = {
        "{dose}": " and ".join(in_grams_too(a.say, a.grams) for a in amounts),
        "{start}": " and ".join(in_grams_too(a.start_with, a.start_grams) for a in amounts),
        "{between}": " and ".join(a.between for a in amounts),
        "{grams}": " and ".join(f"{number(a.grams)} g" for a in amounts),
        "{minutes}": say,
        "{boil}": "its boiling point" if boil is None else in_both_scales(boil),
    }

    def said(text: str) -> str:
        for placeholder, word in words.items():
            text = text.replace(placeholder, word)
        return text

    return PlanStep(
        remedy=remedy.id,
        kind=remedy.kind,
        first=said(remedy.first),
        do=tuple(said(step) for step in remedy.do),
        amounts=amounts,
        minutes=took,
        minutes_say=say,
        look_for=said(remedy.look_for),
        give_up_when=said(remedy.give_up_when),
        cautions=tuple(cautions[name] for name in remedy.cautions),
        label=remedy.label,
        source=speaker.source(remedy.source),
    )


def in_grams_too(say: str, grams: float) -> str:
    """Spoons with their grams; whole grams, because a level spoon is no finer.

    >>> in_grams_too("1 tablespoon", 7.8)
    '1 tablespoon (8 g)'
    """
    return f"{say} ({max(1, round(grams))} g)"


def in_both_scales(celsius: float) -> str:
    """A temperature in whole degrees of both scales; decimals would be false precision.

    >>> in_both_scales(92.87)
    '93 °C (199 °F)'
    """
    return f"{round(celsius)} °C ({round(convert(celsius, 'degC', 'degF'))} °F)"


def _minutes(remedy: Remedy, state: KitchenState) -> Minutes | None:
    return None if remedy.minutes_by is None else MINUTES[remedy.minutes_by].function(state)


def _say_minutes(minutes: float) -> str:
    return "1 minute" if minutes == 1 else f"{number(minutes)} minutes"


def _amount(of: str, dose: Dose) -> Amount:
    return Amount(
        of=of,
        grams=round(dose.grams, 1),
        say=dose.say,
        start_grams=round(dose.start_grams, 1),
        start_with=dose.start_say,
        between=f"{dose.low} to {dose.high}" if dose.low != dose.high else str(dose.low),
    )
