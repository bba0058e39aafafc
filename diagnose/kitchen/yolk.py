"""The yolks going in: how long off the heat, what a cool bowl does, tempering, and the egg rule.

``mixing`` holds the sums and the light. What scrambles is yolk lying on a hot pan or hot paste, not
the mass, so the light protects yolk that is not yet beaten in. Never print: seconds to set, the
yolks' own temperature, log reductions, a ratio at which fat oils out.

Sources: H. McGee, *On Food and Cooking* (2004); FDA, *Key Temperatures for Egg Safety*; Colorado
State University Extension, *Safe Handling and Preparation with Eggs*.
"""

from dataclasses import dataclass
from math import log
from types import MappingProxyType

from .estimates import Estimate, spread
from .mixing import PASTE_CP, YOLK_G, YolkLight, after_yolks_c, mixed_c, tempered_yolk_c, yolk_light
from .refusing import require_between, require_positive

KITCHEN_C = 22.0
OFF_HEAT_SAY = "2 to 8 minutes, the shorter the more it is beaten; measure"
"""All that is printed of the waiting: the spread is three-fold."""
_OFF_HEAT_SPREAD = 0.35

_TAU_MIN = MappingProxyType({"still": 18.6, "stirred": 9.3, "beaten": 5.3})
"""Time constants fitted to 6 / 7, 3 / 3.5 and 1.7 / 2 min from 95 to 75 / 72 °C (derived)."""
LEAST_PASTE_G, MOST_PASTE_G = 400.0, 700.0


def minutes_off_the_heat(
    paste_c: float, target_c: float, how: str = "stirred", paste_g: float = 536.0
) -> Estimate:
    """Minutes off the heat from ``paste_c`` to ``target_c``, "still", "stirred" or "beaten".

    0.4 to 0.7 kg of paste in a 20 cm steel pan; paste 68 to 105 °C, target 68 °C to the paste's own
    temperature. ``ValueError`` outside. For planning: print ``OFF_HEAT_SAY``. Derived, 35 % either
    way: stirred, from 95 to 75 °C in 3 min.

    >>> round(minutes_off_the_heat(95, 75, "stirred").central, 1)
    3.0
    """
    if how not in _TAU_MIN:
        raise ValueError(f'"{how}" is not a way to cool paste. Accepted: {", ".join(_TAU_MIN)}.')
    require_between("Paste to cool", paste_g, LEAST_PASTE_G, MOST_PASTE_G, "g")
    require_between("A paste temperature", paste_c, 68.0, 105.0, "°C")
    require_between("A temperature to cool to", target_c, 68.0, paste_c, "°C")
    minutes = _TAU_MIN[how] * log((paste_c - KITCHEN_C) / (target_c - KITCHEN_C))
    return spread(minutes, _OFF_HEAT_SPREAD)


BOWL_CP = MappingProxyType({"glass": 0.84, "ceramic": 0.84, "steel": 0.50})
"""kJ/kgK, from memory."""


@dataclass(frozen=True, slots=True)
class BowlTrick:
    """Paste turned into a bowl at room temperature: where it lands and the light it then has."""

    after_c: float
    light: YolkLight


def bowl_trick(
    paste_g: float, paste_c: float, bowl_g: float, made_of: str = "glass", bowl_c: float = KITCHEN_C
) -> BowlTrick:
    """What a bowl does to hot paste at once, by mixing; no heat lost to the air.

    Paste 50 to 105 °C, bowl 0 to 40 °C; ``ValueError`` outside and for an unknown material.
    Derived: a heavy glass or ceramic bowl (0.9 to 1.0 kg) takes 536 g at 95 °C to about 74, a thin
    steel one only to 89.

    >>> round(bowl_trick(536, 95, 900).after_c), round(bowl_trick(536, 95, 350, "steel").after_c)
    (74, 89)
    """
    if made_of not in BOWL_CP:
        raise ValueError(f'"{made_of}" is not a bowl known here. Accepted: {", ".join(BOWL_CP)}.')
    require_positive("Paste", paste_g)
    require_positive("A bowl", bowl_g)
    require_between("A paste temperature", paste_c, 50.0, 105.0, "°C")
    require_between("A bowl's temperature", bowl_c, 0.0, 40.0, "°C")
    after = mixed_c([(paste_g, PASTE_CP, paste_c), (bowl_g, BOWL_CP[made_of], bowl_c)])
    return BowlTrick(after, yolk_light(after))


