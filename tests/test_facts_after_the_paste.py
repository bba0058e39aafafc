"""What the trade has printed or practises, one statement at a time, against the shipped book.

Each statement names who says it. "common practice, no source" is what cooks do; "from memory" has
not been looked up; "our sum" is worked out here from published numbers and is shown as a house
rule. The checks go by what the book advises and by computation, not by its wording.

Here: yolk, cheese, butter, the slab, the pan, the plate, and what makes ill.
"""

from __future__ import annotations

import re

import pytest
from trade import (
    CAUSES,
    DOUGH,
    MARKS,
    PRACTICE,
    REMEDIES,
    Statement,
    Statements,
    ask,
    celsius,
    chance,
    first,
    named,
    right_at,
    says,
    warns,
)

from diagnose.kitchen.composition import rows
from diagnose.kitchen.computations import MINUTES
from diagnose.kitchen.mixing import after_yolks_c, tempered_yolk_c, yolk_light
from diagnose.kitchen.state import KitchenState

STATEMENTS = Statements()
stated = STATEMENTS.stated


# Yolk


@stated("McGee 2004", "Yolk sets at 65 to 70 °C: on paste at 90 °C it scrambles, and is sieved")
def _() -> None:
    told = {"after-yolk": "strands", "yolk-way": "onto-hot"}
    assert first("temper", signs=told, readings={"paste-temperature": 88}) == (
        "press-through-a-sieve"
    )


@stated("McGee 2004 and our sum", "Over 85 °C wait, 75 to 85 °C temper, 72 to 75 °C go")
def _() -> None:
    assert [yolk_light(c).light for c in (90, 80, 74, 60)] == ["red", "amber", "green", "amber"]
    told = {"yolk-in": "not-yet"}
    assert first("temper", signs=told, readings={"paste-temperature": 92}) == "wait-and-cool"
    assert {72, 75} <= set(celsius(says("wait-and-cool")))


@stated(
    "Our sum, Choi and Okos 1986", "Two cold yolks cool the paste by 3 to 4 °C, so 72 °C ends at 68"
)
def _() -> None:
    assert 3 <= 75 - after_yolks_c(536, 75, 2) <= 4
    assert after_yolks_c(536, 72, 2) == pytest.approx(68, abs=0.6)


@stated(
    "Our sum, Choi and Okos 1986",
    "Five spoons of paste at 85 °C bring two yolks to 63 °C, three to 54",
)
def _() -> None:
    assert tempered_yolk_c(80, 85, 34) == pytest.approx(63, abs=1)
    assert tempered_yolk_c(48, 85, 34) == pytest.approx(54, abs=1)
    assert re.search(r"\b(5|five)\b", says("temper-yolks-in-now"))


@stated(
    "Our sum, threefold spread", "Cooling to the yolk takes 2 to 8 minutes: a range, and measure"
)
def _() -> None:
    minutes = MINUTES["minutes-to-cool"].function(KitchenState())
    assert minutes is not None
    assert (minutes.low, minutes.high) == (2, 8)
    assert "measure" in says("wait-and-cool")
    assert "heavy" in says("wait-and-cool")  # a thin steel bowl hardly cools it


@stated(
    "FDA, Key Temperatures for Egg Safety", "Egg not served at once: 68 °C (155 °F) for 17 seconds"
)
def _() -> None:
    told = {"yolk-in": "in", "after-yolk": "silky"}
    found = ask("temper", signs=told, readings={"paste-temperature": 62})
    assert found.causes[0].id == "egg-under-temperature"
    assert found.plan[0].remedy == "hold-warm-after-the-yolk"
    assert warns("hold-warm-after-the-yolk", "68 °c", "17 seconds")
    assert min(celsius(REMEDIES["hold-warm-after-the-yolk"].first)) >= 68


@stated(
    "Colorado State University Extension, eggs",
    "At home egg-and-milk mixtures reach 71 °C (160 °F)",
)
def _() -> None:
    assert warns("hold-warm-after-the-yolk", "71 °c", "160 °f")
    told = {"yolk-in": "in", "after-yolk": "silky", "egg-state": "sound", "left-out": "no"}
    found = ask("temper", signs=told, readings={"paste-temperature": 74})
    assert found.plan[0].remedy == "carry-on"


