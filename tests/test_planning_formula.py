"""The formula: portions, scaling, height, cups, targets, how much to have on hand."""

import pytest
from fluids import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st
from iapws.iapws97 import _TSat_P
from scipy.stats import beta

from diagnose.kitchen.slab import slab
from diagnose.planning.cups import flour_by_cup, way_alone_moves_g
from diagnose.planning.elevation import flour_at_height
from diagnose.planning.formula import (
    HOUSE,
    PORTIONS,
    Amounts,
    formula_for,
    formula_scaled,
    pieces_wanted,
    portion_called,
)
from diagnose.planning.spare import batches_on_hand, chance_lost_from
from diagnose.planning.targets import targets


def test_the_house_batch_weighs_what_it_should() -> None:
    """USDA SR27 and mass balance: 655 g finished, 642 g pressed with 68 g driven off."""
    assert HOUSE.finished_g == pytest.approx(655, abs=0.1)
    assert HOUSE.pressed_g == pytest.approx(642, abs=0.2)


def test_salt_of_the_house_batch() -> None:
    """0.85 % added and from the cheese, and 0.08 from the milk's own sodium (USDA SR27); 0.005."""
    assert HOUSE.salt_percent == pytest.approx(0.85 + 0.08, abs=0.01)


def test_portions_in_pieces() -> None:
    """ "2 pieces a one-bite starter, 6 to 8 a small plate" (common practice, no source)."""
    assert pieces_wanted(80, "starter").high == 160
    assert pieces_wanted(12, "small-plate").say() == "72 to 96 pieces"
    assert PORTIONS["plate"].label == "house rule"
    assert pieces_wanted(10, "plate").low == 120


@pytest.mark.parametrize(
    ("guests", "portion", "mm"),
    [(12, "small-plate", 15), (80, "starter", 15), (20, "small-plate", 15), (8, "small-plate", 20),
     (40, "small-plate", 12), (30, "plate", 15)],
)  # fmt: skip
def test_the_least_batch_that_feeds_them(guests: int, portion: str, mm: float) -> None:
    formula = formula_for(guests, portion, mm)
    wanted = pieces_wanted(guests, portion)
    assert formula.wanted == wanted
    assert formula.slab.pieces >= wanted.high
    assert slab(formula.slab.area_cm2 * mm / 10 * 1.045 - 1, mm).pieces < wanted.high


def test_one_batch_feeds_what_practice_says() -> None:
    """160 cubes of 15 mm: 80 starters or 20 to 26 small plates (derived on practice)."""
    assert 0.9 < formula_for(80, "starter").factor <= 1
    assert formula_for(20, "small-plate").factor == formula_for(80, "starter").factor
    assert formula_for(27, "small-plate").factor > 1


def test_as_it_is_weighed() -> None:
    lines = {line.of: line for line in formula_scaled(1).weighed()}
    assert lines["flour"].about == "⅔ cup and 2 tablespoons"
    assert lines["yolks"].say == "2 yolks"
    assert lines["cheese"].about == "1.6 oz"
    small = {line.of: line for line in formula_scaled(1).weighed(yolk_g=12)}
    assert small["yolks"].say == "3 yolks"
    one = {line.of: line for line in formula_scaled(0.3).weighed()}
    assert one["yolks"].say == "1 yolk"


@given(st.floats(0.2, 20), st.floats(0.2, 4))
def test_scaling_is_linear_and_the_mass_closes(factor: float, again: float) -> None:
    one = HOUSE.scaled(factor)
    assert one.scaled(again).finished_g == pytest.approx(again * factor * HOUSE.finished_g)
    assert one.salt_percent == pytest.approx(HOUSE.salt_percent)
    raw = one.milk_g + one.flour_g + one.salt_g + one.yolks * 17 + one.cheese_g + one.butter_g
    assert one.finished_g + one.driven_off_g == pytest.approx(raw)


@given(st.integers(1, 200), st.integers(0, 200), st.sampled_from(sorted(PORTIONS)))
def test_more_guests_never_need_less(guests: int, more: int, portion: str) -> None:
    few, many = formula_for(guests, portion), formula_for(guests + more, portion)
    assert many.amounts.milk_g >= few.amounts.milk_g
    assert few.slab.pieces >= pieces_wanted(guests, portion).high


@given(st.floats(1, 20))
def test_what_is_weighed_is_what_was_worked_out(factor: float) -> None:
    formula = formula_scaled(factor)
    exact = formula.amounts
    rounded = {line.of: line.grams for line in formula.weighed()}
    assert rounded["milk"] == pytest.approx(exact.milk_g, abs=2.5 + 1e-6)
    assert rounded["flour"] == pytest.approx(exact.flour_g, abs=0.5 + 1e-6)
    assert rounded["salt"] == pytest.approx(exact.salt_g, abs=0.25 + 1e-6)


# --- height


def test_practice_and_model_side_by_side() -> None:
    """About 2 Tbsp more for 2 cups of milk at 7,000 ft (common practice, no source) against 0 to
    0.35 Tbsp by the water balance (derived)."""
    high = flour_at_height(HOUSE, 2134)
    assert high.practice is not None
    assert high.practice.more_flour_g.central == pytest.approx(15.6, abs=0.1)
    assert "stiff" in high.practice.classes
    assert high.model.more_flour_g.low == 0
    assert high.model.more_flour_g.high == pytest.approx(2.7, abs=0.1)
    assert high.model.classes == ("panada",)
    assert (high.chosen, high.flour_g) == ("book", 100)
    assert "common practice, no source" in high.say
    assert "by the spoon" in high.say


def test_low_down_the_practice_is_not_mentioned() -> None:
    low = flour_at_height(HOUSE, 6)
    assert low.practice is None
    assert low.on_hand_g == 0
    assert "practice" not in low.say


