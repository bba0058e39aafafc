"""What a knowledge file may name: known inputs, declared inputs, and the state as a whole."""

import re
from dataclasses import fields, replace
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from diagnose.kitchen.atmosphere import water_boils_at_c
from diagnose.kitchen.balance import paste_class
from diagnose.kitchen.computations import DOSES, MINUTES, READINGS
from diagnose.kitchen.named import Computation, DoseComputation, MinutesComputation
from diagnose.kitchen.paste import contradictions, paste_now
from diagnose.kitchen.state import INPUTS, KitchenState, is_known

FULL = KitchenState(
    elevation_m=2310,
    boil_c=None,
    milk_g=500,
    flour_g=100,
    flour_measured="weighed",
    salt_g=4,
    yolks=2,
    cheese_g=45,
    butter_g=40,
    simmer_min=6,
    cook_min=2,
    paste_c=78,
    slab_mm=15,
    core_c=20,
)
EVERY: list[Computation | DoseComputation | MinutesComputation] = [
    *READINGS.values(),
    *DOSES.values(),
    *MINUTES.values(),
]
OTHER_VALUES = {
    "elevation": 1200.0,
    "boiling water": 95.0,
    "milk": 620.0,
    "flour": 81.0,
    "flour measured": "dipped",
    "salt": 5.5,
    "yolks": 3.0,
    "cheese": 60.0,
    "butter": 20.0,
    "minutes simmered": 3.0,
    "minutes cooked": 6.5,
    "paste temperature": 91.0,
    "pan contents": 515.0,
    "slab thickness": 18.0,
    "slab temperature": 14.0,
}


def reading(name: str, state: KitchenState) -> float:
    found = READINGS[name].function(state)
    assert found is not None
    return found


def told(state: KitchenState, words: str, value: object) -> KitchenState:
    """The same state with one input told otherwise, by the words an author writes."""
    changed: dict[str, Any] = {INPUTS[words]: value}
    return replace(state, **changed)


def without(state: KitchenState, words: str) -> KitchenState:
    return told(state, words, "unknown" if words == "flour measured" else None)


@pytest.mark.parametrize("computation", EVERY, ids=lambda one: one.name)
def test_without_an_input_it_needs_a_computation_has_no_answer(
    computation: Computation | DoseComputation | MinutesComputation,
) -> None:
    full = replace(FULL, pan_contents_g=536)
    if "boiling water" in computation.needs:
        full = replace(full, boil_c=92.0)
    assert computation.function(full) is not None
    for words in computation.needs:
        assert computation.function(without(full, words)) is None


@pytest.mark.parametrize("computation", EVERY, ids=lambda one: one.name)
def test_an_input_not_declared_changes_nothing(
    computation: Computation | DoseComputation | MinutesComputation,
) -> None:
    declared = {*computation.needs, *computation.uses}
    assert declared <= set(INPUTS)
    for base in (
        FULL,
        replace(FULL, pan_contents_g=530),
        replace(FULL, elevation_m=None, boil_c=92),
    ):
        before = computation.function(base)
        for words in set(INPUTS) - declared:
            changed = told(base, words, OTHER_VALUES[words])
            assert computation.function(changed) == before, words


@pytest.mark.parametrize("computation", EVERY, ids=lambda one: one.name)
def test_a_computation_says_what_it_means_and_has_an_authors_name(
    computation: Computation | DoseComputation | MinutesComputation,
) -> None:
    assert computation.means
    assert computation.name.replace("-", "").isalpha()
    assert computation.name == computation.name.lower()


def test_with_nothing_told_nothing_is_made_up() -> None:
    assert [one.name for one in EVERY if one.function(KitchenState()) is not None] == [
        "minutes-to-the-gate",
        "minutes-to-cool",
    ]


def test_every_input_names_a_field_of_the_state() -> None:
    names = {field.name for field in fields(KitchenState)}
    assert set(INPUTS.values()) <= names
    assert is_known(FULL, "flour measured")
    assert not is_known(KitchenState(), "flour measured")


