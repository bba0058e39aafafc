"""The yolks going in: waiting, the bowl, tempering, the egg rule."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.kitchen.mixing import after_yolks_c, tempered_yolk_c
from diagnose.kitchen.yolk import (
    EGG_RULES,
    HOLD_HIGH_C,
    HOLD_LOW_C,
    HOLD_SAY,
    OFF_HEAT_SAY,
    bowl_trick,
    bowl_wanted_g,
    egg_rule_met,
    minutes_off_the_heat,
    tempering,
    yolk_window,
)


@pytest.mark.parametrize(
    ("how", "to_75", "to_72"), [("still", 6, 7), ("stirred", 3, 3.5), ("beaten", 1.7, 2.0)]
)
def test_minutes_off_the_heat(how: str, to_75: float, to_72: float) -> None:
    """From 95 °C, 0.4 to 0.7 kg in a 20 cm steel pan (derived); 0.1 min."""
    assert minutes_off_the_heat(95, 75, how).central == pytest.approx(to_75, abs=0.1)
    assert minutes_off_the_heat(95, 72, how).central == pytest.approx(to_72, abs=0.1)


def test_what_is_printed_of_the_waiting_spans_all_ways() -> None:
    """A three-fold spread: "2 to 8 minutes; measure"."""
    central = [minutes_off_the_heat(95, 72, how).central for how in ("still", "beaten")]
    assert central[0] / central[1] > 3
    assert OFF_HEAT_SAY.startswith("2 to 8 minutes")
    assert all(2 <= minutes <= 8 for minutes in central)


@pytest.mark.parametrize(
    ("paste_c", "bowl_g", "made_of", "lands_at"),
    [
        (95, 900, "glass", 74),
        (95, 950, "ceramic", 73.5),
        (90, 950, "glass", 70),
        (95, 1300, "glass", 68),
        (95, 350, "steel", 89),
    ],
)
def test_the_bowl_trick(paste_c: float, bowl_g: float, made_of: str, lands_at: float) -> None:
    """536 g of paste, mixing (derived); 1 °C. The thin steel bowl is taken as 350 g."""
    assert bowl_trick(536, paste_c, bowl_g, made_of).after_c == pytest.approx(lands_at, abs=1)


def test_a_heavy_bowl_turns_the_light_and_a_thin_one_does_not() -> None:
    assert bowl_trick(536, 95, 950).light.light == "green"
    assert bowl_trick(536, 95, 350, "steel").light.light == "red"
    assert bowl_trick(536, 95, 1300).light.light == "amber"


def test_the_bowl_wanted_for_the_house_batch_is_about_one_kilogram() -> None:
    """0.9 to 1.0 kg (derived): that range lies inside what brings 95 °C to 72 to 75."""
    wanted = bowl_wanted_g(536, 95)
    assert wanted.low <= 900 <= 1000 <= wanted.high
    for grams in (wanted.low, wanted.central, wanted.high):
        assert bowl_trick(536, 95, grams).light.light == "green"


def test_tempering_with_four_to_six_spoons() -> None:
    """Mixing: 80 g at 85 °C bring two yolks to 63 °C, three spoons only to 54 (derived); 1 °C."""
    found = tempering(536, 85, 2)
    assert found.spoons.say() == "4 to 6 tbsp"
    assert found.in_the_bowl_c.central == pytest.approx(62.9, abs=0.2)
    assert 58 <= found.in_the_bowl_c.low <= 63
    assert found.all_together_c == pytest.approx(80.7, abs=0.1)


@pytest.mark.parametrize(
    ("paste_c", "grams", "mixed"), [(70, 60, 48), (80, 60, 55), (80, 120, 65), (85, 120, 69)]
)
def test_tempering_table(paste_c: float, grams: float, mixed: float) -> None:
    """34 g of yolk at 5 °C with specific heats 3.5 and 3.1 (derived); 0.7 °C, 1 between rows."""
    assert tempered_yolk_c(grams, paste_c, 34, 5) == pytest.approx(mixed, abs=1)


@pytest.mark.parametrize(
    ("paste_c", "light", "waits", "bowl", "tempers", "reached"),
    [
        (95, "red", True, True, False, True),
        (80, "amber", True, True, True, True),
        (75.5, "amber", True, False, True, True),
        (74, "green", False, False, False, True),
        (72, "green", False, False, False, True),
        (65, "amber", False, False, False, False),
    ],
)
def test_the_window_gives_what_helps_at_that_heat_and_nothing_else(
    paste_c: float, light: str, waits: bool, bowl: bool, tempers: bool, reached: bool
) -> None:
    """Bands 85/75/72 °C; paste at 72 °C ends at the FDA's 68 °C with two cold yolks (mixing)."""
    found = yolk_window(536, paste_c, 2)
    assert found.light.light == light
    assert (found.wait_say != "", found.bowl_g is not None) == (waits, bowl)
    assert (found.temper is not None, found.egg_rule_reached) == (tempers, reached)