@stated("Journal of Home Economics of Japan 30(2)", "Yolk thins a starch paste that is only warm")
def _() -> None:
    told = {"yolk-in": "in", "after-yolk": "loosened", "yolk-onset": "thins-on"}
    found = ask("temper", signs=told, readings={"paste-temperature": 60})
    assert found.causes[0].id == "yolk-enzyme"
    assert found.plan[0].remedy == "hold-warm-after-the-yolk"


@stated(
    "Shrimpton 1962",
    "The enzyme of egg dies at 64.4 °C in 2.5 minutes: the hold is hotter and longer",
)
def _() -> None:
    it = REMEDIES["hold-warm-after-the-yolk"]
    assert min(celsius(it.first)) > 64.4
    assert it.minutes >= 2.5


@stated("McGee 2004", "Egg in milk thickens at 79 to 83 °C and then curdles: no remedy goes there")
def _() -> None:
    assert max(celsius(REMEDIES["hold-warm-after-the-yolk"].first)) < 79
    assert max(celsius(says("hold-warm-after-the-yolk"))) <= 83
    assert max(celsius(says("drive-off-yolk-water"))) <= 83


@stated(
    "Lowe 1937 (80 °C) against pastry practice (boil)",
    "Printed holds disagree: ours is a house rule",
)
def _() -> None:
    assert REMEDIES["hold-warm-after-the-yolk"].label == "house rule"


@stated("USDA SR27, yolk", "34 g of yolk bring 18 g of water: loose at once at 75 °C is dilution")
def _() -> None:
    assert rows()["01125"].water_g * 0.34 == pytest.approx(17.8, abs=0.1)
    told = {"yolk-in": "in", "after-yolk": "loosened", "yolk-onset": "at-once"}
    found = ask("temper", signs=told, readings={"paste-temperature": 75})
    assert found.causes[0].id == "yolk-diluted"


@stated(PRACTICE, "Whole eggs bring the water of their whites, and that water is steamed off")
def _() -> None:
    told = {"egg-used": "whole-eggs", "after-yolk": "loosened", "yolk-in": "in"}
    found = ask("temper", signs=told, readings={"paste-temperature": 73})
    assert found.plan[0].remedy == "drive-off-yolk-water"


# Cheese and butter


@stated("McGee 2004", "Too hot, cheese squeezes out its fat: it is cooled before anything")
def _() -> None:
    told = {"fat": "pooling", "dough-touch": "greasy"}
    found = ask("enrich", signs=told, readings={"paste-temperature": 84})
    assert found.plan[0].remedy == "cool-and-beat-in-warm-milk"
    assert not any(step.kind == "heat" for step in found.plan[:1])


@stated("McGee 2004", "A broken sauce is cooled and whisked into fresh watery liquid")
def _() -> None:
    it = REMEDIES["cool-and-beat-in-warm-milk"]
    assert it.kind == "cool"
    assert [a.of for a in it.amounts] == ["milk"]
    assert max(celsius(it.first)) <= 55


@stated(
    "McGee 2004",
    "A single yolk carries a dozen cups of oil: more yolk is the last try, not the first",
)
def _() -> None:
    tries = [t.remedy for t in CAUSES["fat-split"].tries]
    assert tries.index("cool-and-beat-in-warm-milk") < tries.index("beat-in-one-more-yolk")


@stated("McGee 2004", "Young cheese pulls strings; a drop of lemon and little stirring help")
def _() -> None:
    told = {"cheese-look": "strings", "cheese-kind": "young"}
    assert first("enrich", signs=told) == "warm-and-fold-the-cheese"
    assert re.search("lemon|wine", says("warm-and-fold-the-cheese"))


@stated(PRACTICE, "Cheese goes in at 60 to 72 °C")
def _() -> None:
    assert {60, 72} <= set(celsius(right_at("enrich")))


@stated(
    "Dairy texts, from memory",
    "Butter slicks in a mass of 75 °C or more and turns creamy at 45 to 60 °C",
)
def _() -> None:
    assert 45 <= max(celsius(REMEDIES["cool-and-beat"].first)) <= 60
    assert "cool-and-beat" in {t.remedy for t in CAUSES["butter-slicked"].tries}


@stated("USDA SR27, ricotta", "Soft cheese brings water, and that dough takes no flour")
def _() -> None:
    found = ask("enrich", signs={"dough-touch": "sticky", "cheese-kind": "soft"})
    assert found.causes[0].id == "soft-cheese-used"
    assert not any(step.kind == "flour" for step in found.plan)


