"""What the trade has printed or practises, one statement at a time, against the shipped book.

Each statement names who says it. "common practice, no source" is what cooks do; "from memory" has
not been looked up; "our sum" is worked out here from published numbers and is shown as a house
rule. The checks go by what the book advises and by computation, not by its wording.

Here: heat, water, flour and the paste. What comes after it has a file of its own.
"""

from __future__ import annotations

import re

import pytest
from trade import (
    CAUSES,
    COOKED,
    DOUGH,
    FOOT_M,
    MARKS,
    PRACTICE,
    REMEDIES,
    STAGES,
    WEIGHED,
    Statement,
    Statements,
    ask,
    band,
    celsius,
    chance,
    computed,
    first,
    says,
)

from diagnose.kitchen.atmosphere import water_boils_at_c
from diagnose.kitchen.balance import starch_g, water_g, water_to_flour
from diagnose.kitchen.computations import DOSES, MINUTES, READINGS
from diagnose.kitchen.correction import milk_to_target_g
from diagnose.kitchen.flour_moisture import standard_flour_g
from diagnose.kitchen.starch import GATE_C, GATE_MIN, gelatinized_98_min
from diagnose.kitchen.state import KitchenState

STATEMENTS = Statements()
stated = STATEMENTS.stated


# Where water boils


def _boils(source: str, feet: int, printed_f: float) -> None:
    @stated(source, f"Water boils at {printed_f:g} °F at {feet:,} ft")
    def check() -> None:
        told = computed("boiling-point", metres=feet * FOOT_M)
        assert told * 1.8 + 32 == pytest.approx(printed_f, abs=0.8)


for _feet, _printed in ((2_000, 208.0), (5_000, 203.0), (7_500, 198.0), (10_000, 193.0)):
    _boils("Colorado State University Extension, Table 1", _feet, _printed)
for _feet, _printed in ((1_000, 210.2), (6_000, 201.1), (8_000, 197.4)):
    _boils("NOAA boiling points", _feet, _printed)


@stated("University of Wyoming Extension 2024", "Just under 1 °F lower for each 500 ft")
def _() -> None:
    fall = (water_boils_at_c(0) - water_boils_at_c(10_000 * FOOT_M)) * 1.8
    assert 0.85 < fall / 20 < 1.0


@stated(
    "IAPWS R7-97 at 101,325 Pa", "At sea level 99.97 °C, to a cook 100; nobody is shown decimals"
)
def _() -> None:
    assert READINGS["boiling-point"].function(KitchenState(elevation_m=0)) == pytest.approx(
        99.974, abs=0.02
    )
    said = next(c.say for c in ask(metres=0).computed if c.id == "boiling-point")
    assert "100 °C" in said
    assert not re.search(r"\d\.\d", said)


@stated(
    "IAPWS saturation line", "Weather moves the boil by half a degree, so a measured boil counts"
)
def _() -> None:
    there = KitchenState(elevation_m=2133.6, boil_c=92.3)
    assert READINGS["boiling-point"].function(there) == 92.3


# Altitude


@stated("USDA FSIS, high altitude", "High altitude begins at 3,000 ft (914 m)")
def _() -> None:
    assert band("elevation", 640) == "low"
    assert band("elevation", 3_000 * FOOT_M) == "high"
    spoonful = DOSES["altitude-spoonful"].function
    assert spoonful(KitchenState(milk_g=500, elevation_m=640)) is None
    assert spoonful(KitchenState(milk_g=500, elevation_m=3_000 * FOOT_M)) is not None


@stated(PRACTICE, "About 2 Tbsp more flour per 2 cups of milk at 7,000 ft, shown as practice")
def _() -> None:
    it = REMEDIES["altitude-spoonful"]
    assert it.label == "common practice"
    assert MARKS[it.source.see] == "none"
    assert "practice" in says("altitude-spoonful")
    dose = DOSES["altitude-spoonful"].function(KitchenState(milk_g=488, elevation_m=2133.6))
    assert dose is not None
    assert dose.unit == "tablespoon"
    assert dose.start_with == 1
    assert dose.count * it.may_repeat <= 2  # never beyond the practice, a spoon at a time


@stated(
    "Extension and USDA texts", "None gives a figure for a milk-and-flour paste: never published"
)
def _() -> None:
    altitude = [r for r in DOUGH.remedies if any(a.by == "altitude-spoonful" for a in r.amounts)]
    assert altitude
    assert all(remedy.label != "published" for remedy in altitude)


