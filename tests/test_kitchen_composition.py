"""The composition table and what the house batch is made of (USDA SR27)."""

import pytest

from diagnose.kitchen.composition import (
    ALL_PURPOSE_FLOUR,
    BUTTER_SALTED,
    BUTTER_UNSALTED,
    EGG_YOLK,
    HARD_CHEESE_TUB,
    HARD_CHEESE_WEDGE,
    STARCH_IN_FLOUR,
    TABLE_SALT,
    WATER_IN_FLOUR,
    WATER_IN_MILK,
    WHOLE_MILK,
    mixture,
    rows,
)

HOUSE = [
    (WHOLE_MILK, 500.0),
    (ALL_PURPOSE_FLOUR, 100.0),
    (TABLE_SALT, 4.0),
    (EGG_YOLK, 34.0),
    (HARD_CHEESE_WEDGE, 45.0),
    (BUTTER_UNSALTED, 40.0),
]


@pytest.mark.parametrize("ndb", rows())
def test_every_row_adds_up_to_a_hundred(ndb: str) -> None:
    """USDA SR27: water + protein + fat + ash + carbohydrate = 100 within 0.02."""
    assert rows()[ndb].sum_g == pytest.approx(100.0, abs=0.0201)


def test_the_table_holds_forty_rows_by_five_digit_numbers() -> None:
    assert len(rows()) == 40
    assert all(len(ndb) == 5 and ndb.isdecimal() for ndb in rows())


def test_the_constants_are_those_of_the_table() -> None:
    milk, flour = rows()[WHOLE_MILK], rows()[ALL_PURPOSE_FLOUR]
    assert milk.water_g == pytest.approx(100 * WATER_IN_MILK)
    assert flour.water_g == pytest.approx(100 * WATER_IN_FLOUR)


def test_starch_of_flour_lies_in_the_published_range() -> None:
    """0.80 g per g dry flour; cereal texts give 70 to 72 g per 100 g as is (both from memory)."""
    dry = 1 - WATER_IN_FLOUR
    assert pytest.approx(0.80 * dry, rel=0.03) == STARCH_IN_FLOUR
    assert 0.70 <= STARCH_IN_FLOUR <= 0.72


def test_the_raw_house_batch() -> None:
    """USDA SR27 sums: 723 g in all, paste 604 g with 452.58 g water; 0.05."""
    paste = mixture(HOUSE[:3])
    assert mixture(HOUSE).total_g == pytest.approx(723.0, abs=0.05)
    assert paste.total_g == pytest.approx(604.0, abs=0.05)
    assert paste.water_g == pytest.approx(452.58, abs=0.05)


def test_the_house_dough_with_60_g_driven_off() -> None:
    """USDA SR27 sums: 663 g, 64.96 % water, 10.61 % fat; 0.05."""
    dough = mixture(HOUSE, water_driven_off_g=60)
    assert dough.total_g == pytest.approx(663.0, abs=0.05)
    assert 100 * dough.water_g / dough.total_g == pytest.approx(64.96, abs=0.05)
    assert 100 * dough.fat_g / dough.total_g == pytest.approx(10.61, abs=0.05)


@pytest.mark.parametrize(
    ("cheese", "butter", "percent"),
    [
        (HARD_CHEESE_WEDGE, BUTTER_UNSALTED, 0.842),
        (HARD_CHEESE_TUB, BUTTER_UNSALTED, 0.916),
        (HARD_CHEESE_WEDGE, BUTTER_SALTED, 0.939),
    ],
)
def test_salt_of_the_dough_by_cheese_and_butter(cheese: str, butter: str, percent: float) -> None:
    """USDA SR27 sodium x 2.54 over 663 g; 0.005. Milk, flour and yolk are left out there."""
    salty = mixture([(cheese, 45.0), (butter, 40.0)])
    assert 100 * (4.0 + salty.sodium_as_salt_g) / 663 == pytest.approx(percent, abs=0.005)


def test_an_unknown_row_is_refused_with_the_rows_there_are() -> None:
    with pytest.raises(ValueError, match=r"no row 99999 .* 01077"):
        mixture([("99999", 1.0)])
