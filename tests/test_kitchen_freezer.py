"""The freezer as a short cut: against the full solution, ice included."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from conduction import Face, Period, Wall
from diagnose.kitchen.freezer import after_freezer_c, freezer_most_min, freezer_shortcut
from diagnose.kitchen.lumped import CONDUCTIVITY_W_MK, DENSITY_KG_M3, SPECIFIC_HEAT_J_KGK


def wall(thickness_mm: float) -> Wall:
    return Wall(thickness_mm, CONDUCTIVITY_W_MK, DENSITY_KG_M3 * SPECIFIC_HEAT_J_KGK)


def periods(freezer_min: float, factor: float = 1.0) -> list[Period]:
    """Counter, freezer at -18 °C, refrigerator; every coefficient times ``factor``."""
    return [
        Period(15, Face(14 * factor, 22), Face(9 * factor, 22)),
        Period(freezer_min, Face(10 * factor, -18), Face(10 * factor, -18)),
        Period(5000, Face(9 * factor, 4), Face(9 * factor, 4)),
    ]


@pytest.mark.parametrize(("mm", "most", "in_all"), [(12, 30, 45), (15, 40, 55), (20, 50, 95)])
def test_the_longest_time_and_the_time_in_all(mm: float, most: int, in_all: float) -> None:
    """Derived; 5 %. The full solution (scipy) within 5 % too."""
    found = freezer_shortcut(mm)
    assert found.most_min == most
    assert found.in_all.central == pytest.approx(in_all, rel=0.05)
    peer = wall(mm).minutes_to_c(60, periods(most), 10)
    assert found.in_all.central == pytest.approx(peer, rel=0.05)


@pytest.mark.parametrize("mm", [12, 13.5, 15, 17, 20])
def test_no_face_freezes_within_the_limit(mm: float) -> None:
    """Full solution (scipy), with coefficients 30 % higher: no face below 1 °C."""
    slab, (counter, freezer, _) = wall(mm), periods(freezer_most_min(mm), 1.3)
    profile = slab.after(slab.after(slab.uniform(60), counter), freezer)
    assert profile.min() > 1.0


def test_the_short_cut_never_says_one_number_only() -> None:
    assert freezer_shortcut(20).say == (
        "At most 50 min in the freezer, then the refrigerator: 10 °C (50 °F) after 60 to 120 min "
        "in all."
    )


def test_what_the_freezer_was_not_worked_out_for_is_refused() -> None:
    for mm in (11.0, 21.0):
        with pytest.raises(ValueError, match="12 to 20 mm"):
            freezer_shortcut(mm)
    with pytest.raises(ValueError, match="0 to 40 min"):
        after_freezer_c(15, 45)


@given(st.floats(12, 20), st.floats(0, 1))
def test_thicker_never_takes_less_time(mm: float, share: float) -> None:
    thicker = mm + share * (20 - mm)
    assert freezer_most_min(thicker) >= freezer_most_min(mm)
    assert after_freezer_c(thicker, 20) >= after_freezer_c(mm, 20) - 1e-9
