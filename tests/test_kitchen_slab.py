"""The slab: mass, area, moulds, pieces, portions."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from diagnose.kitchen.composition import rows
from diagnose.kitchen.later_stages import dough_in_all_g, slab_side_mm
from diagnose.kitchen.slab import (
    MOULDS,
    area_cm2,
    dough_g,
    in_mould_mm,
    pressed_g,
    slab,
    slab_g_for_pieces,
    thickness_mm,
    whole_squares,
)
from diagnose.kitchen.state import KitchenState


def test_the_house_slab() -> None:
    """655 g less 2 % is 642 g; at 1.045 g/cm3, 614 cm3 (derived)."""
    pressed = pressed_g(dough_g(500, 100, 4, 34, 45, 40, 68))
    assert pressed == pytest.approx(642, abs=0.2)
    assert pressed / 1.045 == pytest.approx(614, abs=1)


@pytest.mark.parametrize(
    ("mm", "area", "side", "pieces", "each_g", "starters", "plates"),
    [
        (12, 512, 22.6, 320, 1.8, 160, "40 to 53 plates"),
        (15, 410, 20.2, 160, 3.5, 80, "20 to 26 plates"),
        (20, 307, 17.5, 64, 8.4, 32, "8 to 10 plates"),
    ],
)
def test_area_pieces_and_portions(
    mm: float, area: float, side: float, pieces: int, each_g: float, starters: int, plates: str
) -> None:
    """The house table (derived). Portions: "2 a starter, 6 to 8 a small plate" (common practice,
    no source)."""
    found = slab(pressed_g(655), mm)
    assert found.area_cm2 == pytest.approx(area, abs=1)
    assert found.square_edge_cm == pytest.approx(side, abs=0.1)
    assert found.pieces == pieces
    assert found.piece_g == pytest.approx(each_g, abs=0.05)
    assert (found.starters, found.small_plates.say()) == (starters, plates)


@pytest.mark.parametrize(
    ("mould", "mm"),
    [
        ("square-8-in", 14.9),
        ("square-9-in", 11.8),
        ("loaf-9-5-in", 21.2),
        ("square-20-cm", 15.4),
        ("round-20-cm", 19.6),
    ],
)
def test_ready_made_moulds(mould: str, mm: float) -> None:
    """The house slab in them (derived); 0.1 mm."""
    assert in_mould_mm(642, mould) == pytest.approx(mm, abs=0.1)
    assert MOULDS[mould].say


def test_a_denser_slab_without_air_covers_as_much() -> None:
    """663 g at 1.078 g/ml, nothing left in the pan, is 410 cm2 at 15 mm too; 1 cm2."""
    assert pytest.approx(area_cm2(642, 15), abs=1) == 663 / 1.078 / 1.5


def test_a_square_of_20_cm_gives_13_by_13_cubes() -> None:
    """Geometry: 169 cubes of 15 mm."""
    assert whole_squares(200, 200, 15) == (13, 13)


def test_the_slab_of_a_batch_by_the_names_a_book_may_use() -> None:
    house = KitchenState(milk_g=500, flour_g=100, salt_g=4, yolks=2, cheese_g=45, butter_g=40)
    assert dough_in_all_g(house) == pytest.approx(655, abs=0.1)
    assert slab_side_mm(house) is None
    told = KitchenState(
        milk_g=500, flour_g=100, salt_g=4, yolks=2, cheese_g=45, butter_g=40, slab_mm=15
    )
    assert slab_side_mm(told) == pytest.approx(202, abs=1)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: slab(642, 9), "10 to 25 mm"),
        (lambda: slab(642, 15, 5), "8 to 60 mm"),
        (lambda: slab(0, 15), "more than zero"),
        (lambda: slab(2, 15), "too little for one piece"),
        (lambda: in_mould_mm(642, "bucket"), "Accepted: square-8-in"),
        (lambda: dough_g(10, 0, 0, 0, 0, 0, 20), "more than zero"),
        (lambda: dough_g(-1, 0, 0, 0, 0, 0, 0), "zero or more"),
        (lambda: slab_g_for_pieces(0, 15), "1 to 100,000 pieces"),
        (lambda: slab_g_for_pieces(80, 30), "10 to 25 mm"),
        (lambda: slab_g_for_pieces(80, 15, 70), "8 to 60 mm"),
    ],
)
def test_refusals_say_what_would_be_accepted(call: object, sentence: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=sentence):
        call()


masses = st.floats(100, 20_000)
thicknesses = st.floats(10, 25)


@given(masses, thicknesses)
def test_area_times_thickness_is_the_mass_again(mass: float, mm: float) -> None:
    found = slab(mass, mm)
    assert found.area_cm2 * mm / 10 * 1.045 == pytest.approx(mass)
    assert thickness_mm(mass, found.area_cm2) == pytest.approx(mm)
    assert found.square_edge_cm**2 == pytest.approx(found.area_cm2)


@given(masses, thicknesses)
def test_the_pieces_never_weigh_more_than_the_slab(mass: float, mm: float) -> None:
    found = slab(mass, mm)
    assert 0 < found.pieces <= found.whole_pieces
    assert found.whole_pieces * found.piece_g <= mass + 1e-6


@given(masses, thicknesses, st.floats(1, 5))
def test_more_dough_never_gives_fewer_pieces(mass: float, mm: float, more: float) -> None:
    assert slab(mass * more, mm).pieces >= slab(mass, mm).pieces


@given(masses, thicknesses, st.floats(1, 2))
def test_thicker_cubes_are_never_more(mass: float, mm: float, more: float) -> None:
    assume(mm * more <= 25)
    assert slab(mass, mm * more).pieces <= slab(mass, mm).pieces


@given(masses, thicknesses, st.floats(1, 20))
def test_area_is_linear_in_the_mass(mass: float, mm: float, factor: float) -> None:
    assert area_cm2(mass * factor, mm) == pytest.approx(factor * area_cm2(mass, mm))


@given(st.integers(1, 600), thicknesses)
def test_the_least_dough_for_so_many_pieces_gives_them(pieces: int, mm: float) -> None:
    assert slab(slab_g_for_pieces(pieces, mm), mm).pieces >= pieces


@given(st.lists(st.floats(0, 500), min_size=6, max_size=6), st.floats(0, 1))
def test_the_mass_of_the_dough_closes(parts: list[float], off: float) -> None:
    total = sum(parts)
    assume(total > 1)
    driven_off = off * 0.5 * total
    milk, flour, salt, yolk, cheese, butter = parts
    found = dough_g(milk, flour, salt, yolk, cheese, butter, driven_off)
    assert found + driven_off == pytest.approx(total)


def test_the_yolk_of_the_sums_is_the_one_of_the_table() -> None:
    """USDA SR27 01125: 17 g a large yolk."""
    assert any(grams == 17 for grams, _ in rows()["01125"].measures)