def test_no_flour_is_printed_for_other_heights() -> None:
    """One point is not a line: the practice is the same wherever it is offered, or refused."""
    told = {
        height: flour_at_height(HOUSE, height).practice
        for height in (900.0, 1500.0, 2310.0, 3400.0)
    }
    assert len({side.more_flour_g.central for side in told.values() if side is not None}) == 1
    with pytest.raises(ValueError, match=r"stated for 7,000 ft .* add by the spoon"):
        flour_at_height(HOUSE, 1500, "practice")
    assert flour_at_height(HOUSE, 2310, "practice").flour_g == pytest.approx(115.6, abs=0.1)
    with pytest.raises(ValueError, match="Accepted: book, practice"):
        flour_at_height(HOUSE, 2310, "model")


@pytest.mark.parametrize("elevation_m", [0, 640, 1524, 2310, 3000])
def test_the_boil_is_that_of_the_libraries(elevation_m: float) -> None:
    """US Standard Atmosphere 1976 by fluids, saturation by iapws; 0.02 °C."""
    peer = _TSat_P(ATMOSPHERE_1976(elevation_m).P / 1e6) - 273.15
    assert flour_at_height(HOUSE, elevation_m).boil_c == pytest.approx(peer, abs=0.02)
    assert targets(HOUSE, elevation_m).boil_c == pytest.approx(peer, abs=0.02)


def test_an_elevation_that_was_not_told_gives_no_boil() -> None:
    assert targets(HOUSE).boil_c is None
    assert targets(HOUSE).boil_say == ""


# --- cups


@pytest.mark.parametrize(
    ("way", "grams", "paste"),
    [("sifted-first", 90, "panada"), ("spooned", 96, "panada"), ("dipped", 114, "stiff")],
)
def test_the_way_of_measuring_alone(way: str, grams: float, paste: str) -> None:
    """R. L. Beranbaum, *The Cake Bible*: 113, 120, 142 g a cup; 0.5 g."""
    found = {one.way: one for one in flour_by_cup(HOUSE)}[way]
    assert found.if_not_told_g == pytest.approx(grams, abs=0.5)
    assert found.paste == paste
    assert found.cups * found.cup_g == pytest.approx(100)


def test_the_way_moves_more_flour_than_the_altitude_practice() -> None:
    moved = way_alone_moves_g(100)
    practice = flour_at_height(HOUSE, 2134).practice
    assert practice is not None
    assert moved.width > practice.more_flour_g.central
    assert moved.rounded(1).say() == "90 to 114 g"


def test_cups_to_fill_for_the_house_flour() -> None:
    """0.88, 0.83 and 0.70 cups; the words within 13 %."""
    assert [round(one.cups, 2) for one in flour_by_cup(HOUSE)] == [0.88, 0.83, 0.70]
    assert all("cup" in one.fill for one in flour_by_cup(HOUSE))


# --- targets and spare


def test_targets_of_the_house_batch_in_a_high_kitchen() -> None:
    """Mass balance c 15.49, 529 to 559 g in the pan; 85 °C for 3 min (house rule)."""
    found = targets(HOUSE, 2310)
    assert found.share == pytest.approx(15.49, abs=0.01)
    assert found.paste == "panada"
    assert (found.pan_holds_g.low, found.pan_holds_g.high) == pytest.approx((529, 559))
    assert (found.hotter_than_c, found.for_min) == (85, 3)
    assert (found.simmer.say(), found.beat.say()) == ("5 to 7 min", "5 to 8 min")
    assert targets(HOUSE, 6).beat.say() == "4 to 5 min"


@given(st.floats(0, 0.9), st.floats(0.5, 0.999))
def test_so_many_batches_are_sure_enough_and_no_more(lost: float, sure: float) -> None:
    number = batches_on_hand(lost, sure)
    assert 1 - lost**number >= sure - 1e-6
    assert number == 1 or 1 - lost ** (number - 1) < sure + 1e-6


@given(st.integers(0, 200), st.integers(0, 200))
def test_the_chance_of_losing_a_batch_is_the_mean_of_a_beta_distribution(
    lost: int, served: int
) -> None:
    """scipy's beta distribution, the house rule as one batch lost of five; never above 0.9."""
    mean = float(beta.mean(1 + lost, 4 + served))
    found = chance_lost_from(lost, lost + served)
    assert found == pytest.approx(min(0.9, mean))
    assert chance_lost_from(lost, lost + served + 1) <= found
    assert chance_lost_from(lost + 1, lost + served + 1) >= found


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: portion_called("banquet"), "Accepted: starter, small-plate, plate"),
        (lambda: pieces_wanted(0, "starter"), "1 to 500 guests"),
        (lambda: formula_for(12, "plate", 30), "10 to 25 mm"),
        (lambda: formula_scaled(0), "more than zero"),
        (lambda: formula_scaled(0.05), "50 to 50,000 g are accepted"),
        (lambda: formula_scaled(200), "50 to 50,000 g are accepted"),
        (lambda: Amounts(500, 100, -1, 2, 45, 40), "zero or more"),
        (lambda: formula_scaled(1).weighed(yolk_g=40), "12 to 25 g"),
        (lambda: flour_at_height(HOUSE, 9000), "-430 to 3,500 m"),
        (lambda: way_alone_moves_g(0), "more than zero"),
        (lambda: batches_on_hand(1.0), "0 to 0.9"),
        (lambda: chance_lost_from(3, 2), "3 batches cannot be lost of 2"),
        (lambda: chance_lost_from(-1, 2), "zero or more"),
    ],
)
def test_refusals_say_what_would_be_accepted(call: object, sentence: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=sentence):
        call()
