"""What can be worked out at a stage from a few numbers: the weight of the pan, the yolk window ...

Each help is a handful of boxes and a pure function from their numbers and the batch to sentences.
The numbers come from ``diagnose.kitchen``, with the ranges it gives; nothing is added here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from diagnose.kitchen.browning import after_browning, core_after_browning_c
from diagnose.kitchen.chilling import Chill, Support, cooling_verdict, cuttable_now, support_called
from diagnose.kitchen.freezer import freezer_shortcut
from diagnose.kitchen.gate import milk_before_flour
from diagnose.kitchen.panweight import pan_weight_check, should_hold_g
from diagnose.kitchen.plate import plate_window
from diagnose.kitchen.slab import slab
from diagnose.kitchen.yolk import yolk_window
from diagnose.planning.formula import Amounts

Unit = Literal["degC", "g", "mm", "min"]


@dataclass(frozen=True, slots=True)
class Box:
    """One number, or one choice, that a help asks for."""

    name: str
    label: str
    unit: Unit | None = None
    choices: tuple[tuple[str, str], ...] = ()
    """(id, words) where it is chosen and not measured."""
    usual: str = ""
    """What stands in the box before anything is told."""
    may_be_empty: bool = False
    reading: str | None = None
    """The reading of the book that this number tells as well."""


ELEVATION = "elevation_m"
Given = Mapping[str, float | str]
"""The numbers of the boxes in their units, and the ids of what was chosen; with the kitchen's
elevation (m) where that was told."""


@dataclass(frozen=True, slots=True)
class Help:
    """Something to work out at a stage."""

    id: str
    stage: str
    title: str
    boxes: tuple[Box, ...]
    work: Callable[[Given, Amounts], Sequence[str]]
    """Sentences; ``ValueError`` with a sentence for numbers it refuses."""
    note: str = ""


def _number(given: Given, name: str) -> float | None:
    value = given.get(name)
    return float(value) if isinstance(value, int | float) else None


def _before_flour(given: Given, batch: Amounts) -> list[str]:
    gate = milk_before_flour(_number(given, "milk"), _number(given, "minutes"), None)
    return [gate.do, *gate.ask]


def _pan_weight(given: Given, batch: Amounts) -> list[str]:
    with_pan, empty = _number(given, "together"), _number(given, "empty")
    assert with_pan is not None
    assert empty is not None
    if with_pan <= empty:
        raise ValueError("The pan with the paste cannot weigh less than the empty pan.")
    contents = with_pan - empty
    found = pan_weight_check(batch.milk_g, batch.flour_g, batch.salt_g, contents)
    return [found.say]


def _yolks(given: Given, batch: Amounts) -> list[str]:
    paste_c = _number(given, "paste")
    assert paste_c is not None
    paste_g = should_hold_g(batch.milk_g, batch.flour_g, batch.salt_g).central
    found = yolk_window(paste_g, paste_c, batch.yolks)
    said = [f"{found.light.say}. {found.light.do}"]
    if found.wait_say:
        said.append(f"Off the heat that takes {found.wait_say}")
    if found.bowl_g is not None:
        bowl = found.bowl_g.rounded(50).say()
        said.append(
            f"Or tip it into a glass or ceramic bowl of {bowl} at room temperature: that takes it "
            "to about 72 to 75 °C (162 to 167 °F) at once. A thin steel bowl does not"
        )
    if found.temper is not None:
        spoons = found.temper.spoons.rounded(1)
        said.append(
            f"To temper: beat {spoons.low:.0f} to {spoons.high:.0f} tablespoons of the paste into "
            "the yolks, one after another, then the yolks into the paste"
        )
    if not found.egg_rule_reached:
        said.append(
            "With the yolks in it will be below 68 °C (155 °F): warm it gently, stirring, until "
            "it is there, for 17 seconds at least"
        )
    return said


def _slab(given: Given, batch: Amounts) -> list[str]:
    thick = _number(given, "thickness")
    assert thick is not None
    made = slab(batch.pressed_g, thick)
    plates = made.small_plates.rounded(1)
    return [
        f"It covers a square of about {made.square_edge_cm:.0f} cm, {made.area_cm2:.0f} cm² in all",
        f"It cuts into about {made.pieces} pieces of {made.piece_mm:.0f} mm, {made.piece_g:.1f} g "
        f"each: {made.starters} starters of two, or {plates.low:.0f} to {plates.high:.0f} small "
        "plates of six to eight (common practice, no source)",
    ]


def _chill(given: Given, batch: Amounts) -> list[str]:
    thick, fridge = _number(given, "thickness"), _number(given, "fridge")
    passed = _number(given, "minutes")
    assert thick is not None
    assert fridge is not None
    assert passed is not None
    high = _number(given, ELEVATION) or 0.0
    chill = Chill(thick, support_called(str(given["support"])), fridge, elevation_m=high)
    said = [cuttable_now(chill, passed).say]
    verdict = cooling_verdict(chill)
    said += [verdict.say, *verdict.do]
    if 12 <= thick <= 20 and chill.support is Support.RACKED_METAL_TRAY:
        said.append(f"In a hurry: {freezer_shortcut(thick).say}")
    return said


def _hot_middle(given: Given, batch: Amounts) -> list[str]:
    edge, side = _number(given, "edge"), _number(given, "side")
    assert edge is not None
    assert side is not None
    core = core_after_browning_c(edge, side)
    later = after_browning(given["when"] == "held")
    return [
        f"Browned so long on two sides, the coldest point is at about {core.rounded(1).say()}: "
        "browning does not heat a cube through",
        later.say,
        later.hold,
    ]


def _plate(given: Given, batch: Amounts) -> list[str]:
    piece, plate = _number(given, "piece"), _number(given, "plate")
    assert piece is not None
    assert plate is not None
    return [plate_window(piece, plate).say, "A hot plate buys about 3 minutes"]


_SUPPORTS = (
    (Support.RACKED_METAL_TRAY.value, "A metal tray on a rack, air all round"),
    (Support.TRAY_ON_SHELF.value, "A tray on the shelf"),
    (Support.WOOD_OR_BOX.value, "A wooden board, a solid shelf or a box"),
)

HELPS = (
    Help(
        "before-flour", "add-flour", "Is the milk ready for the flour?",
        (
            Box("milk", "Heat of the milk", "degC", may_be_empty=True, reading="milk-temperature"),
            Box("minutes", "Minutes it has simmered", "min", may_be_empty=True),
        ),
        _before_flour,
    ),
    Help(
        "pan-weight", "cook-paste", "Weigh the pan",
        (
            Box("together", "Pan and paste together", "g"),
            Box("empty", "The empty pan", "g"),
        ),
        _pan_weight,
        "It tells something only if flour and milk were weighed. The window is a house rule.",
    ),
    Help(
        "yolk-window", "temper", "May the yolks go in?",
        (Box("paste", "Heat of the paste, stirred", "degC", reading="paste-temperature"),),
        _yolks,
    ),
    Help(
        "slab", "shape", "How far does it reach?",
        (Box("thickness", "How thick you press it", "mm", usual="15 mm",
             reading="slab-thickness"),),
        _slab,
    ),
    Help(
        "chill", "chill", "Can it be cut yet?",
        (
            Box("thickness", "How thick it is", "mm", usual="15 mm", reading="slab-thickness"),
            Box("support", "It stands on", choices=_SUPPORTS),
            Box("fridge", "The refrigerator is at", "degC", usual="4 °C"),
            Box("minutes", "Minutes since it was pressed", "min"),
        ),
        _chill,
        "Estimates, a third either way. A thermometer in the middle knows better.",
    ),
    Help(
        "hot-middle", "brown", "Is the middle hot?",
        (
            Box("edge", "Edge of a cube", "mm", usual="15 mm"),
            Box("side", "Minutes on each side", "min", usual="3 min"),
            Box("when", "They go", choices=(("served", "Straight to the table"),
                                            ("held", "Into a warm oven first"))),
        ),
        _hot_middle,
    ),
    Help(
        "plate", "serve", "How long do they stay hot?",
        (
            Box("piece", "Heat of a cube as it leaves", "degC", usual="75 °C"),
            Box("plate", "Heat of the plate", "degC", usual="60 °C", reading="plate-temperature"),
        ),
        _plate,
        "A model, good to a third either way.",
    ),
)  # fmt: skip
"""Every help, in the order of the stages."""


def helps_at(stage: str) -> tuple[Help, ...]:
    """The helps of a stage."""
    return tuple(each for each in HELPS if each.stage == stage)


def help_named(name: str) -> Help | None:
    """The help of that name."""
    return next((each for each in HELPS if each.id == name), None)
