"""Amounts for a batch that is not quite the written one, against tables and practice."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.kitchen.doses_swaps import (
    butter_for_skim,
    cake_flour_extra,
    milk_to_free_the_spoon,
    salt_for_the_milk,
)
from diagnose.kitchen.state import KitchenState

HOUSE = KitchenState(milk_g=500, flour_g=100)


def test_cake_flour_wants_five_to_ten_grams_more_for_a_hundred() -> None:
    """Common practice, no source. A teaspoon of flour is 125 / 48 g (USDA SR27 20081)."""
    dose = cake_flour_extra(HOUSE)
    assert dose is not None
    teaspoon = 125 / 48
    assert dose.low * teaspoon == pytest.approx(5, abs=teaspoon / 2)
    assert dose.high * teaspoon == pytest.approx(10, abs=teaspoon / 2)
    assert 5 <= dose.grams <= 10


def test_a_stuck_spoon_is_freed_with_fifteen_to_thirty_grams_of_milk() -> None:
    """Common practice, no source. A tablespoon of milk is 244 / 16 g (USDA SR27 01077)."""
    dose = milk_to_free_the_spoon(HOUSE)
    assert dose is not None
    assert dose.start_grams == pytest.approx(15, abs=0.5)
    assert dose.high * 244 / 16 == pytest.approx(30, abs=1)


def test_skim_milk_is_given_a_quarter_of_the_fat_it_lacks() -> None:
    """500 g of whole milk hold 3.25 % fat, skim 0.08 % (USDA SR27 01077, 01085); butter 81.11 %
    (01145)."""
    lacks = 500 * (0.0325 - 0.0008) / 0.8111
    dose = butter_for_skim(HOUSE)
    assert dose is not None
    assert dose.grams == pytest.approx(lacks / 4, abs=1)


def test_salt_left_out_is_put_in_without_passing_the_house_amount() -> None:
    """6 g a teaspoon (USDA SR27 02047); 3.1 to 5.7 g is comfortable (common practice, no
    source)."""
    dose = salt_for_the_milk(HOUSE)
    assert dose is not None
    assert dose.grams <= 4
    assert dose.grams >= 3.0
    assert dose.high * 3 <= 5.7


@given(st.floats(min_value=50, max_value=5000), st.integers(min_value=2, max_value=6))
def test_more_milk_never_wants_less(milk_g: float, times: int) -> None:
    for dose in (milk_to_free_the_spoon, butter_for_skim, salt_for_the_milk):
        one, many = dose(KitchenState(milk_g=milk_g)), dose(KitchenState(milk_g=milk_g * times))
        assert one is not None
        assert many is not None
        assert many.grams >= one.grams
        assert one.low <= one.count <= one.high


def test_nothing_is_guessed_where_the_amounts_are_not_known() -> None:
    nothing = KitchenState()
    for dose in (cake_flour_extra, milk_to_free_the_spoon, butter_for_skim, salt_for_the_milk):
        assert dose(nothing) is None
