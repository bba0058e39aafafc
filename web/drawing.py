"""One picture: a scene and its degrees, as ``web/pictures.py`` explains them."""

from dataclasses import dataclass
from typing import Literal

Scene = Literal[
    "spoon", "above", "bowl", "finger", "pan", "ladle", "floor", "close", "print", "path", "lift",
    "hob", "level", "yolks", "rain", "slab", "cut", "cube", "half", "cubes", "plate", "press",
    "rack", "scale", "film", "lies", "load", "rows", "crust", "blot", "whisk",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Picture:
    """One drawing: ``says`` is its alternative text, a phrase that says what is shown.

    >>> Picture("A thin stream runs off the spoon", "spoon", slack=4).torn
    0
    """

    says: str
    scene: Scene
    slack: int = 2
    shine: int = 0
    torn: int = 0
    specks: int = 0
    lumps: int = 0
    wet: int = 0
    brown: int = 0
    full: int = 0
    heat: int | None = None
    of: Literal["paste", "card", "wood"] = "paste"
    """What a close look is at: paste, milk (``card``, the lightest fill), or a board."""
