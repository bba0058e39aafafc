"""Batch arithmetic and physics: pure functions of numbers in fixed units.

``computations`` lists what a knowledge file may name (READINGS, DOSES, MINUTES). Beneath it, one
reason each: ``atmosphere`` (pressure and boil), ``composition`` (what ingredients are made of),
``measuring`` (what they really weigh), ``balance`` (starch and water of the paste), ``evaporation``
(water that leaves), ``correction`` (what to add), ``starch`` (the gate), ``mixing`` (yolk, cheese,
butter), ``flour_moisture`` (a footnote), ``state`` and ``paste`` (one batch as it is now),
``doses`` (whole spoons and minutes), ``quantities`` (quantities as cooks write them), ``refusing``
(how a number is refused).
"""
