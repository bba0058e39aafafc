"""How much water leaves, from minutes, from burner words, or from the power of the burner.

Rates in g/min are calibrated house figures for 500 g of milk in a pan that fits the batch, so
they grow with the batch. A doubled batch in the *same* pan loses half as much per gram. At equal
burner power evaporation changes by about 1 % with altitude, so altitude does not enter. Nothing
here corrects for humidity: 15 to 80 % changes the rate by under 0.5 %.
"""

from dataclasses import dataclass
from types import MappingProxyType

from .atmosphere import SEA_LEVEL_PA, saturation_pa
from .refusing import require_amount, require_between, require_positive

REFERENCE_MILK_G = 500.0
"""The batch the rates are stated for."""
SIMMER_G_PER_MIN = 8.0
"""Milk at a simmer."""
NOMINAL_SIMMER_MIN = 6.0
NOMINAL_COOK_MIN = 4.5
PASTE_G_PER_MIN = 20.0 / NOMINAL_COOK_MIN
"""Paste beaten over heat, about 4.4: the usual 4.5 minutes drive off 20 g."""
DRYING_G_PER_MIN = 5.0
"""A gently worked paste in an open pan, cooked on after a remedy asked for it."""


def batch_size(milk_g: float) -> float:
    """The batch against the one with 500 g of milk.

    >>> batch_size(1500)
    3.0
    """
    require_positive("Milk", milk_g)
    return milk_g / REFERENCE_MILK_G


def simmering_g(milk_g: float, minutes: float | None) -> float:
    """Water (g) the milk loses at a simmer; None minutes means the usual 6 (about 48 g).

    House figure (calibrated).

    >>> simmering_g(500, 6)
    48.0
    """
    spent = NOMINAL_SIMMER_MIN if minutes is None else minutes
    require_amount("Simmering", spent, "min")
    return SIMMER_G_PER_MIN * spent * batch_size(milk_g)


def cooking_g(milk_g: float, minutes: float | None) -> float:
    """Water (g) the paste loses while it is beaten; None minutes means the usual 4.5 (20 g).

    House figure (calibrated).

    >>> round(cooking_g(500, None), 6)
    20.0
    """
    spent = NOMINAL_COOK_MIN if minutes is None else minutes
    require_amount("Cooking", spent, "min")
    return PASTE_G_PER_MIN * spent * batch_size(milk_g)


def drying_g(milk_g: float, minutes: float) -> float:
    """Water (g) lost while a paste is cooked on in an open pan (calibrated).

    >>> drying_g(500, 6)
    30.0
    """
    require_amount("Cooking on", minutes, "min")
    return DRYING_G_PER_MIN * minutes * batch_size(milk_g)


def drying_min(milk_g: float, water_g: float) -> float:
    """Minutes to drive off ``water_g`` from a paste in an open pan (calibrated).

    >>> drying_min(500, 30)
    6.0
    """
    require_amount("Water", water_g)
    return water_g / (DRYING_G_PER_MIN * batch_size(milk_g))


@dataclass(frozen=True, slots=True)
class BurnerWord:
    """What a cook calls the heat, and the water it drives off (g/min, derived)."""

    id: str
    low_g_per_min: float
    high_g_per_min: float

    @property
    def middle_g_per_min(self) -> float:
        """The middle of the range."""
        return (self.low_g_per_min + self.high_g_per_min) / 2


BURNER_WORDS = MappingProxyType(
    {
        word.id: word
        for word in (
            BurnerWord("low", 4.0, 6.0),
            BurnerWord("simmer", 7.0, 11.0),
            BurnerWord("hard-boil", 20.0, 28.0),
        )
    }
)
"""Burner words for 500 g of milk in a 16 to 24 cm pan (derived; not measured in this dough)."""


def burner_g(word: str, minutes: float, milk_g: float) -> tuple[float, float]:
    """Least and most water (g) driven off in ``minutes`` at a burner word (derived).

    ``ValueError`` for an unknown word. Simmering 5 minutes drives off 35 to 55 g.

    >>> burner_g("simmer", 5, 500)
    (35.0, 55.0)
    """
    if word not in BURNER_WORDS:
        raise ValueError(f'"{word}" is not a word for heat. Accepted: {", ".join(BURNER_WORDS)}.')
    require_amount("Time", minutes, "min")
    found, size = BURNER_WORDS[word], batch_size(milk_g)
    return (found.low_g_per_min * minutes * size, found.high_g_per_min * minutes * size)


def rate_from_power_g_per_min(net_w: float) -> float:
    """Water driven off (g/min) from net power into a 16 to 24 cm pan (250 to 1,000 W).

    ``ValueError`` outside. Derived from Shah's free-convection equation (M. M. Shah, HVAC&R
    Research 8:125, 2002) with radiation and a side loss; within 10 %.

    >>> round(rate_from_power_g_per_min(400), 1)
    8.8
    """
    require_between("Net power", net_w, 250.0, 1000.0, "W")
    return (net_w - 65.0) / 38.0


def open_surface_flux_kg_m2_h(
    surface_c: float, room_c: float, room_humidity: float, pressure_pa: float = SEA_LEVEL_PA
) -> float:
    """Evaporation (kg/m2/h) from open water warmer than the room; surface 7 to 94 °C.

    Humidity is a fraction, 0 to 1. E = 35 rho_w (rho_r - rho_w)^(1/3) (w_w - w_r)
    (101325/p)^(2/3), dry-air densities (kg/m3) and humidity ratios at surface and room: M. M.
    Shah, HVAC&R Research 8:125, 2002 (form from memory; validity read in abstract; pressure
    factor derived). An open-tank table (read second-hand) prints 5.36 at 71.1 °C, room 15.6 °C,
    50 %; this is within 25 % of it. ``ValueError`` outside the ranges or with a room warmer than
    the surface.

    >>> 0.75 < open_surface_flux_kg_m2_h(71.1, 15.6, 0.5) / 5.36 < 1.25
    True
    """
    require_between("A surface temperature", surface_c, 7.0, 94.0, "°C")
    require_between("A room temperature", room_c, 0.0, 45.0, "°C")
    require_between("A humidity", room_humidity, 0.0, 1.0, "(as a fraction)")
    if room_c >= surface_c:
        raise ValueError("The surface must be warmer than the room for this equation to hold.")
    dense_w, ratio_w = _dry_air(surface_c, saturation_pa(surface_c), pressure_pa)
    dense_r, ratio_r = _dry_air(room_c, room_humidity * saturation_pa(room_c), pressure_pa)
    thinner_air: float = (SEA_LEVEL_PA / pressure_pa) ** (2 / 3)
    lift: float = (dense_r - dense_w) ** (1 / 3)
    return 35.0 * dense_w * lift * (ratio_w - ratio_r) * thinner_air


def _dry_air(temperature_c: float, vapour_pa: float, pressure_pa: float) -> tuple[float, float]:
    """Density of the dry air (kg/m3) and humidity ratio (kg/kg)."""
    dry_pa = pressure_pa - vapour_pa
    return dry_pa / (287.055 * (temperature_c + 273.15)), 0.621945 * vapour_pa / dry_pa
