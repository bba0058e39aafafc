"""The plate window."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.kitchen.plate import A_HOT_PLATE_BUYS, plate_window


@pytest.mark.parametrize(
    ("piece_c", "plate_c", "to_57", "to_50"),
    [(75, 20, 2, 4), (75, 60, 4, 7), (65, 20, 1, 2.5), (65, 60, 2.5, 5)],
)
def test_minutes_on_the_plate(piece_c: float, plate_c: float, to_57: float, to_50: float) -> None:
    """15 mm, mean (derived, 30 % either way)."""
    found = plate_window(piece_c, plate_c)
    assert (found.to_hot.central, found.to_warm.central) == (to_57, to_50)
    assert found.to_hot.high == pytest.approx(1.3 * to_57)
    assert found.to_warm.low == pytest.approx(0.7 * to_50)


def test_a_hot_plate_buys_about_three_minutes() -> None:
    bought = plate_window(75, 60).to_warm.central - plate_window(75, 20).to_warm.central
    assert bought == 3
    assert "about 3 minutes" in A_HOT_PLATE_BUYS


@pytest.mark.parametrize(
    ("piece_c", "plate_c", "sentence"),
    [(80, 40, "65 to 75 °C"), (60, 40, "65 to 75 °C"), (70, 90, "20 to 60 °C")],
)
def test_outside_what_was_worked_out_it_is_refused(
    piece_c: float, plate_c: float, sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        plate_window(piece_c, plate_c)


temperatures = st.floats(65, 75)
plates = st.floats(20, 60)


@given(temperatures, temperatures, plates, plates)
def test_a_hotter_plate_or_piece_never_shortens_the_window(
    one: float, other: float, plate: float, another: float
) -> None:
    cool, hot = sorted((one, other))
    cold, warm = sorted((plate, another))
    least, most = plate_window(cool, cold), plate_window(hot, warm)
    assert most.to_hot.central >= least.to_hot.central - 1e-9
    assert most.to_warm.central >= least.to_warm.central - 1e-9
    assert least.to_hot.central <= least.to_warm.central
