"""Two gates: is the milk ready for its flour, and has the paste had its heat before more flour.

An undercooked paste only *looks* wet. So before any flour is added to a paste it is asked whether
it was at 85 °C (185 °F) or hotter, lazily bubbling, for 3 minutes; "no" and "don't know" both mean
cook on first. House rules; the reasons are in ``starch``. No percentage is printed.
"""

from dataclasses import dataclass

from .refusing import require_between
from .starch import gate_passed

MILK_C = 80.0
"""Below it flour thickens late and lumps (common practice, no source)."""
SIMMER_LEAST_MIN = 5.0
"""Milk simmers 5 to 7 minutes (common practice, no source)."""
FLOATS_UNDER_C = 60.0
"""Below it flour floats and will not wet (common practice, no source)."""
BUBBLING = ("none", "lazy", "rolling")


def _known_bubbling(bubbling: str | None) -> None:
    if bubbling is not None and bubbling not in BUBBLING:
        raise ValueError(f'"{bubbling}" is not a bubbling. Accepted: {", ".join(BUBBLING)}.')


@dataclass(frozen=True, slots=True)
class Gate:
    """``passed`` is None while not known. ``ask`` is what would settle it, in the cook's words."""

    passed: bool | None
    do: str
    ask: tuple[str, ...]

    @property
    def flour_may_go_in(self) -> bool:
        """Only a gate known to be passed lets flour in."""
        return self.passed is True


_HOW_HOT = "How hot did the paste get, stirred and measured in the middle?"
_HOW_LONG = "How many minutes did it bubble lazily?"
_DOES_IT = "Does it bubble: not at all, lazily, or at a rolling boil?"
_RAIN = "Rain the flour in by thirds, beating."
_COOK_ON = (
    "Cook on first, the lid ajar, beating: 85 °C (185 °F) or hotter, lazily bubbling, "
    "for 3 minutes. Then look. If it has turned stiff, beat in warm milk by the spoon."
)


def before_more_flour(hottest_c: float | None, minutes_bubbling: float | None) -> Gate:
    """Whether flour may be thought of: the hottest the paste got, and its minutes of lazy bubbling.

    None is "did not look" and never "no". Paste -5 to 110 °C, 0 to 600 min; ``ValueError`` outside.
    House rule: 85 °C for 3 minutes.

    >>> before_more_flour(78, None).passed, before_more_flour(92, 5).passed
    (False, True)
    >>> before_more_flour(92, None).ask
    ('How many minutes did it bubble lazily?',)
    """
    if hottest_c is not None:
        require_between("A paste temperature", hottest_c, -5.0, 110.0, "°C")
    if minutes_bubbling is not None:
        require_between("Minutes bubbling", minutes_bubbling, 0.0, 600.0, "min")
    passed = gate_passed(hottest_c, minutes_bubbling)
    if passed:
        return Gate(True, "It has had its heat. Judge by the look.", ())
    if passed is False:
        return Gate(False, _COOK_ON, ())
    asked = ((_HOW_HOT, hottest_c), (_HOW_LONG, minutes_bubbling))
    return Gate(None, _COOK_ON, tuple(question for question, told in asked if told is None))


def milk_before_flour(
    milk_c: float | None, minutes_simmered: float | None = None, bubbling: str | None = None
) -> Gate:
    """Whether the milk is ready for its flour: 80 °C (176 °F) or hotter, and not at a rolling boil.

    Flour dumped into boiling milk gels outside and stays dry inside; under 60 °C it floats. Lazy
    bubbles count as hot. Simmering 5 to 7 minutes drives off water: it is told, not a gate. All
    common practice, no source. Milk 0 to 110 °C, 0 to 600 min; ``ValueError`` outside and for an
    unknown word.

    >>> milk_before_flour(92).passed, milk_before_flour(70).passed, milk_before_flour(None).passed
    (True, False, None)
    """
    _known_bubbling(bubbling)
    if milk_c is not None:
        require_between("Milk", milk_c, 0.0, 110.0, "°C")
    if minutes_simmered is not None:
        require_between("Minutes simmered", minutes_simmered, 0.0, 600.0, "min")
    if bubbling == "rolling":
        return Gate(False, "Take it off the boil, then rain the flour in by thirds, beating.", ())
    if milk_c is not None and milk_c < FLOATS_UNDER_C:
        return Gate(False, "Heat it first: flour floats on milk this cool.", ())
    if milk_c is not None and milk_c < MILK_C:
        return Gate(False, "Heat it to 80 °C (176 °F) first. If the flour is in: keep heating.", ())
    if milk_c is not None or bubbling == "lazy":
        if minutes_simmered is not None and minutes_simmered < SIMMER_LEAST_MIN:
            # Less water has left than the amounts reckon with: told, but never a reason to wait.
            return Gate(True, f"{_RAIN} It simmered short: expect to cook the paste longer.", ())
        return Gate(True, _RAIN, ())
    return Gate(
        None,
        "Bring it to a lazy simmer, then rain the flour in by thirds, beating.",
        ("How hot is the milk?", _DOES_IT),
    )