def bowl_wanted_g(paste_g: float, paste_c: float) -> Estimate:
    """How heavy a glass or ceramic bowl (g) at 22 °C brings the paste to 75 (low) to 72 °C (high).

    Paste 76 to 105 °C. By mixing; 536 g at 95 °C wants 0.85 to 1.03 kg, said as "0.9 to 1.0 kg".

    >>> bowl_wanted_g(536, 95).rounded(10).say()
    '850 to 1,030 g'
    """
    require_positive("Paste", paste_g)
    require_between("A paste temperature", paste_c, 76.0, 105.0, "°C")
    heaviest, middle, lightest = (
        paste_g * PASTE_CP * (paste_c - target) / (BOWL_CP["glass"] * (target - KITCHEN_C))
        for target in (72.0, 73.5, 75.0)
    )
    return Estimate(lightest, middle, heaviest, "g")


PASTE_SPOON_G = 16.0
"""g, one tablespoon of paste (80 g are 5)."""
TEMPER_SPOONS_PER_YOLK = (2.0, 2.5, 3.0)
"""4 to 6 tablespoons for two yolks."""


@dataclass(frozen=True, slots=True)
class Tempering:
    """Hot paste into the yolks first, then all of it back: spoons, and both temperatures."""

    spoons: Estimate
    in_the_bowl_c: Estimate
    all_together_c: float


def tempering(paste_g: float, paste_c: float, yolks: float) -> Tempering:
    """What 4 to 6 tablespoons of paste do to two cold yolks (scaled to ``yolks``), then the rest.

    Paste 72 to 85 °C: hotter, wait first. ``ValueError`` outside, and where the paste is less than
    its own spoons. By mixing: 80 g (5 spoons) at 85 °C bring two yolks to 63 °C.

    >>> round(tempering(536, 85, 2).in_the_bowl_c.central)
    63
    """
    require_positive("Yolks", yolks, "yolks")
    require_between("Paste for tempering", paste_c, 72.0, 85.0, "°C")
    fewest, between, most = TEMPER_SPOONS_PER_YOLK
    few, usual, many = (PASTE_SPOON_G * spoons * yolks for spoons in TEMPER_SPOONS_PER_YOLK)
    if paste_g <= many:
        raise ValueError(
            f"{paste_g:.0f} g of paste is too little to temper {yolks:g} yolks; "
            f"more than {many:.0f} g is accepted."
        )
    low, central, high = (
        tempered_yolk_c(spooned, paste_c, yolks * YOLK_G) for spooned in (few, usual, many)
    )
    return Tempering(
        Estimate(fewest * yolks, between * yolks, most * yolks, "tbsp"),
        Estimate(low, central, high, "degC"),
        after_yolks_c(paste_g, paste_c, yolks),
    )


@dataclass(frozen=True, slots=True)
class EggRule:
    """A temperature and for how long; seconds are None where only the temperature is asked."""

    name: str
    at_least_c: float
    seconds: int | None
    say: str


EGG_RULES = MappingProxyType(
    {
        rule.name: rule
        for rule in (
            EggRule(
                "not-served-at-once",
                68.0,
                17,
                "68 °C (155 °F) for 17 seconds, where eggs are not served at once",
            ),
            EggRule(
                "served-at-once",
                63.0,
                15,
                "63 °C (145 °F) for 15 seconds, where eggs are served at once",
            ),
            EggRule("home", 71.0, None, "71 °C (160 °F), for egg and milk cooked at home"),
        )
    }
)
"""FDA, *Key Temperatures for Egg Safety* (the first two); Colorado State University Extension (the
third). The rule is what is used, never a computed kill. The local code decides."""


