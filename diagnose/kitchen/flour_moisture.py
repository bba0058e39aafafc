"""How moist flour becomes in a dry or damp room: a footnote, never a correction.

It shows that dry mountain air explains half a tablespoon at most, and in the stiffer direction.
"""

from math import log

from .composition import WATER_IN_FLOUR
from .refusing import require_between


def wheat_moisture_wet_basis(
    humidity: float, temperature_c: float, a: float, b: float, c: float
) -> float:
    """Moisture (% of the whole) of wheat in balance with air of ``humidity`` (0.05 to 0.95).

    Modified Henderson, 1 - RH = exp[-A(T + C)(M)^B], M in % dry basis: ASAE D245.5 (constants
    from memory). Soft red winter wheat at 90 °F (32.2 °C) and 50 %: an extension table prints
    10.8. Grain stands in for flour. ``ValueError`` outside 0.05 to 0.95 and 0 to 45 °C.

    >>> round(wheat_moisture_wet_basis(0.50, 32.2, 1.2299e-5, 2.5558, 64.346), 1)
    10.8
    """
    require_between("A humidity", humidity, 0.05, 0.95, "(as a fraction)")
    require_between("A temperature", temperature_c, 0.0, 45.0, "°C")
    dry_basis: float = (-log(1 - humidity) / (a * (temperature_c + c))) ** (1 / b)
    return 100.0 * dry_basis / (100.0 + dry_basis)


def standard_flour_g(flour_g: float, moisture_percent: float) -> float:
    """What ``flour_g`` of this moisture (5 to 16 %) counts for in flour of 11.92 % (USDA SR27).

    >>> round(standard_flour_g(100, 9.0), 1)
    103.3
    """
    require_between("A moisture of flour", moisture_percent, 5.0, 16.0, "%")
    return flour_g * (1 - moisture_percent / 100) / (1 - WATER_IN_FLOUR)
