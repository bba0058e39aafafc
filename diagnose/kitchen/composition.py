"""What the ingredients are made of, per 100 g.

Source: US Department of Agriculture, *USDA National Nutrient Database for Standard Reference,
Release 27* (2014), abbreviated table. A work of the United States government: public domain.
Rows are cited as "USDA SR27, NDB number". The table beside this file holds forty rows. Water +
protein + fat + ash + carbohydrate = 100 within 0.02 in every row; carbohydrate is by difference
and includes fibre. Starch is not tabulated there.
"""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

_TABLE = Path(__file__).with_name("composition-sr27.csv")

WHOLE_MILK = "01077"
ALL_PURPOSE_FLOUR = "20081"
EGG_YOLK = "01125"
HARD_CHEESE_WEDGE = "01033"
HARD_CHEESE_TUB = "01032"
BUTTER_SALTED = "01001"
BUTTER_UNSALTED = "01145"
TABLE_SALT = "02047"

STARCH_IN_FLOUR = 0.7049
"""g starch per g all-purpose flour as is. 0.80 g per g of dry flour (from memory, within 3 %) is
0.7046; 0.7049 also lets the row of the table close at 100 with 2.70 fibre and 3.11 sugars."""
WATER_IN_FLOUR = 0.1192
"""g water per g all-purpose flour, USDA SR27 20081."""
WATER_IN_MILK = 0.8813
"""g water per g whole milk, USDA SR27 01077."""

SALT_PER_SODIUM = 2.54
"""g salt per g sodium (ratio of the molar masses)."""


@dataclass(frozen=True, slots=True)
class Row:
    """One ingredient, g (sodium: mg) per 100 g edible portion; measures are household weights."""

    ndb: str
    name: str
    water_g: float
    protein_g: float
    fat_g: float
    ash_g: float
    carbohydrate_g: float
    fibre_g: float
    sodium_mg: float
    measures: tuple[tuple[float, str], ...]
    sr27_description: str

    @property
    def sum_g(self) -> float:
        """Water + protein + fat + ash + carbohydrate: 100 within 0.02."""
        return self.water_g + self.protein_g + self.fat_g + self.ash_g + self.carbohydrate_g


@cache
def rows() -> Mapping[str, Row]:
    """Every row of the table by its five-digit NDB number.

    >>> len(rows()), rows()[WHOLE_MILK].water_g
    (40, 88.13)
    """
    with _TABLE.open(encoding="utf-8", newline="") as table:
        return MappingProxyType({line["ndb"]: _row(line) for line in csv.DictReader(table)})


def _row(line: Mapping[str, str]) -> Row:
    measures = tuple(
        (float(line[f"measure_{n}_g"]), line[f"measure_{n}"])
        for n in (1, 2)
        if line[f"measure_{n}_g"]
    )
    return Row(
        ndb=line["ndb"],
        name=line["name"],
        water_g=float(line["water_g"]),
        protein_g=float(line["protein_g"]),
        fat_g=float(line["fat_g"]),
        ash_g=float(line["ash_g"]),
        carbohydrate_g=float(line["carbohydrate_g"]),
        fibre_g=float(line["fibre_g"]),
        sodium_mg=float(line["sodium_mg"]),
        measures=measures,
        sr27_description=line["sr27_description"],
    )


@dataclass(frozen=True, slots=True)
class Mixture:
    """What a mixture holds, in g."""

    total_g: float
    water_g: float
    fat_g: float
    sodium_as_salt_g: float


def mixture(parts: Iterable[tuple[str, float]], water_driven_off_g: float = 0.0) -> Mixture:
    """Add up ``(NDB number, grams)`` and take off the water that was driven off.

    ``ValueError`` for an unknown number. Example: milk, flour and salt of the house batch,
    from USDA SR27.

    >>> round(mixture([("01077", 500), ("20081", 100), ("02047", 4)]).water_g, 2)
    452.58
    """
    total = water = fat = salt = 0.0
    for ndb, grams in parts:
        if ndb not in rows():
            raise ValueError(f"There is no row {ndb} in the table; it holds {', '.join(rows())}.")
        row = rows()[ndb]
        total += grams
        water += grams * row.water_g / 100
        fat += grams * row.fat_g / 100
        salt += grams * row.sodium_mg / 100_000 * SALT_PER_SODIUM
    return Mixture(total - water_driven_off_g, water - water_driven_off_g, fat, salt)
