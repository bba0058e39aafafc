"""What a cook wants planned: guests, kitchen, pan, hands, garnishes; refused in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from diagnose.kitchen.browning import (
    LARGEST_BASE_MM,
    SKILLETS_MM,
    SMALLEST_BASE_MM,
    pieces_a_load,
)
from diagnose.kitchen.chilling import Chill, Support, support_called
from diagnose.kitchen.measuring import flour_method
from diagnose.kitchen.mixing import YOLK_G
from diagnose.kitchen.refusing import require_between

from .elevation import CHOICES
from .formula import LEAST_YOLK_G, MOST_GUESTS, MOST_YOLK_G, portion_called

NEEDS = ("nothing", "burner", "oven")
"""What a garnish occupies beside hands, from its first minute to its last."""
MOST_GARNISHES = 8
MOST_COOKS, MOST_PANS, MOST_BURNERS = 6, 6, 8
LONGEST_TASK_MIN, LONGEST_HOLD_MIN = 24 * 60, 48 * 60

MILKS: Mapping[str, str] = MappingProxyType(
    {
        "whole": "",
        "skim": "Skim or low-fat milk makes a leaner dough. Brown it in a little more butter, and "
        "watch the floor of the pan (common practice, no source).",
        "lactose-free": "Lactose-free milk browns sooner: turn the pieces earlier (common "
        "practice, no source).",
    }
)
"""Milk that this dough can be planned with, and what it changes."""
FLOURS: Mapping[str, str] = MappingProxyType(
    {
        "all-purpose": "",
        "bread": "Bread flour takes up a little more water: expect a firmer paste and keep warm "
        "milk at hand (common practice, no source).",
        "cake": "Cake flour takes up less water: have 5 to 10 % more of it ready, and add it by "
        "the spoon (common practice, no source).",
        "wholewheat": "Wholewheat stiffens late: cook it on for the longer time before you judge "
        "it (common practice, no source).",
    }
)
"""Wheat flours that this dough can be planned with, and what they change."""


@dataclass(frozen=True, slots=True)
class Garnish:
    """Something else on the plate. ``ValueError`` with a sentence for a time that cannot be.

    First ``active_min`` (1 to 1,440) with a pair of hands, then ``waiting_min`` (0 to 1,440)
    without; it stays good for ``holds_min`` (0 to 2,880) until plating begins, as the cook says.
    """

    name: str
    active_min: int
    waiting_min: int
    holds_min: int
    needs: str = "nothing"

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.name) > 40 or not self.name.isprintable():
            raise ValueError("A garnish needs a name of 1 to 40 letters.")
        about = f'"{self.name}", '
        require_between(f"{about}work", self.active_min, 1, LONGEST_TASK_MIN, "min")
        require_between(f"{about}waiting", self.waiting_min, 0, LONGEST_TASK_MIN, "min")
        require_between(f"{about}hold", self.holds_min, 0, LONGEST_HOLD_MIN, "min")
        if self.needs not in NEEDS:
            raise ValueError(
                f'{about}"{self.needs}" is not something a garnish needs. '
                f"Accepted: {', '.join(NEEDS)}."
            )


@dataclass(frozen=True, slots=True)
class Wanted:
    """A batch to plan. ``ValueError`` with a sentence for the first thing that cannot be.

    ``to_serving_min`` is how long there is from now; None where the day is not today, so that
    every start is early enough. ``serve_at`` is minutes after midnight. What is left out stands
    at a usual value, and the plan says so.
    """

    guests: int
    portion: str
    elevation_m: float | None = None
    serve_at: int | None = None
    to_serving_min: int | None = None
    flour_measured: str = "weighed"
    flour_choice: str = "book"
    base_mm: float | None = None
    pans: int = 1
    cooks: int = 1
    burners: int = 2
    thickness_mm: float = 15.0
    support: str = "racked-metal-tray"
    fridge_c: float = 4.0
    milk: str = "whole"
    flour: str = "all-purpose"
    yolk_g: float = YOLK_G
    chance_lost: float | None = None
    garnishes: tuple[Garnish, ...] = ()
    freezer: bool = False
    """Whether the slab takes the short cut through the freezer."""

    def __post_init__(self) -> None:
        require_between("Guests", self.guests, 1, MOST_GUESTS, "guests")
        portion_called(self.portion)
        flour_method(self.flour_measured)
        if self.serve_at is not None:
            require_between("The hour of serving", self.serve_at, 0, 24 * 60 - 1, "min")
        if self.to_serving_min is not None:
            require_between("Time to serving", self.to_serving_min, 0, 7 * 24 * 60, "min")
        for what, value, most in (
            ("Pans", self.pans, MOST_PANS),
            ("Cooks", self.cooks, MOST_COOKS),
            ("Burners", self.burners, MOST_BURNERS),
        ):
            require_between(what, value, 1, most, what.lower())
        require_between("A yolk", self.yolk_g, LEAST_YOLK_G, MOST_YOLK_G, "g")
        for what, word, known in (
            ("a choice of flour", self.flour_choice, CHOICES),
            ("a milk for this dough", self.milk, tuple(MILKS)),
            ("a flour for this dough", self.flour, tuple(FLOURS)),
        ):
            if word not in known:
                raise ValueError(f'"{word}" is not {what}. Accepted: {", ".join(known)}.')
        require_between("A pan's flat base", self.base, SMALLEST_BASE_MM, LARGEST_BASE_MM, "mm")
        if self.freezer:
            require_between("A slab for the freezer", self.thickness_mm, 12.0, 20.0, "mm")
            if self.support != Support.RACKED_METAL_TRAY:
                raise ValueError(
                    "The short cut through the freezer is worked out for a metal tray on a rack "
                    f"only; accepted: {Support.RACKED_METAL_TRAY}."
                )
        chill_of(self)
        pieces_a_load(self.base, self.thickness_mm)
        names = [garnish.name.casefold() for garnish in self.garnishes]
        if len(names) > MOST_GARNISHES:
            raise ValueError(f"{len(names)} garnishes are too many; {MOST_GARNISHES} are planned.")
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f'Two garnishes are called "{name}"; give each its own name.')

    @property
    def base(self) -> float:
        """The pan's flat base (mm); a 10 in skillet's where none is told."""
        return SKILLETS_MM["10-in"] if self.base_mm is None else self.base_mm

    @property
    def pans_at_once(self) -> int:
        """Pans that can brown at the same time: each wants a cook and a burner of its own."""
        return min(self.pans, self.cooks, self.burners)

    def but(self, **changes: object) -> Wanted:
        """The same with something else."""
        return replace(self, **changes)  # type: ignore[arg-type]


def chill_of(wanted: Wanted) -> Chill:
    """How its slab is cooled; where no elevation is told, as by the sea."""
    return Chill(
        wanted.thickness_mm,
        support_called(wanted.support),
        wanted.fridge_c,
        elevation_m=wanted.elevation_m or 0.0,
    )