def test_a_high_kitchen_with_a_paste_cooked_two_minutes() -> None:
    """Mass balance: c 15.1, in class, so flour is not what it wants; boil by ISO 2533."""
    assert reading("boiling-point", FULL) == pytest.approx(water_boils_at_c(2310))
    assert reading("paste-below-boil", FULL) == pytest.approx(14.3, abs=0.1)
    assert reading("starch-share", FULL) == pytest.approx(15.1, abs=0.05)
    assert paste_class(reading("starch-share", FULL)).word == "panada"
    assert reading("flour-spoons-short", FULL) < 0.5
    assert reading("water-driven-off", FULL) == pytest.approx(57, abs=0.2)
    assert reading("water-driven-off-share", FULL) == pytest.approx(11.4, abs=0.1)


def test_the_house_batch() -> None:
    """Mass balance on USDA SR27: 536 g in the pan; 6.2 Tbsp flour a cup of milk."""
    house = replace(FULL, simmer_min=None, cook_min=None)
    assert reading("starch-share", house) == pytest.approx(15.49, abs=0.01)
    assert reading("expected-pan-contents", house) == pytest.approx(536, abs=0.1)
    assert reading("pan-contents-at-target", house) == pytest.approx(536, abs=0.5)
    assert reading("flour-per-cup-of-milk", house) == pytest.approx(6.2, abs=0.05)
    assert READINGS["water-driven-off"].function(house) is None


def test_a_measured_boil_is_used_before_the_elevation_and_checks_the_thermometer() -> None:
    state = replace(FULL, boil_c=94.0)
    assert reading("boiling-point", state) == 94.0
    assert reading("thermometer-reads-high", state) == pytest.approx(94.0 - water_boils_at_c(2310))


def test_the_altitude_practice_follows_a_measured_boil_where_no_elevation_was_told() -> None:
    spoonful = DOSES["altitude-spoonful"].function
    assert spoonful(KitchenState(milk_g=500, boil_c=93)) is not None
    assert spoonful(KitchenState(milk_g=500, boil_c=99)) is None
    assert MINUTES["minutes-to-the-gate"].function(KitchenState(boil_c=92)) is not None


def test_yolks_beaten_into_all_the_paste() -> None:
    """Mixing: two cold yolks take 536 g at 75 °C to 71.2 °C; 0.1."""
    state = replace(FULL, simmer_min=None, cook_min=None, paste_c=75)
    assert reading("paste-after-yolks", state) == pytest.approx(71.2, abs=0.1)


def test_a_pan_weighed_before_a_remedy_has_the_remedy_added_to_it() -> None:
    weighed = replace(FULL, pan_contents_g=560)
    after = replace(weighed, flour_added_g=7.8125)
    assert reading("starch-share", after) > reading("starch-share", weighed)
    assert reading("starch-share-before-remedies", after) == reading("starch-share", weighed)
    dried = replace(weighed, cooked_more_min=4)
    paste = paste_now(dried)
    assert paste is not None
    assert paste.total_g == pytest.approx(540)


def test_a_pan_weighed_last_is_taken_as_it_is() -> None:
    state = replace(FULL, flour_added_g=7.8125, cooked_more_min=4, pan_contents_g=548)
    paste = paste_now(replace(state, pan_weighed_last=True))
    assert paste is not None
    assert paste.total_g == pytest.approx(548)
    assert paste.basis == "pan"
    assert (
        READINGS["starch-share-before-remedies"].function(replace(state, pan_weighed_last=True))
        is None
    )


