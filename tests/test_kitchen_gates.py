"""The pan on the scale, and the two gates before flour."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.kitchen.gate import before_more_flour, milk_before_flour
from diagnose.kitchen.panweight import pan_weight_check, should_hold_g


def test_what_the_pan_should_hold() -> None:
    """Mass balance and the house window of 45 to 75 g: 529 to 559 g, 536 by the usual path."""
    should = should_hold_g(500, 100, 4)
    assert (should.low, should.central, should.high) == pytest.approx((529, 536, 559), abs=0.1)
    double = should_hold_g(1000, 200, 8)
    assert (double.low, double.high) == pytest.approx((1058, 1118), abs=0.1)


@pytest.mark.parametrize(
    ("contents_g", "word", "classes"),
    [
        (536, "right", ("panada",)),
        (564, "right", ("panada",)),
        (524, "right", ("panada",)),
        (580, "too much left", ("soft, sticky", "panada")),
        (600, "too much left", ("soft, sticky", "panada")),
        (500, "too little left", ("panada", "stiff")),
        (450, "too little left", ("stiff",)),
        (640, "a misweigh", ("soupy for this dough", "soft, sticky")),
    ],
)
def test_the_check_of_the_weighed_house_batch(
    contents_g: float, word: str, classes: tuple[str, ...]
) -> None:
    """House window; the classes by the calibrated edges, each uncertain by one point."""
    found = pan_weight_check(500, 100, 4, contents_g)
    assert found.word == word
    assert found.driven_off_g == 604 - contents_g
    assert set(classes) <= set(found.classes)


def test_the_pan_is_printed_to_the_nearest_five() -> None:
    assert pan_weight_check(500, 100, 4, 537).say == (
        "The pan holds 535 g and should hold 530 to 560 g. That is right."
    )


def test_a_pan_lighter_than_the_dry_matter_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot have left this paste"):
        pan_weight_check(500, 100, 4, 140)
    with pytest.raises(ValueError, match="more than zero"):
        pan_weight_check(500, 100, 4, 0)


@given(st.floats(100, 3000), st.floats(0.15, 0.25), st.floats(0.0, 0.3), st.floats(0.5, 4))
def test_the_check_closes_and_scales(
    milk_g: float, ratio: float, loss: float, factor: float
) -> None:
    flour_g, salt_g = ratio * milk_g, 0.008 * milk_g
    contents = milk_g + flour_g + salt_g - loss * milk_g
    found = pan_weight_check(milk_g, flour_g, salt_g, contents)
    assert found.driven_off_g + contents == pytest.approx(milk_g + flour_g + salt_g)
    wider = should_hold_g(factor * milk_g, factor * flour_g, factor * salt_g)
    assert wider.low == pytest.approx(factor * found.should_hold_g.low)
    assert wider.central == pytest.approx(factor * found.should_hold_g.central)


# --- before more flour


@pytest.mark.parametrize(
    ("hottest_c", "minutes", "passed", "asks"),
    [
        (92, 5, True, 0),
        (85, 3, True, 0),
        (84, 20, False, 0),
        (92, 2, False, 0),
        (78, None, False, 0),
        (None, 1, False, 0),
        (92, None, None, 1),
        (None, 5, None, 1),
        (None, None, None, 2),
    ],
)
def test_the_gate_before_more_flour(
    hottest_c: float | None, minutes: float | None, passed: bool | None, asks: int
) -> None:
    """85 °C (185 °F), lazily bubbling, for 3 minutes (house rule)."""
    gate = before_more_flour(hottest_c, minutes)
    assert gate.passed is passed
    assert len(gate.ask) == asks
    assert gate.flour_may_go_in is (passed is True)


@given(
    st.none() | st.floats(-5, 110),
    st.none() | st.floats(0, 600),
)
def test_unless_the_gate_is_passed_the_advice_is_heat_and_never_flour(
    hottest_c: float | None, minutes: float | None
) -> None:
    gate = before_more_flour(hottest_c, minutes)
    if not gate.flour_may_go_in:
        assert gate.do.startswith("Cook on first")
        assert "flour" not in gate.do
        assert (
            "warm milk" in gate.do
        )  # the paste may come out stiff: milk is offered straight after


def test_milk_before_its_flour() -> None:
    """Flour dumped in boiling milk lumps; under 80 °C it thickens late, under 60 it floats (common
    practice, no source)."""
    assert milk_before_flour(92, 6, "lazy").passed is True
    assert milk_before_flour(None, None, "lazy").passed is True
    assert "off the boil" in milk_before_flour(98, 6, "rolling").do
    assert milk_before_flour(98, 6, "rolling").passed is False
    assert "80 °C" in milk_before_flour(75).do
    assert "floats" in milk_before_flour(50).do
    assert "simmered short" in milk_before_flour(92, 2).do
    unknown = milk_before_flour(None, 6)
    assert (unknown.passed, len(unknown.ask)) == (None, 2)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: before_more_flour(200, 3), "-5 to 110 °C"),
        (lambda: before_more_flour(90, -1), "0 to 600 min"),
        (lambda: milk_before_flour(130), "0 to 110 °C"),
        (lambda: milk_before_flour(90, 700), "0 to 600 min"),
        (lambda: milk_before_flour(90, 6, "wild"), "Accepted: none, lazy, rolling"),
    ],
)
def test_refusals_say_what_would_be_accepted(call: object, sentence: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=sentence):
        call()
