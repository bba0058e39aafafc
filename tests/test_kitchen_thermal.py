"""Thermal properties of the dough, the plane wall of the texts, and the full solution."""

from math import log, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97
from scipy.optimize import brentq

from conduction import Face, Period, Wall
from diagnose.kitchen.lumped import CONDUCTIVITY_W_MK, DENSITY_KG_M3, SPECIFIC_HEAT_J_KGK
from diagnose.kitchen.thermal import COMPONENTS, component, plane_wall, properties, shares

REFERENCE = {
    "water": 0.650,
    "protein": 0.072,
    "fat": 0.106,
    "carbohydrate": 0.151,
    "fibre": 0.004,
    "ash": 0.017,
}
HOUSE = [
    ("01077", 500.0),
    ("20081", 100.0),
    ("02047", 4.0),
    ("01125", 34.0),
    ("01033", 45.0),
    ("01001", 40.0),
]


@pytest.mark.parametrize("temperature_c", [5.0, 25.0, 50.0, 80.0])
def test_water_is_as_in_the_steam_tables(temperature_c: float) -> None:
    """IAPWS-IF97 by iapws at 0.1 MPa: cp within 0.8 %, density 1.2 %, k 2.5 %.

    At 25 °C cp is within 0.1 % of 4,181 J/kgK.
    """
    ours, table = component("water", temperature_c), IAPWS97(T=temperature_c + 273.15, P=0.1)
    assert ours.specific_heat_j_kgk == pytest.approx(1000 * table.cp, rel=0.008)
    assert ours.density_kg_m3 == pytest.approx(table.rho, rel=0.012)
    assert ours.conductivity_w_mk == pytest.approx(table.k, rel=0.025)
    assert component("water", 25).specific_heat_j_kgk == pytest.approx(4181, rel=0.001)


@pytest.mark.parametrize(
    ("temperature_c", "k", "cp", "rho", "diffusivity"),
    [
        (5, 0.466, 3332, 1080, 1.29e-7),
        (20, 0.485, 3340, 1078, 1.35e-7),
        (40, 0.507, 3353, 1072, 1.41e-7),
        (60, 0.525, 3368, 1064, 1.46e-7),
        (80, 0.539, 3384, 1054, 1.51e-7),
    ],
)
def test_house_dough_over_the_temperature(
    temperature_c: float, k: float, cp: float, rho: float, diffusivity: float
) -> None:
    """Choi and Okos (1986) on USDA SR27, 60 g driven off; to the printed digits, 0.5 %."""
    found = properties(REFERENCE, temperature_c)
    assert found.conductivity_w_mk == pytest.approx(k, rel=0.005)
    assert found.specific_heat_j_kgk == pytest.approx(cp, rel=0.005)
    assert found.density_kg_m3 == pytest.approx(rho, rel=0.005)
    assert found.diffusivity_m2_s == pytest.approx(diffusivity, rel=0.01)


def test_a_second_composition_without_air() -> None:
    """65.6/6.8/9.3/16.2/0.4/1.7 %, water to ash, at 20 °C: 0.489, 1083, 3349 (derived); 1 %."""
    mixed = dict(zip(COMPONENTS, (0.656, 0.068, 0.093, 0.162, 0.004, 0.017), strict=True))
    found = properties(mixed, 20)
    assert found.conductivity_w_mk == pytest.approx(0.489, rel=0.01)
    assert found.density_kg_m3 == pytest.approx(1083, rel=0.01)
    assert found.specific_heat_j_kgk == pytest.approx(3349, rel=0.01)


def test_the_chill_uses_the_house_dough_with_three_percent_of_air() -> None:
    """At 30 °C, 68 g driven off: 0.494, 1045, 3332; 0.2 %."""
    found = properties(shares(HOUSE, 68), 30, air_by_volume=0.03)
    assert found.conductivity_w_mk == pytest.approx(CONDUCTIVITY_W_MK, rel=0.002)
    assert found.density_kg_m3 == pytest.approx(DENSITY_KG_M3, rel=0.002)
    assert found.specific_heat_j_kgk == pytest.approx(SPECIFIC_HEAT_J_KGK, rel=0.002)
    assert found.diffusivity_m2_s == pytest.approx(1.42e-7, rel=0.005)


def test_what_the_house_dough_is_made_of() -> None:
    """USDA SR27 with 60 g driven off: 65.0 % water, 10.6 % fat, 7.2 % protein; 0.1."""
    house = shares([*HOUSE[:-1], ("01145", 40.0)], 60)
    assert 100 * house["water"] == pytest.approx(64.96, abs=0.05)
    assert 100 * house["fat"] == pytest.approx(10.61, abs=0.05)
    assert 100 * house["protein"] == pytest.approx(7.2, abs=0.05)
    assert sum(house.values()) == pytest.approx(1, abs=1e-12)