@stated(
    "Gisslen, Table 33.3, against Wyoming's yeast doughs",
    "Flour advice at altitude contradicts itself: how it was measured is asked first",
)
def _() -> None:
    found = ask(metres=2310, signs={"paste-body": "slumps"}, readings=COOKED)
    assert found.plan[0].remedy != "altitude-spoonful"


@stated("Our sum on Beranbaum's cups", "The error of the cup is larger than the whole spoonful")
def _() -> None:
    used = [computed("flour-really-used", batch={**WEIGHED, "flour_measured": m})
            for m in ("sifted-first", "dipped")]  # fmt: skip
    assert used[1] - used[0] > 16


@stated(
    "University of Wyoming Extension, yeast doughs",
    "Dry flour takes up more liquid: it stiffens a paste and cannot ask for more flour",
)
def _() -> None:
    assert standard_flour_g(100, 9.0) == pytest.approx(103.3, abs=0.1)
    told = {"paste-body": "slumps", "held-hot": "yes"}
    low, high = (chance("flour-short", metres=metres, signs=told) for metres in (6, 2310))
    assert high <= low


@stated("University of Wyoming Extension, cakes", "Only one adjustment at a time")
def _() -> None:
    assert re.search(r"\bone\b", says("start-over"))


@stated(
    "Chase 1942, at 4,700 ft", "Over a water bath the paste is too cool; direct heat thickens it"
)
def _() -> None:
    told = {"paste-body": "slumps", "heat-source": "water-bath"}
    assert first(metres=1433, signs=told, not_looked=["held-hot"]) == "cook-on-hotter"
    direct = chance("undercooked-paste", signs={**told, "heat-source": "direct"})
    assert chance("undercooked-paste", signs=told) > direct


@stated(
    "Chase 1942",
    "Boiled 5 minutes over direct heat: heat is given up after 5 minutes, not before 2",
)
def _() -> None:
    for metres in (6, 640, 2310):
        minutes = MINUTES["minutes-to-the-gate"].function(KitchenState(elevation_m=metres))
        assert minutes is not None
        assert 2 <= minutes.low <= minutes.high <= 5


# Starch


@stated(
    "McGee 2004", "A starch paste is thickest near 93 °C: slack at 78 °C is heated before anything"
)
def _() -> None:
    found = ask(signs={"paste-body": "slumps"}, readings={"paste-temperature": 78})
    assert found.plan[0].kind == "heat"
    assert not {step.kind for step in found.plan} & {"flour"}


@stated(
    "Journal of Food Engineering 53:39",
    "Temperature decides and not minutes: 20 minutes at 80 °C are not cooked",
)
def _() -> None:
    told = {"paste-temperature": 80, "minutes-cooked": 20}
    assert first(signs={"paste-body": "slumps"}, readings=told) == "cook-on-hotter"


@stated(
    "Wheat starch by calorimetry, 2014", "Gelatinization ends by 68 °C, so the gate lies above it"
)
def _() -> None:
    assert GATE_C > 68.2
    assert water_boils_at_c(10_000 * FOOT_M) > GATE_C  # and below the boil wherever one cooks


@stated("Bread crumb kinetics, second-hand", "98 % takes 4 minutes at 85 °C and 17 at 75 °C")
def _() -> None:
    assert gelatinized_98_min(85) == pytest.approx(4.4, abs=0.2)
    assert gelatinized_98_min(75) == pytest.approx(17, abs=0.7)
    assert GATE_MIN == 3


@stated("McGee 2004", "Cooked on too long the granules break and the sauce thins out")
def _() -> None:
    thin = {"paste-body": "slumps", "bubbling": "rolling", "held-hot": "yes"}
    still = chance("boiled-thin", signs={**thin, "thickness-course": "still-thickening"})
    told = {**thin, "thickness-course": "thinned-again"}
    assert chance("boiled-thin", signs=told) > still
    assert first(signs=told, readings={"minutes-cooked": 20}) != "cook-on-hotter"


@stated(
    "Cereal texts, from memory", "Dawdling at 60 to 75 °C lets the flour thin itself; heat stops it"
)
def _() -> None:
    assert REMEDIES[CAUSES["lingered-lukewarm"].tries[0].remedy].kind == "heat"