# Slab and cold


@stated(PRACTICE, "The slab is 1/2 to 3/4 inch thick")
def _() -> None:
    depths = [int(mm) for mm in re.findall(r"(\d+) mm", right_at("shape"))]
    assert depths
    assert all(12 <= mm <= 20 for mm in depths)


@stated(
    PRACTICE, "Chill at least an hour: by our sum 15 mm is still at 18 °C then, and is chilled on"
)
def _() -> None:
    told = {"slab-after-chill": "soft-warm"}
    found = ask("chill", signs=told, readings={"slab-core-temperature": 18})
    assert found.causes[0].id == "chilled-too-short"
    assert found.plan[0].remedy == "chill-longer"


@stated("Our sum, within 35 per cent", "Minutes in the cold are shown as a range")
def _() -> None:
    assert re.search(r"\d+ to \d+ minutes", right_at("chill"))


@stated(
    "Our sum, Choi and Okos 1986",
    "Wood and boxes keep the heat in; a metal tray on a rack lets it out",
)
def _() -> None:
    told = {"slab-after-chill": "soft-warm"}
    wood = chance("chilled-too-short", "chill", signs={**told, "chilled-on": "wood-or-box"})
    rack = chance("chilled-too-short", "chill", signs={**told, "chilled-on": "racked-tray"})
    assert wood > rack
    assert "metal" in says("chill-longer")


@stated("Our sum", "The freezer shortcut ends at 30 minutes for 12 mm: longer risks ice")
def _() -> None:
    assert REMEDIES["freeze-for-a-short-time"].minutes <= 30
    spans = re.findall(r"(\d+) minutes in the freezer", says("chill-longer"))
    assert all(int(m) <= 30 for m in spans)


# Pan and plate


@stated(
    "McGee 2004, browning",
    "A crust needs a dry surface: what is wet and pale is dried or gets more heat",
)
def _() -> None:
    found = ask("brown", signs={"when-turned": "no-colour"})
    assert named(found) & {"dry-the-faces", "hotter-pan-fewer-cubes"}


@stated("McGee 2004", "Patience rather than speed: what sticks is left until it slides")
def _() -> None:
    told = {"when-turned": "sticks-tears", "side-time": "under-3", "pan-sound": "hissed-on"}
    assert first("brown", signs=told) == "leave-until-they-slide"


@stated(
    "Our sum, within 25 per cent", "Two minutes a side leave the middle near 51 °C: 3 to 4 minutes"
)
def _() -> None:
    assert re.search(r"\b3 to 4 minutes", right_at("brown"))


@stated("FDA Food Code 3-403.11", "Reheated to 74 °C (165 °F) before it is held at 57 °C (135 °F)")
def _() -> None:
    assert first("serve", signs={"served-how": "browned-only"}) == "finish-in-the-oven"
    told = says("finish-in-the-oven")
    assert {74, 57} <= set(celsius(told))
    assert told.index("74 °C") < told.index("57 °C")


@stated("Our sum, within 30 per cent", "A plate at 60 °C buys about 3 minutes")
def _() -> None:
    assert 60 in celsius(REMEDIES["warm-the-plates"].first)
    assert REMEDIES["warm-the-plates"].label == "house rule"
    assert re.search(r"about (3|three) minutes", right_at("serve"))


@stated(
    "Makers of non-stick pans, as quoted",
    "Above 260 °C (500 °F) they fume; birds die; never heat one empty",
)
def _() -> None:
    assert warns("hotter-pan-fewer-cubes", "260 °c", "birds", "empty")


@stated("Fire practice, from memory", "Never water on burning fat: heat off, lid on")
def _() -> None:
    fat = [r.id for r in DOUGH.remedies if "hot-fat" in r.cautions]
    assert {"leave-until-they-slide", "hotter-pan-fewer-cubes"} <= set(fat)
    assert all(warns(name, "never put water", "lid on") for name in fat)


# What makes ill


@stated(
    "FDA Food Code 3-501.14",
    "57 to 21 °C in 2 hours, 5 °C in 6 hours in all: out for longer is thrown away",
)
def _() -> None:
    for stage in ("shape", "chill", "cut", "brown", "serve"):
        found = ask(stage, signs={"left-out": "over-2-hours"})
        assert found.situation == "discard"
        assert [step.remedy for step in found.plan] == ["throw-away"]
    source = REMEDIES["throw-away"].source
    assert (source.see, source.at) == ("food-code", "3-501.14")