@given(st.lists(st.floats(0.0, 1000.0), min_size=6, max_size=6), st.floats(0, 100))
def test_the_shares_of_any_batch_add_up_to_one(grams: list[float], off_g: float) -> None:
    parts = [(ndb, 1.0 + more) for (ndb, _), more in zip(HOUSE, grams, strict=True)]
    parts.append(("01077", 200.0))  # water enough to drive off
    assert sum(shares(parts, off_g).values()) == pytest.approx(1, abs=1e-9)


@pytest.mark.parametrize(
    ("biot", "zeta1", "c1"),
    [
        (0.05, 0.2218, 1.0082),
        (0.1, 0.3111, 1.0161),
        (0.2, 0.4328, 1.0311),
        (0.3, 0.5218, 1.0450),
        (0.5, 0.6533, 1.0701),
        (1, 0.8603, 1.1191),
        (2, 1.0769, 1.1785),
        (5, 1.3138, 1.2402),
        (10, 1.4289, 1.2620),
        (100, 1.5552, 1.2731),
    ],
)
def test_the_plane_wall_of_the_texts(biot: float, zeta1: float, c1: float) -> None:
    """Incropera and DeWitt, *Fundamentals of Heat and Mass Transfer*, table 5.1 (memory); 1e-4."""
    wall = plane_wall(biot)
    assert wall.zeta1 == pytest.approx(zeta1, abs=1e-4)
    assert wall.c1 == pytest.approx(c1, abs=1e-4)


@given(st.floats(0.01, 1000))
def test_the_root_is_the_one_scipy_finds(biot: float) -> None:
    """scipy.optimize.brentq on zeta tan(zeta) = Bi."""
    peer = brentq(lambda z: z * tan(z) - biot, 1e-9, 1.5707963, xtol=1e-13)
    assert plane_wall(biot).zeta1 == pytest.approx(peer, abs=1e-6)


def one_term_min(half_mm: float, h: float, k: float, rho: float, cp: float, ratio: float) -> float:
    """Minutes until theta at the insulated or middle plane is ``ratio``."""
    half = half_mm / 1000
    wall = plane_wall(h * half / k)
    return log(wall.c1 / ratio) / wall.zeta1**2 * half * half * rho * cp / k / 60


@pytest.mark.parametrize(
    ("half_mm", "k", "rho", "cp", "minutes"),
    [
        (9.525, 0.49, 1083, 3350, 252),
        (7.5, 0.485, 1078, 3340, 194.5),
        (15.0, 0.485, 1078, 3340, 406.9),
    ],
)
def test_one_term_and_full_solution_of_a_slab_in_still_air(
    half_mm: float, k: float, rho: float, cp: float, minutes: float
) -> None:
    """57.2 to 5 °C in 3 °C air at 8 W/m2K: 3/4 in and 15 mm through both faces, 15 mm through one.

    Plane wall, one term; 1 %. The full solution agrees within 1 %.
    """
    found = one_term_min(half_mm, 8, k, rho, cp, (5 - 3) / (57.2 - 3))
    assert found == pytest.approx(minutes, rel=0.01)
    # half the slab, its middle insulated, is the whole of it
    wall = Wall(half_mm, k, rho * cp)
    period = Period(5000, Face(8, 3), Face(1e-9, 3))
    assert wall.minutes_to_c(57.2, [period], 5) == pytest.approx(minutes, rel=0.01)


def test_the_middle_after_an_hour_by_the_full_solution_and_by_one_term() -> None:
    """15 mm, 8 W/m2K on both faces, 45 °C, air 4 °C: 19.0 °C after 60 min (derived); 0.5."""
    wall = Wall(15, 0.485, 1078 * 3340)
    period = Period(60, Face(8, 4), Face(8, 4))
    assert wall.warmest_c(45, [period], 60) == pytest.approx(19.0, abs=0.5)


def test_what_is_not_a_component_or_not_a_whole_is_refused() -> None:
    with pytest.raises(ValueError, match="Accepted: water, protein, fat"):
        component("starch", 20)
    with pytest.raises(ValueError, match="0 to 150 °C"):
        component("water", -5)
    with pytest.raises(ValueError, match=r"0\.98 to 1\.02"):
        properties({"water": 0.5}, 20)
    with pytest.raises(ValueError, match="cannot have left"):
        shares([("20081", 100.0)], 60)
    with pytest.raises(ValueError, match="no row 99999"):
        shares([("99999", 100.0)])
    with pytest.raises(ValueError, match=r"0\.01 to 1,000"):
        plane_wall(0)