@stated("McGee 2004", "A spoonful on a cool plate tells how it will set")
def _() -> None:
    told = {"paste-body": "slumps", "held-hot": "yes"}
    spreads = chance("flour-short", signs={**told, "plate-test": "spreads"}, batch=WEIGHED)
    assert spreads > chance("flour-short", signs={**told, "plate-test": "holds"}, batch=WEIGHED)


@stated("Sasaki 2005", "Low-amylose starch sets soft, and more of it does not help")
def _() -> None:
    told = {"paste-body": "slumps", "held-hot": "yes", "flour-kind": "gluten-free"}
    found = ask(signs={**told, "stretch": "strings"})
    assert found.causes[0].id == "weak-setting-flour"
    assert all(REMEDIES[t.remedy].kind != "flour" for t in CAUSES["weak-setting-flour"].tries)


@stated("Escoffier 1903, p. 87", "A panada is dried until it detaches cleanly")
def _() -> None:
    told = {"paste-body": "one-mass", "held-hot": "yes"}
    cleanly = chance("nothing-wrong", signs={**told, "pulls-away": "cleanly"})
    assert cleanly > chance("nothing-wrong", signs={**told, "pulls-away": "no"})


@stated("Lowe 1937, cream puffs", "A spoon pressed on it leaves a sharp, smooth print")
def _() -> None:
    told = {"paste-body": "one-mass", "held-hot": "yes"}
    sharp = chance("nothing-wrong", signs={**told, "imprint": "sharp"})
    assert sharp > chance("nothing-wrong", signs={**told, "imprint": "blurred"})


@stated(
    "Lowe 1937, cream puffs", "Over-cooking drives fat out; the paste is too dry and gets liquid"
)
def _() -> None:
    told = {"paste-body": "stiff-crumbly", "fat": "beads", "held-hot": "yes"}
    assert ask(signs=told, batch=WEIGHED).plan[0].kind == "liquid"


# Flour: how much, and how it was measured


@stated(
    "Family Fare, white sauce", "Four tablespoons to a cup of milk is a thick sauce and no slab"
)
def _() -> None:
    spoons = READINGS["flour-per-cup-of-milk"].function(
        KitchenState(milk_g=500, flour_g=64, flour_measured="weighed")
    )
    assert spoons == pytest.approx(4, abs=0.1)
    told = {**WEIGHED, "flour_g": 64}
    found = ask(signs={"paste-body": "pours", "held-hot": "yes"}, batch=told)
    assert found.causes[0].id == "flour-short"
    assert found.plan[0].kind == "flour"


@stated(PRACTICE, "About 6 tablespoons of flour to a cup of milk for a paste to cut")
def _() -> None:
    spoons = READINGS["flour-per-cup-of-milk"].function(
        KitchenState(milk_g=500, flour_g=100, flour_measured="weighed")
    )
    assert spoons == pytest.approx(6, abs=0.5)


def _cup(method: str, cup_g: float) -> None:
    @stated("Beranbaum, The Cake Bible", f"A cup of flour {method} is {cup_g:g} g, labelled 125 g")
    def check() -> None:
        used = computed("flour-really-used", batch={**WEIGHED, "flour_measured": method})
        assert used == pytest.approx(0.8 * cup_g, abs=0.5)  # 0.8 cup is meant to be 100 g


for _method, _grams in (("sifted-first", 113.4), ("spooned", 120.5), ("dipped", 141.8)):
    _cup(_method, _grams)


@stated("USDA SR27, wheat flour", "A cup of flour is 125 g, a tablespoon 7.8 g")
def _() -> None:
    assert band("flour-cup", 125) == "as-labelled"
    dose = DOSES["one-spoon-of-flour"].function(KitchenState(milk_g=500))
    assert dose is not None
    assert dose.grams == pytest.approx(7.8, abs=0.1)


@stated("Wolke 2006", "A cup of flour has been printed as 99 g: too little went in")
def _() -> None:
    told = {"flour-cup": 99.0}
    found = ask(signs={"paste-body": "slumps", "held-hot": "yes"}, readings=told)
    assert found.causes[0].id == "flour-short"


@stated("Wolke 2006", "A cup of flour has been printed as 160 g: too much went in")
def _() -> None:
    found = ask(signs={"paste-body": "stiff-crumbly"}, readings={"flour-cup": 160.0})
    assert found.causes[0].id == "flour-over"
    assert found.plan[0].kind == "liquid"


