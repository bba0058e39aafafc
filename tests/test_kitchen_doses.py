"""Whole spoons and minutes: sizes, ranges, wording, proportion."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.kitchen.balance import SOFT_EDGE, TARGET_SHARE
from diagnose.kitchen.doses import (
    Dose,
    altitude_spoonful,
    flour_by_the_spoon,
    milk_to_loosen,
    milk_to_re_emulsify,
    minutes_to_cool,
    minutes_to_drive_off,
    minutes_to_the_gate,
    one_spoon_of_flour,
    slurry_flour,
    slurry_milk,
)
from diagnose.kitchen.paste import Paste, paste_now
from diagnose.kitchen.state import KitchenState

HOUSE = KitchenState(milk_g=500, flour_g=100, flour_measured="weighed", salt_g=4)


def dose(found: Dose | None) -> Dose:
    assert found is not None
    return found


def paste(state: KitchenState) -> Paste:
    found = paste_now(state)
    assert found is not None
    return found


def times(state: KitchenState, factor: int) -> KitchenState:
    assert state.milk_g is not None
    assert state.flour_g is not None
    return replace(
        state,
        milk_g=state.milk_g * factor,
        flour_g=state.flour_g * factor,
        salt_g=None if state.salt_g is None else state.salt_g * factor,
        pan_contents_g=None if state.pan_contents_g is None else state.pan_contents_g * factor,
        flour_added_g=state.flour_added_g * factor,
        milk_added_g=state.milk_added_g * factor,
    )


@pytest.mark.parametrize(
    ("flour_g", "measured", "spoons"),
    [
        (92.19, "weighed", 1),
        (84.38, "weighed", 2),
        (85, "weighed", 2),
        (100, "sifted-first", 1),
        (100, "spooned", 1),
        (70, "weighed", 4),
    ],
)
def test_flour_by_the_spoon_for_a_short_batch(flour_g: float, measured: str, spoons: int) -> None:
    """Mass balance to c 15.5 in whole tablespoons of 7.81 g."""
    found = dose(flour_by_the_spoon(replace(HOUSE, flour_g=flour_g, flour_measured=measured)))
    assert (found.of, found.unit, found.count) == ("flour", "tablespoon", spoons)
    assert found.grams == pytest.approx(spoons * 7.8125)
    assert found.low <= found.count <= found.high


def test_the_note_reads_as_a_cook_works() -> None:
    found = dose(flour_by_the_spoon(replace(HOUSE, flour_g=84.38)))
    assert found.say == "2 tablespoons"
    assert found.note == (
        "Start with 1 tablespoon, beat smooth, cook 1 minute, then look. "
        "Expect to need 2 (between 1 and 3)."
    )


def test_the_range_widens_when_the_flour_was_not_weighed() -> None:
    """1 SD 0.7 weighed, 0.5 with the pan, 1.2 and 1.5 in cups (calibrated house figures)."""
    weighed = dose(flour_by_the_spoon(replace(HOUSE, flour_g=77)))
    guessed = dose(flour_by_the_spoon(replace(HOUSE, flour_g=77, flour_measured="unknown")))
    assert (weighed.low, weighed.count, weighed.high) == (2, 3, 4)
    assert (guessed.low, guessed.count, guessed.high) == (1, 3, 5)


def test_weighed_flour_starts_one_spoon_short_of_the_answer_and_cups_start_with_one() -> None:
    """Simulated batches (our own model): one spoon less, then look, does best."""
    weighed = replace(HOUSE, flour_g=77)
    assert dose(flour_by_the_spoon(weighed)).start_with == 2
    assert dose(flour_by_the_spoon(weighed)).start_say == "2 tablespoons"
    assert dose(flour_by_the_spoon(weighed)).start_grams == pytest.approx(2 * 7.8125)
    assert dose(flour_by_the_spoon(replace(weighed, flour_measured="unknown"))).start_with == 1


def test_a_batch_far_off_asks_how_it_was_measured_and_starts_small() -> None:
    found = dose(flour_by_the_spoon(replace(HOUSE, flour_g=55)))
    assert found.count > 4
    assert found.start_with == 1
    assert found.note.startswith("This batch is far off: ask again how the flour")


def test_a_paste_in_class_gets_no_flour_unless_the_look_asks() -> None:
    assert flour_by_the_spoon(HOUSE, look_asks=False) is None
    asked = dose(flour_by_the_spoon(HOUSE))
    assert asked.count == 1
    assert asked.note.startswith("By the amounts told it should hold already.")
    stiff = dose(flour_by_the_spoon(replace(HOUSE, flour_measured="dipped")))
    assert stiff.count == 1
    assert stiff.note.startswith("By the amounts told this paste should be stiff")


batches = st.builds(
    KitchenState,
    milk_g=st.floats(100, 2000),
    flour_g=st.floats(10, 500),
    flour_measured=st.sampled_from(["weighed", "spooned", "dipped", "sifted-first", "unknown"]),
    simmer_min=st.none() | st.floats(0, 12),
    cook_min=st.none() | st.floats(0, 12),
)


@given(batches)
def test_flour_without_the_look_is_only_for_paste_softer_than_the_class(
    state: KitchenState,
) -> None:
    unasked = flour_by_the_spoon(state, look_asks=False)
    assert (unasked is None) == (paste(state).share > SOFT_EDGE)


@pytest.mark.parametrize("factor", [2, 3, 5])
@pytest.mark.parametrize("measured", ["weighed", "sifted-first", "unknown", "dipped"])
@given(milk_g=st.sampled_from([500.0, 1000.0, 1500.0]), ratio=st.floats(0.1, 0.3))
def test_doses_of_whole_house_batches_scale_with_the_batch(
    factor: int, measured: str, milk_g: float, ratio: float
) -> None:
    state = KitchenState(milk_g=milk_g, flour_g=ratio * milk_g, flour_measured=measured)
    for amount in (flour_by_the_spoon, milk_to_loosen, slurry_flour, slurry_milk):
        small, large = dose(amount(state)), dose(amount(times(state, factor)))
        assert large.count == factor * small.count
        assert large.low == factor * small.low
        assert large.high == factor * small.high
        assert large.start_with == factor * small.start_with
        assert large.grams == pytest.approx(factor * small.grams)
    assert minutes_to_drive_off(times(state, factor)) == minutes_to_drive_off(state)


@given(milk_g=st.floats(125, 374), ratio=st.floats(0.1, 0.3))
def test_a_small_batch_in_teaspoons_triples_to_the_same_grams(milk_g: float, ratio: float) -> None:
    state = KitchenState(milk_g=milk_g, flour_g=ratio * milk_g)
    small, large = dose(flour_by_the_spoon(state)), dose(flour_by_the_spoon(times(state, 3)))
    assert (small.unit, large.unit) == ("teaspoon", "tablespoon")
    assert large.grams == pytest.approx(3 * small.grams)


def test_half_a_house_batch_counts_in_teaspoons() -> None:
    found = dose(flour_by_the_spoon(KitchenState(milk_g=250, flour_g=38.5)))
    assert (found.count, found.unit, found.start_say) == (5, "teaspoon", "2 teaspoons")
    assert found.grams == pytest.approx(5 * 7.8125 / 3)


@given(batches)
def test_the_expected_flour_brings_a_wet_batch_to_the_target_within_a_rounding(
    state: KitchenState,
) -> None:
    found = dose(flour_by_the_spoon(state))
    before = paste(state).share
    after = paste(replace(state, flour_added_g=found.grams)).share
    assert after > before
    if state.milk_g is not None and state.milk_g >= 375 and 4 < before < SOFT_EDGE:
        assert after == pytest.approx(TARGET_SHARE, abs=1.2)


@given(batches)
def test_tries_already_made_are_counted_in(state: KitchenState) -> None:
    first = dose(flour_by_the_spoon(state))
    second = dose(flour_by_the_spoon(replace(state, flour_added_g=first.grams)))
    assert second.count <= first.count


def test_milk_to_loosen_dipped_flour() -> None:
    """Mass balance: about 4 Tbsp for the house batch, one at a time."""
    found = dose(milk_to_loosen(replace(HOUSE, flour_measured="dipped")))
    assert (found.of, found.count, found.start_with) == ("milk", 4, 1)
    assert found.grams == pytest.approx(61)
    assert (found.low, found.high) == (1, 7)


def test_milk_to_re_emulsify_is_15_g_for_500_g_and_three_times_at_most() -> None:
    found = dose(milk_to_re_emulsify(HOUSE))
    assert found.grams == pytest.approx(15, abs=0.3)
    assert found.high == 3


def test_a_slurry_costs_about_half_as_much_again() -> None:
    """Mass balance: flour 15 % short wants 3 Tbsp flour in 2 Tbsp milk."""
    short = replace(HOUSE, flour_g=85)
    assert dose(slurry_flour(short)).count == 3
    assert dose(slurry_milk(short)).count == 2


def test_the_altitude_spoonful_is_practice_one_step_at_a_time_and_never_interpolated() -> None:
    """About 2 Tbsp per 2 cups of milk at 7,000 ft (common practice, no source)."""
    found = [dose(altitude_spoonful(HOUSE, height)) for height in (900, 1500, 2310, 3500)]
    assert len(set(found)) == 1
    assert (found[0].count, found[0].high) == (1, 2)
    assert "common practice, no source" in found[0].note
    assert altitude_spoonful(HOUSE, 640) is None
    assert altitude_spoonful(HOUSE, None) is None
    assert altitude_spoonful(replace(HOUSE, flour_added_g=2 * 7.8125), 2310) is None
    assert dose(altitude_spoonful(replace(HOUSE, flour_added_g=7.8125), 2310)).count == 1


def test_without_the_flour_a_single_spoon_is_still_known() -> None:
    assert flour_by_the_spoon(KitchenState(milk_g=500)) is None
    assert dose(one_spoon_of_flour(KitchenState(milk_g=1500))).say == "3 tablespoons"
    assert one_spoon_of_flour(KitchenState()) is None


@pytest.mark.parametrize(("flour_g", "minutes"), [(92.19, 6), (84.38, 12), (85, 12)])
def test_minutes_to_drive_off_are_to_the_nearest_two(flour_g: float, minutes: int) -> None:
    """Mass balance at 5 g/min (calibrated): 29 g (6), 58 g (12), 56 g (11)."""
    found = minutes_to_drive_off(replace(HOUSE, flour_g=flour_g))
    assert found is not None
    assert found.value == minutes
    assert found.low <= found.value <= found.high
    assert found.low % 2 == found.high % 2 == 0


def test_minutes_to_the_gate_are_never_fewer_than_the_gate() -> None:
    for height, high in ((None, 4), (6, 4), (2310, 5)):
        found = minutes_to_the_gate(height)
        assert (found.value, found.low, found.high) == (3, 3, high)


def test_cooling_is_a_range_to_be_measured() -> None:
    assert minutes_to_cool().say == "2 to 8 minutes"
    assert "measure" in minutes_to_cool().note
