"""Batch arithmetic and physics: pure functions of numbers in fixed units.

``computations`` lists what a knowledge file may name (READINGS, DOSES, MINUTES), ``named`` what
such a computation is, ``later_stages`` those of slab and chill. Beneath them, one reason each.

The paste: ``atmosphere`` (pressure and boil), ``composition`` (what ingredients are made of),
``measuring`` (what they really weigh), ``balance`` (starch and water), ``evaporation`` (water that
leaves), ``panweight`` (the check on the scale), ``correction`` (what to add), ``starch`` (the heat
it needs), ``gate`` (before any flour), ``mixing`` (yolk, cheese, butter), ``yolk`` (off the heat,
bowl, tempering, egg rule), ``flour_moisture`` (a footnote), ``state`` and ``paste`` (one batch as
it is now), ``doses`` (whole spoons and minutes), ``doses_swaps`` (the same where something was
swapped or left out).

The slab: ``slab`` (area, moulds, pieces), ``thermal`` (conduction), ``lumped`` (cooling, stage by
stage), ``chilling`` (when it can be cut; the limits of cooling), ``freezer`` (the short cut),
``browning`` (loads, the middle, finish and hold), ``plate`` (how long it stays hot).

For all: ``estimates`` (low, central, high), ``quantities`` (quantities as cooks write them),
``spoons`` (grams in the cups and spoons of a kitchen),
``refusing`` (how a number is refused).
"""
