"""How a food conducts and stores heat, from what it is made of; and the plane wall of the texts.

Coefficients: Y. Choi and M. R. Okos, 1986, as printed in the *ASHRAE Handbook: Refrigeration*,
chapter on thermal properties of foods, tables 1 and 2 (read in independent copies; some copies
misprint the fat's k as 2.7604e-3 and the water's cp as 4128.9). -40 to 150 °C, nothing frozen.
Mixing rules (ASHRAE, from memory): cp by mass, k and density by volume.

For the model only: nothing here is printed for a cook.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import cos, pi, sin
from types import MappingProxyType

from .composition import rows
from .refusing import require_amount, require_between, require_positive

LOWEST_C, HIGHEST_C = 0.0, 150.0
"""Nothing frozen: the unfrozen part of the published range, -40 to 150 °C."""

_COEFFICIENTS: Mapping[str, tuple[tuple[float, ...], ...]] = MappingProxyType(
    {
        # component: k in W/mK, density in kg/m3, cp in J/kgK; each a + bT + cT2, T in °C
        "water": (
            (0.57109, 1.7625e-3, -6.7036e-6),
            (997.18, 3.1439e-3, -3.7574e-3),
            (4176.2, -9.0864e-2, 5.4731e-3),
        ),
        "protein": (
            (0.17881, 1.1958e-3, -2.7178e-6),
            (1329.9, -0.51840, 0.0),
            (2008.2, 1.2089, -1.3129e-3),
        ),
        "fat": (
            (0.18071, -2.7604e-4, -1.7749e-7),
            (925.59, -0.41757, 0.0),
            (1984.2, 1.4733, -4.8008e-3),
        ),
        "carbohydrate": (
            (0.20141, 1.3874e-3, -4.3312e-6),
            (1599.1, -0.31046, 0.0),
            (1548.8, 1.9625, -5.9399e-3),
        ),
        "fibre": (
            (0.18331, 1.2497e-3, -3.1683e-6),
            (1311.5, -0.36589, 0.0),
            (1845.9, 1.8306, -4.6509e-3),
        ),
        "ash": (
            (0.32962, 1.4011e-3, -2.9069e-6),
            (2423.8, -0.28063, 0.0),
            (1092.6, 1.8896, -3.6817e-3),
        ),
    }
)
COMPONENTS = tuple(_COEFFICIENTS)


@dataclass(frozen=True, slots=True)
class Properties:
    """k in W/mK, density in kg/m3, cp in J/kgK."""

    conductivity_w_mk: float
    density_kg_m3: float
    specific_heat_j_kgk: float

    @property
    def diffusivity_m2_s(self) -> float:
        """k/(density x cp), m2/s."""
        return self.conductivity_w_mk / (self.density_kg_m3 * self.specific_heat_j_kgk)


def component(name: str, temperature_c: float) -> Properties:
    """One pure component at ``temperature_c`` (0 to 150 °C).

    ``ValueError`` outside, and for an unknown name. Choi and Okos (1986); water at 25 °C has
    4,181 J/kgK in the steam tables, within 0.1 %.

    >>> round(component("water", 25).specific_heat_j_kgk, 1)
    4177.3
    """
    if name not in _COEFFICIENTS:
        raise ValueError(f'"{name}" is not a component. Accepted: {", ".join(COMPONENTS)}.')
    require_between("A temperature", temperature_c, LOWEST_C, HIGHEST_C, "°C")
    k, rho, cp = (
        a + b * temperature_c + c * temperature_c * temperature_c for a, b, c in _COEFFICIENTS[name]
    )
    return Properties(k, rho, cp)


def shares(parts: Iterable[tuple[str, float]], driven_off_g: float = 0.0) -> dict[str, float]:
    """Mass shares of the six components in ``(NDB number, grams)``, less the water driven off.

    They add up to one. ``ValueError`` for an unknown number, for nothing, and when more water
    would have left than there was. USDA SR27; carbohydrate is taken less its fibre. Finished house
    dough with 60 g driven off: 65.0 % water.

    >>> house = [("01077", 500), ("20081", 100), ("02047", 4), ("01125", 34), ("01033", 45),
    ...          ("01145", 40)]
    >>> round(100 * shares(house, 60)["water"], 1)
    65.0
    """
    require_amount("Water driven off", driven_off_g)
    grams = dict.fromkeys(COMPONENTS, 0.0)
    for ndb, weight in parts:
        require_amount("An ingredient", weight)
        if ndb not in rows():
            raise ValueError(f"There is no row {ndb} in the table; it holds {', '.join(rows())}.")
        row = rows()[ndb]
        for name, per_100_g in (
            ("water", row.water_g),
            ("protein", row.protein_g),
            ("fat", row.fat_g),
            ("carbohydrate", row.carbohydrate_g - row.fibre_g),
            ("fibre", row.fibre_g),
            ("ash", row.ash_g),
        ):
            grams[name] += weight * per_100_g / 100
    if grams["water"] < driven_off_g:
        raise ValueError(
            f"{driven_off_g:.0f} g of water cannot have left: there was {grams['water']:.0f} g."
        )
    grams["water"] -= driven_off_g
    total = sum(grams.values())
    require_positive("The mixture", total)
    return {name: weight / total for name, weight in grams.items()}


def properties(
    by_mass: Mapping[str, float], temperature_c: float, air_by_volume: float = 0.0
) -> Properties:
    """A mixture at ``temperature_c`` (0 to 150 °C), ``air_by_volume`` (0 to 0.3) beaten in.

    ``by_mass`` holds shares that add up to one, within 0.02. cp = sum(x cp), k = sum(v k) with v
    by volume, density = (1 - air)/sum(x/density). Air takes weight from the volume and nothing
    else here. ``ValueError`` outside. House dough at 20 °C: k 0.485, cp 3340, density 1078
    (worked from the printed coefficients; 1 %).

    >>> dough = {"water": .650, "protein": .072, "fat": .106, "carbohydrate": .151, "fibre": .004,
    ...          "ash": .017}
    >>> found = properties(dough, 20)
    >>> round(found.conductivity_w_mk, 3), round(found.specific_heat_j_kgk, -1)
    (0.485, 3340.0)
    """
    require_between("Air", air_by_volume, 0.0, 0.3, "by volume")
    total = sum(by_mass.values())
    require_between("The sum of the shares", total, 0.98, 1.02, "by mass")
    parts = [(share / total, component(name, temperature_c)) for name, share in by_mass.items()]
    volume = sum(share / part.density_kg_m3 for share, part in parts)
    return Properties(
        sum(share / part.density_kg_m3 / volume * part.conductivity_w_mk for share, part in parts),
        (1 - air_by_volume) / volume,
        sum(share * part.specific_heat_j_kgk for share, part in parts),
    )


@dataclass(frozen=True, slots=True)
class PlaneWall:
    """First term of a plane wall's cooling: theta = c1 exp(-zeta1 squared x Fo), Fo above 0.2."""

    zeta1: float
    c1: float


def plane_wall(biot: float) -> PlaneWall:
    """The first root of zeta tan(zeta) = Bi and its C1, for Bi from 0.01 to 1,000.

    C1 = 4 sin(zeta)/(2 zeta + sin(2 zeta)). ``ValueError`` outside. F. P. Incropera and D. P.
    DeWitt, *Fundamentals of Heat and Mass Transfer*, table 5.1 (from memory): at Bi 1, zeta
    0.8603 and C1 1.1191.

    >>> wall = plane_wall(1.0)
    >>> round(wall.zeta1, 4), round(wall.c1, 4)
    (0.8603, 1.1191)
    """
    require_between("A Biot number", biot, 0.01, 1000.0, "")
    low, high = 0.0, pi / 2
    for _ in range(60):
        zeta = (low + high) / 2
        # zeta tan(zeta) - Bi, times the cosine: no pole, the same sign
        if zeta * sin(zeta) < biot * cos(zeta):
            low = zeta
        else:
            high = zeta
    zeta = (low + high) / 2
    return PlaneWall(zeta, 4 * sin(zeta) / (2 * zeta + sin(2 * zeta)))