@stated(PRACTICE, "Flour goes in a tablespoon at a time when the paste is soupy")
def _() -> None:
    told = {**WEIGHED, "flour_measured": "sifted-first"}
    found = ask(signs={"paste-body": "pours"}, readings=COOKED, batch=told)
    assert found.plan[0].remedy == "add-flour-by-the-spoon"
    assert found.plan[0].amounts[0].start_with == "1 tablespoon"


@stated("From memory", "Late flour goes in as a smooth slurry and is cooked 2 minutes above 85 °C")
def _() -> None:
    assert "smooth" in says("stir-in-slurry")
    assert max(celsius(says("stir-in-slurry"))) >= 85
    assert {a.of for a in REMEDIES["stir-in-slurry"].amounts} == {"flour", "milk"}


@stated(PRACTICE, "No flour once the yolk is in: it stays raw and does not take up fat")
def _() -> None:
    before = STAGES[: STAGES.index("temper")]
    flour = [remedy for remedy in DOUGH.remedies if remedy.kind == "flour"]
    assert flour
    assert all(set(remedy.stages) <= set(before) for remedy in flour)


@stated(
    "Chase 1942 and McGee 2004", "What is undercooked only looks wet: no flour before it is cooked"
)
def _() -> None:
    for remedy in DOUGH.remedies:
        if remedy.kind == "flour":
            assert remedy.only_after, remedy.id
            assert "undercooked-paste" in dict(remedy.harm_under), remedy.id


@stated("Our sum from USDA SR27", "A tablespoon of flour does what 27.5 g of steam does")
def _() -> None:
    thicker = water_to_flour(water_g(500, 107.8, 60), 107.8)
    drier = water_to_flour(water_g(500, 100, 60 + 27.5), 100)
    assert thicker == pytest.approx(drier, abs=0.01)


@stated("Our sum from USDA SR27", "10 g of flour too much are undone by about 43 g of milk")
def _() -> None:
    at_target = milk_to_target_g(starch_g(100), water_g(500, 100, 60))
    one_more = milk_to_target_g(starch_g(110), water_g(500, 110, 60))
    assert one_more - at_target == pytest.approx(43, abs=1.5)


@stated("Our sum from USDA SR27", "A paste ready to leave the heat weighs 529 to 559 g in the pan")
def _() -> None:
    told = READINGS["expected-pan-contents"].function(
        KitchenState(milk_g=500, flour_g=100, flour_measured="weighed", salt_g=4)
    )
    assert told is not None
    assert 529 <= told <= 559


@stated("Our sum on the area of a pan", "A double batch in the usual pan loses too little water")
def _() -> None:
    told = {"paste-body": "slumps", "held-hot": "yes"}
    batch = {"milk_g": 1000, "flour_g": 200, "flour_measured": "weighed"}
    crowded = ask(signs={**told, "batch-in-pan": "crowded"}, batch=batch)
    assert crowded.plan[0].kind == "heat"
    assert chance("little-driven-off", signs={**told, "batch-in-pan": "crowded"}, batch=batch) > (
        chance("little-driven-off", signs={**told, "batch-in-pan": "usual"}, batch=batch)
    )


@stated("USDA SR27, self-rising flour", "It holds salt and leavening: change it before the start")
def _() -> None:
    assert first("weigh", signs={"flour-kind": "self-rising"}) == "change-the-flour"


@stated(PRACTICE, "The milk simmers 5 to 7 minutes")
def _() -> None:
    assert [band("minutes-simmered", m) for m in (5, 6, 7)] == ["usual"] * 3


@stated(PRACTICE, "It is beaten 4 to 5 minutes until it pulls away from the pan")
def _() -> None:
    assert [band("minutes-cooked", m) for m in (4, 4.5, 5)] == ["usual"] * 3


@pytest.mark.parametrize("statement", STATEMENTS, ids=str)
def test_the_advice_agrees_with_what_the_trade_states(statement: Statement) -> None:
    statement.check()


def test_there_are_forty_statements_and_each_says_who_states_it_once() -> None:
    assert len(STATEMENTS) >= 40
    assert len({str(statement) for statement in STATEMENTS}) == len(STATEMENTS)
    assert all(statement.source and statement.says for statement in STATEMENTS)
