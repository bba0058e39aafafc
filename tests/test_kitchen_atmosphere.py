"""Pressure and boil against two libraries and published tables."""

import pytest
from ambiance import Atmosphere
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97

from diagnose.kitchen.atmosphere import (
    HIGHEST_M,
    LOWEST_M,
    boil_in_words,
    elevation_from_boil_m,
    pressure_pa,
    saturation_c,
    saturation_pa,
    water_boils_at_c,
)

FOOT_M = 0.3048
HEIGHTS_M = (-430.0, 6.0, 305.0, 640.0, 1524.0, 2133.6, 2310.0, 3048.0, 3500.0)


@pytest.mark.parametrize("elevation_m", HEIGHTS_M)
def test_pressure_agrees_with_two_libraries_within_a_pascal(elevation_m: float) -> None:
    """fluids (US Standard Atmosphere 1976) and ambiance (ICAO Doc 7488)."""
    ours = pressure_pa(elevation_m)
    assert ours == pytest.approx(ATMOSPHERE_1976(elevation_m).P, abs=1.0)
    assert ours == pytest.approx(float(Atmosphere(elevation_m).pressure[0]), abs=1.0)


@pytest.mark.parametrize("elevation_m", HEIGHTS_M)
def test_boil_agrees_with_a_steam_table_library(elevation_m: float) -> None:
    """iapws, IAPWS-IF97, at the pressure of another library; within 0.002 °C."""
    theirs = IAPWS97(P=ATMOSPHERE_1976(elevation_m).P / 1e6, x=0).T - 273.15
    assert water_boils_at_c(elevation_m) == pytest.approx(theirs, abs=0.002)


@pytest.mark.parametrize(
    ("geopotential_m", "printed_pa"), [(1000, 89_875), (2000, 79_495), (3000, 70_109)]
)
def test_pressure_at_geopotential_heights_is_as_printed(
    geopotential_m: float, printed_pa: float
) -> None:
    """ICAO Doc 7488 (printed values from memory), 1 Pa."""
    radius = 6_356_766.0
    geometric = radius * geopotential_m / (radius - geopotential_m)
    assert pressure_pa(geometric) == pytest.approx(printed_pa, abs=1.0)


@pytest.mark.parametrize(
    ("feet", "pa"),
    [
        (0, 101_325.0),
        (1000, 97_716.7),
        (2000, 94_213.6),
        (3000, 90_813.1),
        (5000, 84_311.1),
        (7000, 78_192.3),
        (8500, 73_844.2),
        (10000, 69_694.6),
    ],
)
def test_pressure_by_feet(feet: float, pa: float) -> None:
    """US Standard Atmosphere 1976, computed with fluids 1.3.1 and ambiance 1.3.1; 0.3 Pa."""
    assert pressure_pa(feet * FOOT_M) == pytest.approx(pa, abs=0.3)


@pytest.mark.parametrize(
    ("feet", "boil_c"),
    [
        (0, 99.974),
        (1000, 98.962),
        (2000, 97.948),
        (3000, 96.934),
        (5000, 94.904),
        (6000, 93.888),
        (7000, 92.871),
        (8000, 91.854),
        (8500, 91.345),
        (10000, 89.816),
    ],
)
def test_boil_by_feet(feet: float, boil_c: float) -> None:
    """ISO 2533:1975 with IAPWS-IF97 (computed with iapws 1.5.5); 0.002 °C."""
    assert water_boils_at_c(feet * FOOT_M) == pytest.approx(boil_c, abs=0.002)


@pytest.mark.parametrize(
    ("feet", "printed_f"), [(2000, 208), (5000, 203), (7500, 198), (10000, 193)]
)
def test_boil_agrees_with_the_extension_table(feet: float, printed_f: float) -> None:
    """Colorado State University Extension, *High Altitude Food Preparation Guide*, table 1.

    Within 0.7 °F; the 10,000 ft entry is rounded down there.
    """
    assert water_boils_at_c(feet * FOOT_M) * 1.8 + 32 == pytest.approx(printed_f, abs=0.7)


@pytest.mark.parametrize(("mpa", "kelvin"), [(0.1, 372.755919), (1.0, 453.035632)])
def test_saturation_temperature_is_as_printed(mpa: float, kelvin: float) -> None:
    """IAPWS R7-97(2012), table 36; every printed digit."""
    assert saturation_c(mpa * 1e6) + 273.15 == pytest.approx(kelvin, abs=1e-6)


@pytest.mark.parametrize("kelvin", [300.0, 373.124, 500.0, 600.0])
def test_vapour_pressure_agrees_with_a_steam_table_library(kelvin: float) -> None:
    """iapws, IAPWS-IF97 region 4; relative 1e-6."""
    assert saturation_pa(kelvin - 273.15) / 1e6 == pytest.approx(IAPWS97(T=kelvin, x=0).P, rel=1e-6)


@given(st.floats(LOWEST_M, HIGHEST_M))
def test_elevation_from_the_boil_undoes_the_boil(elevation_m: float) -> None:
    assert elevation_from_boil_m(water_boils_at_c(elevation_m)) == pytest.approx(
        elevation_m, abs=0.01
    )


@given(st.floats(LOWEST_M, HIGHEST_M - 1), st.floats(0.5, 500))
def test_higher_kitchens_boil_cooler(elevation_m: float, more_m: float) -> None:
    higher = min(HIGHEST_M, elevation_m + more_m)
    assert water_boils_at_c(higher) < water_boils_at_c(elevation_m)


@pytest.mark.parametrize("elevation_m", [-431.0, 3501.0, float("nan"), float("inf")])
def test_an_elevation_out_of_range_is_refused_with_the_range(elevation_m: float) -> None:
    with pytest.raises(ValueError, match=r"-430 to 3,500 m"):
        water_boils_at_c(elevation_m)


@pytest.mark.parametrize("boil_c", [60.0, 88.0, 102.0])
def test_a_boil_of_no_kitchen_is_refused_with_the_range(boil_c: float) -> None:
    with pytest.raises(ValueError, match=r"88\.3 to 101\.41 °C"):
        elevation_from_boil_m(boil_c)


def test_the_boil_is_printed_in_whole_degrees() -> None:
    assert boil_in_words(water_boils_at_c(2310)) == "about 92 °C (198 °F)"
    assert boil_in_words(water_boils_at_c(0)) == "about 100 °C (212 °F)"