def test_more_in_the_pan_than_was_told_is_a_finding_and_not_an_error() -> None:
    over = replace(FULL, pan_contents_g=640)
    assert contradictions(over) == []
    assert reading("pan-contents-over-expected", over) == pytest.approx(104)
    assert reading("water-driven-off", over) == pytest.approx(-36)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"elevation_m": 9000.0}, r"9,000 m is outside the accepted range, -430 to 3,500 m"),
        ({"boil_c": 60.0}, r"88\.3 to 101\.4 °C is accepted"),
        ({"paste_c": 172.0}, r"172 °C is outside the accepted range, 0 to 105 °C"),
        ({"milk_g": 0.0}, r"Milk of 0 g is outside the accepted range, 50 to 50,000 g"),
        ({"flour_g": 0.0}, r"Flour of 0 g is not possible"),
        ({"pan_contents_g": 0.0}, r"more than zero is accepted"),
        ({"pan_contents_g": 1700.0}, r"Was the empty pan's weight taken off\?"),
        ({"pan_contents_g": 120.0}, r"cannot have left this paste"),
        ({"simmer_min": 90.0}, r"Check the weights and minutes"),
    ],
)
def test_numbers_that_cannot_be_are_named_in_a_sentence(
    change: dict[str, Any], sentence: str
) -> None:
    found = contradictions(replace(FULL, **change))
    assert len(found) == 1
    assert re.search(sentence, found[0])


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"milk_g": -1.0}, "Milk of -1 g is not possible"),
        ({"cook_min": float("nan")}, "Cooking must be a number in min"),
        ({"flour_measured": "heaped"}, "Accepted: weighed"),
    ],
)
def test_a_state_refuses_amounts_that_are_none(change: dict[str, Any], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        KitchenState(**change)


maybe = st.none()
states = st.builds(
    KitchenState,
    elevation_m=maybe | st.floats(-1000, 5000),
    boil_c=maybe | st.floats(80, 105),
    milk_g=maybe | st.floats(0, 3000),
    flour_g=maybe | st.floats(0, 900),
    flour_measured=st.sampled_from(
        ["weighed", "spooned", "dipped", "sifted-first", "sifted-after", "unknown"]
    ),
    salt_g=maybe | st.floats(0, 40),
    yolks=maybe | st.floats(0, 12),
    simmer_min=maybe | st.floats(0, 60),
    cook_min=maybe | st.floats(0, 60),
    paste_c=maybe | st.floats(-20, 120),
    pan_contents_g=maybe | st.floats(0, 5000),
    cheese_g=maybe | st.floats(0, 300),
    butter_g=maybe | st.floats(0, 300),
    slab_mm=maybe | st.floats(0, 100),
    core_c=maybe | st.floats(-30, 100),
    flour_added_g=st.floats(0, 60),
    milk_added_g=st.floats(0, 100),
    cooked_more_min=st.floats(0, 30),
    pan_weighed_last=st.booleans(),
)


@given(states)
def test_a_state_without_contradictions_is_refused_by_no_computation(state: KitchenState) -> None:
    assume(not contradictions(state))
    for computation in EVERY:
        computation.function(state)


batches = st.builds(
    KitchenState,
    milk_g=st.floats(100, 2000),
    flour_g=st.floats(10, 500),
    flour_measured=st.sampled_from(["weighed", "spooned", "dipped", "sifted-first"]),
    simmer_min=st.floats(0, 10),
    cook_min=st.floats(0, 10),
    flour_added_g=st.floats(0, 30),
    milk_added_g=st.floats(0, 30),
    cooked_more_min=st.floats(0, 5),
)


@given(batches, st.floats(0.1, 50))
def test_more_flour_never_lowers_the_share(state: KitchenState, more_g: float) -> None:
    assert state.flour_g is not None
    before = reading("starch-share", state)
    assert reading("starch-share", replace(state, flour_g=state.flour_g + more_g)) >= before
    added = replace(state, flour_added_g=state.flour_added_g + more_g)
    assert reading("starch-share", added) >= before


@given(batches, st.floats(0.1, 50))
def test_more_milk_never_raises_the_share(state: KitchenState, more_g: float) -> None:
    assert state.milk_g is not None
    before = reading("starch-share", state)
    assert reading("starch-share", replace(state, milk_g=state.milk_g + more_g)) <= before
    added = replace(state, milk_added_g=state.milk_added_g + more_g)
    assert reading("starch-share", added) <= before


@given(batches, st.floats(0.1, 5))
def test_more_minutes_never_lower_the_share(state: KitchenState, more_min: float) -> None:
    before = reading("starch-share", state)
    assert state.simmer_min is not None
    assert state.cook_min is not None
    for longer in (
        replace(state, simmer_min=state.simmer_min + more_min),
        replace(state, cook_min=state.cook_min + more_min),
        replace(state, cooked_more_min=state.cooked_more_min + more_min),
    ):
        assert reading("starch-share", longer) >= before


@given(batches)
def test_the_paste_of_a_state_closes_its_mass_balance(state: KitchenState) -> None:
    paste = paste_now(state)
    assert paste is not None
    assert state.milk_g is not None
    milk = state.milk_g + state.milk_added_g
    flour = reading("flour-really-used", state) + state.flour_added_g
    dry = (1 - 0.8813) * milk + (1 - 0.1192) * flour + 0.008 * state.milk_g
    assert paste.total_g == pytest.approx(dry + paste.water_g, abs=1e-6)
