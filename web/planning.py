"""A batch worked out before the stove is lit: amounts, spare, the boil, what the pan should weigh.

Thin on purpose: everything here is a named computation of the kitchen.
"""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from diagnose.kitchen.atmosphere import boil_in_words, water_boils_at_c
from diagnose.kitchen.balance import (
    EDGE_UNCERTAINTY,
    SOFT_EDGE,
    STIFF_EDGE,
    pan_contents_at_share_g,
)
from diagnose.kitchen.measuring import (
    FLOUR_METHODS,
    FLOUR_SPOON_G,
    MILK_CUP_G,
    MILK_SPOON_G,
    SPOONS_PER_CUP,
)
from diagnose.kitchen.quantities import NotAQuantity
from diagnose.knowledge.book import HouseBatch

from . import amounts, wording
from .forms import FieldProblem
from .kitchens import KITCHENS
from .site import Site

LEAST_MILK_G, MOST_MILK_G = 100.0, 10_000.0
SPARE_SPOONS = 2
"""Tablespoons of flour to have on hand for each 500 g of milk: house rule, about the most that
the published spread of ways to measure can ask for after a weighed start."""


def planning(site: Site) -> APIRouter:
    """The planner's one page."""
    router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

    @router.get("/plan")
    def plan(request: Request, milk: str = "", kitchen: str = "") -> Response:
        house = site.dough.house_batch
        milk = milk.strip()
        said = milk or f"{wording.number(house.milk_g)} g"
        problems: list[FieldProblem] = []
        planned = None
        where = next((k for k in KITCHENS if k.id == kitchen), None)
        if milk or kitchen:
            try:
                understood = amounts.grams(said, "milk")
                if not LEAST_MILK_G <= understood.value <= MOST_MILK_G:
                    raise NotAQuantity(
                        f"{wording.thousands(understood.value)} g of milk is outside what is "
                        f"planned here, {LEAST_MILK_G:.0f} g to {MOST_MILK_G:,.0f} g."
                    )
                planned = plan_for(house, understood, where.elevation_m if where else None)
            except NotAQuantity as refused:
                problems = [FieldProblem("milk", str(refused))]
        return site.page(
            request,
            "plan.html",
            status=422 if problems else 200,
            problems=problems,
            said=said,
            kitchens=KITCHENS,
            where=where,
            planned=planned,
        )

    return router


@dataclass(frozen=True, slots=True)
class Planned:
    """A batch as it is printed."""

    milk: str
    lines: tuple[tuple[str, str, str], ...]
    flour_ways: tuple[tuple[str, str], ...]
    spare: tuple[str, ...]
    boil: str
    pan: str
    pan_spread: str


def plan_for(house: HouseBatch, milk: amounts.Understood, elevation_m: float | None) -> Planned:
    """The house batch scaled to this much milk, in weights and in spoons and cups."""
    scale = milk.value / house.milk_g
    flour = house.flour_g * scale
    salt = house.salt_g * scale
    lines = (
        ("Whole milk", _grams(milk.value), f"about {_part(milk.value / MILK_CUP_G)} cups"),
        ("Flour", _grams(flour), "without a scale, see below"),
        ("Fine salt", f"{salt:.1f} g".replace(".0 g", " g"), f"about {_part(salt / 6)} tsp"),
        ("Egg yolks", str(max(1, round(house.yolks * scale))), ""),
        ("Hard cheese", _grams(house.cheese_g * scale), "weigh it: a grated cup can be anything"),
        ("Butter", _grams(house.butter_g * scale),
         f"about {_part(house.butter_g * scale / 14.2)} tablespoons"),
    )  # fmt: skip
    ways = tuple(
        (wording.FLOUR_MEASURED[name], cups_and_spoons(flour / method.cup_g))
        for name, method in FLOUR_METHODS.items()
        if method.cup_g is not None and name in wording.FLOUR_MEASURED and name != "unknown"
    )
    spoons = max(1, round(SPARE_SPOONS * milk.value / 500))
    lightest = pan_contents_at_share_g(milk.value, flour, salt, STIFF_EDGE)
    heaviest = pan_contents_at_share_g(milk.value, flour, salt, SOFT_EDGE)
    edges = (SOFT_EDGE + EDGE_UNCERTAINTY, SOFT_EDGE - EDGE_UNCERTAINTY)
    low, high = (pan_contents_at_share_g(milk.value, flour, salt, edge) for edge in edges)
    spread = (high - low) / 2
    # More than went in cannot be in the pan, however soft the paste may be.
    heaviest = min(heaviest, milk.value + flour + salt)
    return Planned(
        milk=milk.echo,
        lines=lines,
        flour_ways=ways,
        spare=(
            f"{spoons} more tablespoons of flour ({_grams(spoons * FLOUR_SPOON_G)})",
            f"{3 * spoons // 2} tablespoons of milk ({_grams(3 * spoons // 2 * MILK_SPOON_G)})",
            "1 egg yolk",
        ),
        boil="" if elevation_m is None else boil_in_words(water_boils_at_c(elevation_m)),
        pan=f"{lightest:,.0f} to {heaviest:,.0f} g",
        pan_spread=f"{spread:,.0f} g",
    )


def cups_and_spoons(cups: float) -> str:
    """Cups to the level tablespoon, as a cook would measure them out.

    >>> cups_and_spoons(0.82), cups_and_spoons(1.5), cups_and_spoons(0.12)
    ('3/4 cup + 1 Tbsp', '1 1/2 cups', '2 Tbsp')
    """
    quarters, spoons = divmod(max(1, round(cups * SPOONS_PER_CUP)), SPOONS_PER_CUP // 4)
    parts = []
    if quarters:
        parts.append(f"{_part(quarters / 4)} cup{'s' if quarters > 4 else ''}")
    if spoons:
        parts.append(f"{spoons} Tbsp")
    return " + ".join(parts)


def _grams(value: float) -> str:
    return f"{value:,.0f} g"


def _part(value: float) -> str:
    """A count to the nearest quarter, as a cook reads it.

    >>> _part(2.05), _part(0.8), _part(1.5)
    ('2', '3/4', '1 1/2')
    """
    quarters = max(1, round(value * 4))
    whole, rest = divmod(quarters, 4)
    fraction = ("", "1/4", "1/2", "3/4")[rest]
    return " ".join(p for p in (str(whole) if whole else "", fraction) if p)
