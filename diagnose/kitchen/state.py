"""Everything the arithmetic may need to know of one kitchen and one batch."""

from dataclasses import dataclass
from types import MappingProxyType

from .measuring import flour_method
from .refusing import require_amount


@dataclass(frozen=True, slots=True)
class KitchenState:
    """What was told so far, in fixed units. None means *not known*; it never means zero.

    Flour told for a batch measured in cups is grams meant at 125 g a cup. The pan's contents are
    without the pan, and as weighed before the remedies below, unless ``pan_weighed_last`` says
    that the pan was weighed after them. ``ValueError`` for a negative or endless amount and for
    an unknown way of measuring flour; ``contradictions`` finds numbers that cannot be together.
    """

    elevation_m: float | None = None
    boil_c: float | None = None
    """Measured boiling point of water here; used before the elevation."""
    milk_g: float | None = None
    flour_g: float | None = None
    flour_measured: str = "unknown"
    salt_g: float | None = None
    """Where None, 0.8 % of the milk stands in for it."""
    yolks: float | None = None
    cheese_g: float | None = None
    butter_g: float | None = None
    simmer_min: float | None = None
    cook_min: float | None = None
    paste_c: float | None = None
    pan_contents_g: float | None = None
    slab_mm: float | None = None
    core_c: float | None = None
    """The middle of the slab."""
    flour_added_g: float = 0.0
    """Added by remedies tried so far, as are the next two."""
    milk_added_g: float = 0.0
    cooked_more_min: float = 0.0
    pan_weighed_last: bool = False

    def __post_init__(self) -> None:
        flour_method(self.flour_measured)
        for what, value, unit in (
            ("Milk", self.milk_g, "g"),
            ("Flour", self.flour_g, "g"),
            ("Salt", self.salt_g, "g"),
            ("Cheese", self.cheese_g, "g"),
            ("Butter", self.butter_g, "g"),
            ("A number of yolks", self.yolks, "yolks"),
            ("Simmering", self.simmer_min, "min"),
            ("Cooking", self.cook_min, "min"),
            ("The pan's contents", self.pan_contents_g, "g"),
            ("A slab's thickness", self.slab_mm, "mm"),
            ("Flour added", self.flour_added_g, "g"),
            ("Milk added", self.milk_added_g, "g"),
            ("Cooking on", self.cooked_more_min, "min"),
        ):
            if value is not None:
                require_amount(what, value, unit)


INPUTS = MappingProxyType(
    {
        "elevation": "elevation_m",
        "boiling water": "boil_c",
        "milk": "milk_g",
        "flour": "flour_g",
        "flour measured": "flour_measured",
        "salt": "salt_g",
        "yolks": "yolks",
        "cheese": "cheese_g",
        "butter": "butter_g",
        "minutes simmered": "simmer_min",
        "minutes cooked": "cook_min",
        "paste temperature": "paste_c",
        "pan contents": "pan_contents_g",
        "slab thickness": "slab_mm",
        "slab temperature": "core_c",
    }
)
"""The inputs by the words an author writes, and the field that holds each."""


def is_known(state: KitchenState, words: str) -> bool:
    """Whether the input an author calls ``words`` was told.

    >>> is_known(KitchenState(milk_g=500), "milk"), is_known(KitchenState(), "flour measured")
    (True, False)
    """
    return getattr(state, INPUTS[words]) not in (None, "unknown")