@stated("USDA, from memory", "Two hours at room temperature in all: less is not thrown away")
def _() -> None:
    for stage in ("chill", "cut", "brown"):
        assert ask(stage, signs={"left-out": "under-2-hours"}).situation != "discard"


@stated(
    "Wang and others, Bacillus cereus", "The toxin outlasts 2 hours at 100 °C: frying mends nothing"
)
def _() -> None:
    found = ask("brown", signs={"left-out": "over-2-hours", "when-turned": "releases"})
    assert [step.remedy for step in found.plan] == ["throw-away"]
    assert re.search("frying|heating", says("throw-away"))


@stated(
    "Maine, South Dakota and older FDA texts",
    "Codes differ from place to place: the local one comes first",
)
def _() -> None:
    for name in ("throw-away", "finish-in-the-oven", "chill-longer", "hold-warm-after-the-yolk"):
        assert warns(name, "local"), name


@stated(PRACTICE, "A cracked or doubtful egg in the dough: when in doubt, throw it out")
def _() -> None:
    for state in ("cracked", "doubtful"):
        found = ask("enrich", signs={"egg-state": state})
        assert [step.remedy for step in found.plan] == ["throw-away"]
        outside = ask("temper", signs={"egg-state": state, "yolk-in": "not-yet"})
        assert outside.situation != "discard"  # the egg goes, the paste stays


@stated(PRACTICE, "Milk that smells sour or curdles is thrown away")
def _() -> None:
    for looks in ("sour-smell", "curdled"):
        assert ask("simmer", signs={"milk-looks": looks}).situation == "discard"


@stated(
    "FDA on raw flour, 2016, second-hand", "Raw flour is raw food: whoever adds it late is warned"
)
def _() -> None:
    for remedy in DOUGH.remedies:
        if remedy.kind == "flour":
            assert warns(remedy.id, "raw flour", "taste"), remedy.id


@stated("FDA, from memory", "Guests at risk get pasteurized yolk")
def _() -> None:
    assert warns("hold-warm-after-the-yolk", "pasteurized", "at risk")


@stated("FASTER Act 2021, as summarised", "Milk, egg and wheat are always in it")
def _() -> None:
    (allergens,) = (c for c in DOUGH.cautions if c.id == "allergens")
    assert all(word in allergens.say.lower() for word in ("milk", "egg", "wheat"))
    assert any("allergens" in remedy.cautions for remedy in DOUGH.remedies)


@stated("A children's hospital, scald times", "Water at 68 °C (155 °F) scalds in a second")
def _() -> None:
    (hot_milk,) = (c for c in DOUGH.cautions if c.id == "hot-milk")
    assert "68 °C" in hot_milk.say
    assert "second" in hot_milk.say


@stated(
    "First-aid practice, from memory",
    "Hot paste sticks: cool water for 20 minutes, do not pick it off",
)
def _() -> None:
    hot = [r for r in DOUGH.remedies if r.kind == "heat" and "cook-paste" in r.stages]
    assert hot
    assert all(warns(remedy.id, "20 minutes", "pick") for remedy in hot)


@stated(
    "House rule on false precision", "No per cent, no decimal and no promise of safety in a remedy"
)
def _() -> None:
    for remedy in DOUGH.remedies:
        text = says(remedy.id)
        assert "%" not in text, remedy.id
        assert not re.search(r"\d\.\d", text), remedy.id
        assert not re.search(r"\bsafe\b", text), remedy.id


@stated("House rule on labels", "Only what was published calls itself so")
def _() -> None:
    for remedy in DOUGH.remedies:
        if remedy.label == "published":
            assert MARKS[remedy.source.see] not in ("none", "memory"), remedy.id
        if remedy.label == "common practice":
            assert MARKS[remedy.source.see] != "computed", remedy.id


@pytest.mark.parametrize("statement", STATEMENTS, ids=str)
def test_the_advice_agrees_with_what_the_trade_states(statement: Statement) -> None:
    statement.check()


def test_there_are_forty_statements_and_each_says_who_states_it_once() -> None:
    assert len(STATEMENTS) >= 40
    assert len({str(statement) for statement in STATEMENTS}) == len(STATEMENTS)
    assert all(statement.source and statement.says for statement in STATEMENTS)
