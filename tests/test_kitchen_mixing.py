"""Temperatures of mixtures, the yolk light, and the gate."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.kitchen.mixing import (
    EGG_RULE_C,
    after_cheese_and_butter_c,
    after_yolks_c,
    mixed_c,
    tempered_yolk_c,
    yolk_light,
    yolk_rate_ratio,
)
from diagnose.kitchen.starch import gate_passed, gelatinized_98_min


@pytest.mark.parametrize(("paste_c", "mixed"), [(75, 71.2), (85, 80.7)])
def test_two_cold_yolks_cool_the_house_paste_by_four_degrees(paste_c: float, mixed: float) -> None:
    """Mixing with Choi and Okos (1986) specific heats; 0.1 °C."""
    assert after_yolks_c(536, paste_c, 2) == pytest.approx(mixed, abs=0.1)


def test_544_g_of_paste_at_75_with_two_yolks_at_5() -> None:
    """Mixing with specific heats 3.5 and 3.1: 71.3 °C; 0.3."""
    assert after_yolks_c(544, 75, 2, yolk_start_c=5) == pytest.approx(71.3, abs=0.3)


@pytest.mark.parametrize(
    ("paste_g", "paste_c", "yolk_start_c", "mixed"),
    [
        (80, 85, 4, 62.9),
        (60, 80, 5, 54.9),
        (120, 80, 5, 65.0),
        (30, 60, 5, 32),
        (60, 90, 5, 62),
        (240, 90, 5, 81),
        (60, 80, 20, 60),
        (120, 90, 20, 76),
    ],
)
def test_paste_stirred_into_two_yolks(
    paste_g: float, paste_c: float, yolk_start_c: float, mixed: float
) -> None:
    """Mixing, specific heats rounded to 3.5 and 3.1 there; whole degrees there, so 0.7 °C."""
    tolerance = 0.3 if mixed != int(mixed) or mixed == 65 else 0.7
    found = tempered_yolk_c(paste_g, paste_c, 34, yolk_start_c)
    assert found == pytest.approx(mixed, abs=tolerance)


def test_three_spoons_temper_too_little() -> None:
    """Mixing: 48 g of paste at 85 °C brings two cold yolks to 54 °C only; 1 °C."""
    assert tempered_yolk_c(48, 85, 34) == pytest.approx(54, abs=1)


@pytest.mark.parametrize(("mass_c", "mixed"), [(75, 69), (70, 64)])
def test_cheese_and_butter_cool_the_mass_by_five_or_six(mass_c: float, mixed: float) -> None:
    """Mixing with Choi and Okos (1986) specific heats; 1 °C (start temperatures not stated)."""
    assert after_cheese_and_butter_c(570, mass_c, 45, 40) == pytest.approx(mixed, abs=1)


def test_yolk_sets_64_percent_faster_a_degree_near_65() -> None:
    """470 kJ/mol: Vega and Mercade-Prieto, Food Biophysics 6:152, 2011 (abstract); 0.5 %."""
    assert yolk_rate_ratio(65, 66) == pytest.approx(1.637, rel=0.005)
    with pytest.raises(ValueError, match="56 to 75 °C"):
        yolk_rate_ratio(70, 80)


def test_paste_at_72_keeps_two_cold_yolks_at_the_egg_rule() -> None:
    """FDA, *Key Temperatures for Egg Safety*: 68 °C (155 °F) where not served at once."""
    assert after_yolks_c(536, 72, 2) == pytest.approx(EGG_RULE_C, abs=0.5)


@pytest.mark.parametrize(
    ("paste_c", "light", "does"),
    [
        (95, "red", "Wait"),
        (85.1, "red", "Wait"),
        (85, "amber", "Temper"),
        (75.1, "amber", "Temper"),
        (75, "green", "Beat in, no hurry"),
        (72, "green", "Beat in, no hurry"),
        (71.9, "amber", "warm gently"),
    ],
)
def test_the_yolk_light_says_in_words_what_to_do(paste_c: float, light: str, does: str) -> None:
    found = yolk_light(paste_c)
    assert found.light == light
    assert does in found.do


def test_a_paste_temperature_out_of_range_has_no_light() -> None:
    with pytest.raises(ValueError, match="0 to 105 °C"):
        yolk_light(167)


def test_nothing_at_all_has_no_temperature() -> None:
    with pytest.raises(ValueError, match="more than zero"):
        mixed_c([])


@given(st.floats(50, 100), st.floats(1, 60), st.floats(10, 2000), st.floats(1, 200))
def test_a_mixture_lies_between_its_parts(
    paste_c: float, yolk_c: float, paste_g: float, yolk_g: float
) -> None:
    low, high = sorted((paste_c, yolk_c))
    found = tempered_yolk_c(paste_g, paste_c, yolk_g, yolk_c)
    assert low - 1e-9 <= found <= high + 1e-9


@pytest.mark.parametrize(
    ("paste_c", "minutes"), [(75, 17), (80, 8.4), (85, 4.36), (90, 2.3), (95, 1.2)]
)
def test_starch_takes_its_heat_as_stated(paste_c: float, minutes: float) -> None:
    """k = 2.8e18 exp(-139000/RT) per s, Zanoni et al. 1995 (read second-hand); 4 %, 0.5 % at 85."""
    tolerance = 0.005 if paste_c == 85 else 0.04
    assert gelatinized_98_min(paste_c) == pytest.approx(minutes, rel=tolerance)


def test_starch_kinetics_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="70 to 100 °C"):
        gelatinized_98_min(60)


@pytest.mark.parametrize(
    ("paste_c", "minutes", "passed"),
    [
        (92, 5, True),
        (85, 3, True),
        (84.9, 10, False),
        (78, None, False),
        (None, 1, False),
        (92, None, None),
        (None, 5, None),
        (None, None, None),
    ],
)
def test_the_gate_is_not_known_unless_what_is_known_settles_it(
    paste_c: float | None, minutes: float | None, passed: bool | None
) -> None:
    """85 °C for 3 minutes (house rule)."""
    assert gate_passed(paste_c, minutes) is passed
