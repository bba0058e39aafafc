"""From a situation to the facts that rules see: what was told, and what follows by arithmetic.

What was not told is not in the result; no value is made up for it.
"""

from __future__ import annotations

from diagnose.kitchen.computations import READINGS
from diagnose.kitchen.state import KitchenState

from .book import Dough, Given
from .phrases import PRESENT, Value
from .situation import Situation

PASTE_TEMPERATURE = "paste-temperature"
PAN_CONTENTS = "pan-contents"
SLAB_THICKNESS = "slab-thickness"
SLAB_TEMPERATURE = "slab-core-temperature"


def kitchen_state(situation: Situation, dough: Dough) -> KitchenState:
    """Everything the arithmetic may need, in its fixed units.

    A fact that a form tells and a cook tells again as a reading (minutes cooked, say) is taken
    from whichever of the two is known; the reader of situations refuses two different values.
    """
    batch, kitchen = situation.batch, situation.kitchen
    added = {"flour": 0.0, "liquid": 0.0}
    cooked_more = 0.0
    for tried in (*situation.settled, *situation.tried):
        remedy = next((r for r in dough.remedies if r.id == tried.remedy), None)
        if remedy is None or tried.result == "cannot":
            continue
        if remedy.kind in added and tried.added_g is not None:
            added[remedy.kind] += tried.added_g
        if remedy.kind == "heat":
            cooked_more += remedy.minutes
    return KitchenState(
        elevation_m=_given(situation, dough, "elevation", kitchen.elevation_m),
        boil_c=kitchen.boil_c,
        milk_g=batch.milk_g,
        flour_g=batch.flour_g,
        flour_measured=_flour_measured(situation, dough),
        salt_g=batch.salt_g,
        yolks=_given(situation, dough, "yolks", batch.yolks),
        cheese_g=batch.cheese_g,
        butter_g=batch.butter_g,
        simmer_min=_given(situation, dough, "minutes simmered", batch.simmer_min),
        cook_min=_given(situation, dough, "minutes cooked", batch.cook_min),
        paste_c=situation.readings.get(PASTE_TEMPERATURE),
        pan_contents_g=situation.readings.get(PAN_CONTENTS),
        slab_mm=situation.readings.get(SLAB_THICKNESS),
        core_c=situation.readings.get(SLAB_TEMPERATURE),
        flour_added_g=added["flour"],
        milk_added_g=added["liquid"],
        cooked_more_min=cooked_more,
    )


def facts_of(situation: Situation, dough: Dough) -> dict[str, Value]:
    """The facts for the rules, by id: signs, readings, computed readings and the stage.

    A finding that a remedy establishes by being done is present.
    """
    state = kitchen_state(situation, dough)
    facts: dict[str, Value] = {"stage": situation.stage}
    facts.update(situation.signs)
    facts.update(situation.readings)
    told: dict[Given, Value | None] = {
        "elevation": state.elevation_m,
        "minutes simmered": state.simmer_min,
        "minutes cooked": state.cook_min,
        "minutes to serving": situation.batch.serve_in_min,
        "yolks": state.yolks,
        "flour measured": None if state.flour_measured == "unknown" else state.flour_measured,
    }
    for part in dough.given:
        assert part.given_by is not None
        if part.id not in facts:
            value = told[part.given_by]
            if value is not None:
                facts[part.id] = value
        minutes = facts.get(part.id)
        if part.given_by == "minutes cooked" and isinstance(minutes, float | int):
            # what was told was true before the remedies that cooked it on
            facts[part.id] = minutes + state.cooked_more_min
    for computed in dough.computed:
        number = READINGS[computed.formula].function(state)
        if number is not None:
            facts[computed.id] = number
    facts.update((finding, PRESENT) for finding in _established(situation, dough))
    return facts


def _established(situation: Situation, dough: Dough) -> list[str]:
    everything = (*situation.settled, *situation.tried)
    done = {tried.remedy for tried in everything if tried.result != "cannot"}
    if not done:
        return []
    return [name for remedy in dough.remedies if remedy.id in done for name in remedy.establishes]


def _given(situation: Situation, dough: Dough, given: Given, told: float | None) -> float | None:
    if told is not None:
        return told
    for part in dough.given:
        if part.given_by == given and part.id in situation.readings:
            return situation.readings[part.id]
    return None


def _flour_measured(situation: Situation, dough: Dough) -> str:
    if situation.batch.flour_measured != "unknown":
        return situation.batch.flour_measured
    for sign in dough.given:
        if sign.given_by == "flour measured" and sign.id in situation.signs:
            return situation.signs[sign.id]
    return "unknown"