def egg_rule_met(mass_c: float, seconds: float, rule: str = "not-served-at-once") -> bool:
    """Whether a mass held ``seconds`` at ``mass_c`` (0 to 105 °C) meets the rule.

    ``ValueError`` outside and for an unknown rule. FDA: 68 °C for 17 s.

    >>> egg_rule_met(68, 17), egg_rule_met(68, 10), egg_rule_met(71, 0, "home")
    (True, False, True)
    """
    if rule not in EGG_RULES:
        raise ValueError(f'"{rule}" is not an egg rule. Accepted: {", ".join(EGG_RULES)}.')
    require_between("A temperature", mass_c, 0.0, 105.0, "°C")
    asked = EGG_RULES[rule]
    return mass_c >= asked.at_least_c and (asked.seconds is None or seconds >= asked.seconds)


HOLD_LOW_C, HOLD_HIGH_C, HOLD_MIN = 72.0, 78.0, (2, 3)
"""The optional hold of the beaten-in yolk: house rule, untested."""
HOLD_SAY = (
    "Optional, a house rule nobody has tested: when the yolks are beaten smooth, stir at "
    "72 to 78 °C (162 to 172 °F) for 2 to 3 minutes, before cheese and butter."
)
"""For a slab that is firm at night and loose next morning. Yolk mixed into starch paste at 70 °C
thinned it (J. Home Econ. Japan 30(2), abstract); the enzyme of whole egg died at 64.4 °C in 2.5
min (Shrimpton et al., J. Hyg. 60:153, 1962, abstract)."""


@dataclass(frozen=True, slots=True)
class YolkWindow:
    """All that helps at the moment the yolks would go in."""

    light: YolkLight
    wait_say: str
    """How long off the heat; empty where there is nothing to wait for."""
    bowl_g: Estimate | None
    """A glass or ceramic bowl that brings it to 75 to 72 °C at once; None below 76 °C."""
    temper: Tempering | None
    """Given between 75 and 85 °C."""
    after_yolks_c: float
    egg_rule_reached: bool
    """Whether the mass is then at 68 °C (155 °F) or more: it has to stay there 17 seconds."""


def yolk_window(paste_g: float, paste_c: float, yolks: float) -> YolkWindow:
    """The light for ``paste_g`` at ``paste_c`` (50 to 105 °C), and what would turn it.

    ``ValueError`` outside, and for paste too little to temper its yolks. By mixing: two cold yolks
    take 536 g at 72 °C to 68.

    >>> hot = yolk_window(536, 95, 2)
    >>> hot.light.light, hot.wait_say == OFF_HEAT_SAY, hot.bowl_g.rounded(10).say()
    ('red', True, '850 to 1,030 g')
    >>> yolk_window(536, 73, 2).egg_rule_reached, yolk_window(536, 60, 2).egg_rule_reached
    (True, False)
    """
    require_positive("Paste", paste_g)
    require_positive("Yolks", yolks, "yolks")
    require_between("A paste temperature", paste_c, 50.0, 105.0, "°C")
    light = yolk_light(paste_c)
    after = after_yolks_c(paste_g, paste_c, yolks)
    return YolkWindow(
        light=light,
        wait_say=OFF_HEAT_SAY if paste_c > 75.0 else "",
        bowl_g=bowl_wanted_g(paste_g, paste_c) if paste_c >= 76.0 else None,
        temper=tempering(paste_g, paste_c, yolks) if 75.0 < paste_c <= 85.0 else None,
        after_yolks_c=after,
        egg_rule_reached=after >= EGG_RULES["not-served-at-once"].at_least_c,
    )
