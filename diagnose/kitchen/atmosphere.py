"""Pressure of the air at a height, and the temperature at which water boils there.

Sources: ICAO Doc 7488 / ISO 2533:1975 (standard atmosphere); IAPWS R7-97(2012), industrial
formulation IF97, region 4 (saturation line of water), equations 30 and 31.

What a cook does with it: in boiling water a thermometer should read the printed figure within
1 °C (2 °F). Print whole degrees; never a boil for milk or salt, never a correction for weather.
"""

from math import sqrt

from .refusing import require_between

LOWEST_M = -430.0
"""Lowest elevation accepted, m: the lowest dry land, from memory."""
HIGHEST_M = 3500.0
"""Highest elevation accepted, m: the range over which the boil was compared with tables."""

SEA_LEVEL_PA = 101_325.0
_SEA_LEVEL_K = 288.15
_LAPSE_K_PER_M = 0.0065
_EXPONENT = 5.255876
_EARTH_RADIUS_M = 6_356_766.0
_ZERO_C_IN_K = 273.15

# IF97 region 4, table 34 of the release, n1 to n10.
_N1, _N2, _N3, _N4, _N5 = (
    1167.0521452767,
    -724213.16703206,
    -17.073846940092,
    12020.824702470,
    -3232555.0322333,
)
_N6, _N7, _N8, _N9, _N10 = (
    14.915108613530,
    -4823.2657361591,
    405113.40542057,
    -0.23855557567849,
    650.17534844798,
)
_LOWEST_SATURATION_PA, _HIGHEST_SATURATION_PA = 611.213, 22_064_000.0
_LOWEST_SATURATION_C, _HIGHEST_SATURATION_C = 0.0, 373.946


def geopotential_m(elevation_m: float) -> float:
    """Geometric height (m above the sea) to geopotential height (m), ISO 2533:1975.

    >>> round(geopotential_m(3048), 1)
    3046.5
    """
    return _EARTH_RADIUS_M * elevation_m / (_EARTH_RADIUS_M + elevation_m)


def pressure_pa(elevation_m: float) -> float:
    """Air pressure (Pa) of the standard atmosphere at ``elevation_m`` (geometric, -430 to 3,500 m).

    ``ValueError`` outside the range. Source: ICAO Doc 7488 / ISO 2533:1975, which prints
    79,495 Pa at a geopotential height of 2,000 m (printed value from memory).

    >>> round(pressure_pa(2000.63), 0)
    79495.0
    """
    require_between("An elevation", elevation_m, LOWEST_M, HIGHEST_M, "m")
    cooling = _LAPSE_K_PER_M * geopotential_m(elevation_m) / _SEA_LEVEL_K
    return float(SEA_LEVEL_PA * (1.0 - cooling) ** _EXPONENT)


def saturation_c(pressure_pa: float) -> float:
    """Temperature (°C) at which water boils under ``pressure_pa`` (611.213 Pa to 22.064 MPa).

    ``ValueError`` outside. Source: IAPWS R7-97(2012) equation 31; its table 36 prints
    372.755919 K at 0.1 MPa.

    >>> round(saturation_c(100_000) + 273.15, 6)
    372.755919
    """
    require_between("A pressure", pressure_pa, _LOWEST_SATURATION_PA, _HIGHEST_SATURATION_PA, "Pa")
    b: float = (pressure_pa / 1e6) ** 0.25
    e = b * b + _N3 * b + _N6
    f = _N1 * b * b + _N4 * b + _N7
    g = _N2 * b * b + _N5 * b + _N8
    d = 2.0 * g / (-f - sqrt(f * f - 4.0 * e * g))
    kelvin = (_N10 + d - sqrt((_N10 + d) ** 2 - 4.0 * (_N9 + _N10 * d))) / 2.0
    return kelvin - _ZERO_C_IN_K


def saturation_pa(temperature_c: float) -> float:
    """Vapour pressure of water (Pa) at ``temperature_c`` (0 to 373.946 °C).

    ``ValueError`` outside. Source: IAPWS R7-97(2012) equation 30; its table 35 prints (from memory)
    3.53658941e-3 MPa at 300 K.

    >>> f"{saturation_pa(300 - 273.15) / 1e6:.8e}"
    '3.53658941e-03'
    """
    require_between(
        "A temperature", temperature_c, _LOWEST_SATURATION_C, _HIGHEST_SATURATION_C, "°C"
    )
    kelvin = temperature_c + _ZERO_C_IN_K
    theta = kelvin + _N9 / (kelvin - _N10)
    a = theta * theta + _N1 * theta + _N2
    b = _N3 * theta * theta + _N4 * theta + _N5
    c = _N6 * theta * theta + _N7 * theta + _N8
    return float((2.0 * c / (-b + sqrt(b * b - 4.0 * a * c))) ** 4 * 1e6)


def water_boils_at_c(elevation_m: float) -> float:
    """Boiling point of water (°C) at ``elevation_m`` (geometric, -430 to 3,500 m).

    ``ValueError`` outside the range. Day-to-day weather moves the true figure by about 0.4 °C.
    Source: ISO 2533:1975 and IAPWS R7-97(2012); Colorado State University Extension, *High
    Altitude Food Preparation Guide*, table 1, prints 203 °F at 5,000 ft.

    >>> round(water_boils_at_c(1524) * 1.8 + 32)
    203
    """
    return saturation_c(pressure_pa(elevation_m))


LOWEST_BOIL_C = water_boils_at_c(HIGHEST_M)
HIGHEST_BOIL_C = water_boils_at_c(LOWEST_M)


def elevation_from_boil_m(boil_c: float) -> float:
    """Elevation (m) at which water boils at ``boil_c``: the inverse of ``water_boils_at_c``.

    A kitchen thermometer is good to about 1 °C, which is 300 m here. ``ValueError`` for a boil
    that belongs to no elevation from -430 to 3,500 m. Source: the same equations solved
    backwards; Colorado State University Extension prints 203 °F (94.9 °C) for 5,000 ft.

    >>> round(elevation_from_boil_m(94.904) / 0.3048, -2)
    5000.0
    """
    require_between(
        "A boiling point of water",
        boil_c,
        round(LOWEST_BOIL_C - 0.005, 2),
        round(HIGHEST_BOIL_C + 0.005, 2),
        "°C",
    )
    ratio = saturation_pa(boil_c) / SEA_LEVEL_PA
    height: float = _SEA_LEVEL_K / _LAPSE_K_PER_M * (1.0 - ratio ** (1.0 / _EXPONENT))
    return _EARTH_RADIUS_M * height / (_EARTH_RADIUS_M - height)


def boil_in_words(boil_c: float) -> str:
    """The boil as it may be printed: whole degrees, both scales.

    >>> boil_in_words(water_boils_at_c(2133.6))
    'about 93 °C (199 °F)'
    """
    return f"about {boil_c:.0f} °C ({boil_c * 1.8 + 32:.0f} °F)"