def test_the_egg_rules() -> None:
    """FDA, *Key Temperatures for Egg Safety*: 155 °F 17 s, 145 °F 15 s; home advice 160 °F."""
    in_f = {
        name: (round(rule.at_least_c * 1.8 + 32), rule.seconds) for name, rule in EGG_RULES.items()
    }
    assert in_f["not-served-at-once"][1] == 17
    assert in_f["served-at-once"] == (145, 15)
    assert in_f["home"] == (160, None)
    assert egg_rule_met(68, 17)
    assert not egg_rule_met(67.9, 60)
    assert not egg_rule_met(70, 0, "home")
    assert "155 °F" in EGG_RULES["not-served-at-once"].say


def test_paste_at_76_to_82_lands_two_cold_yolks_in_the_optional_hold() -> None:
    """72 to 78 °C (house rule, untested); mixing."""
    for paste_c in (76.0, 79.0, 82.0):
        assert HOLD_LOW_C <= after_yolks_c(536, paste_c, 2) <= HOLD_HIGH_C
    assert "nobody has tested" in HOLD_SAY


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: minutes_off_the_heat(95, 75, "blown"), "Accepted: still, stirred, beaten"),
        (lambda: minutes_off_the_heat(95, 75, "still", 2000), "400 to 700 g"),
        (lambda: minutes_off_the_heat(75, 80), "68 to 75 °C"),
        (lambda: minutes_off_the_heat(60, 60), "68 to 105 °C"),
        (lambda: bowl_trick(536, 95, 900, "wood"), "Accepted: glass, ceramic, steel"),
        (lambda: bowl_trick(536, 95, 0), "more than zero"),
        (lambda: bowl_wanted_g(536, 74), "76 to 105 °C"),
        (lambda: tempering(536, 90, 2), "72 to 85 °C"),
        (lambda: tempering(80, 80, 2), "more than 96 g is accepted"),
        (lambda: yolk_window(536, 40, 2), "50 to 105 °C"),
        (lambda: egg_rule_met(70, 20, "raw"), "Accepted: not-served-at-once"),
    ],
)
def test_refusals_say_what_would_be_accepted(call: object, sentence: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=sentence):
        call()


@given(st.floats(72, 85), st.floats(0, 1), st.floats(200, 2000), st.floats(0.5, 4))
def test_a_hotter_paste_never_gives_a_cooler_mix(
    paste_c: float, share: float, paste_g: float, yolks: float
) -> None:
    if paste_g <= 48 * yolks:
        paste_g += 48 * yolks
    hotter = paste_c + share * (85 - paste_c)
    cool, warm = tempering(paste_g, paste_c, yolks), tempering(paste_g, hotter, yolks)
    assert warm.in_the_bowl_c.low >= cool.in_the_bowl_c.low - 1e-9
    assert warm.all_together_c >= cool.all_together_c - 1e-9
    assert (
        bowl_trick(paste_g, hotter, 900).after_c >= bowl_trick(paste_g, paste_c, 900).after_c - 1e-9
    )


@given(st.floats(76, 105), st.floats(68, 75), st.floats(0, 1))
def test_hotter_paste_never_cools_sooner(paste_c: float, target_c: float, share: float) -> None:
    hotter = paste_c + share * (105 - paste_c)
    later = minutes_off_the_heat(hotter, target_c)
    assert later.central >= minutes_off_the_heat(paste_c, target_c).central - 1e-9


@given(st.floats(100, 3000), st.floats(76, 105))
def test_a_batch_k_times_as_large_wants_a_bowl_k_times_as_heavy(
    paste_g: float, paste_c: float
) -> None:
    assert bowl_wanted_g(2 * paste_g, paste_c).high == pytest.approx(
        2 * bowl_wanted_g(paste_g, paste_c).high
    )
