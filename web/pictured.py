"""Which drawing stands for which answer, and for which stage.

One row for each answer that is about looks, in the order of the work. The names are those of the
knowledge files; what the numbers mean is told in ``web/pictures.py``. A new row needs no drawing
of its own: choose a scene, then its degrees, and compare it with its neighbours on the sheet.
"""

from .drawing import Picture


def answers() -> dict[tuple[str, str], Picture]:
    """(sign, answer) → its picture."""
    return {
        ("paste-body", "pours"): Picture(
            "A thin stream runs off the spoon into a flat pool", "spoon", slack=4, shine=2
        ),
        ("paste-body", "slumps"): Picture(
            "A heavy drop hangs off the spoon over a low, sagging mound", "spoon", slack=3, shine=1
        ),
        ("paste-body", "sticks"): Picture(
            "Paste stretches from the spoon and clings to both walls of the pan",
            "spoon",
            slack=2,
            torn=2,
        ),
        ("paste-body", "one-mass"): Picture(
            "One smooth ball holds on the spoon and the pan is bare", "spoon", slack=1, shine=2
        ),
        ("paste-body", "stiff-crumbly"): Picture(
            "Cracked, dry pieces and crumbs lie in the pan", "spoon", slack=0, torn=3
        ),
        ("pulls-away", "cleanly"): Picture(
            "From above: a compact mass with bare pan all around it", "above", slack=1, shine=3
        ),
        ("pulls-away", "partly"): Picture(
            "From above: the mass comes away on one side and clings to the wall on the other",
            "above",
            slack=2,
            shine=2,
        ),
        ("pulls-away", "no"): Picture(
            "From above: paste covers the whole pan and closes behind the spoon",
            "above",
            slack=3,
            torn=3,
        ),
        ("after-yolk", "silky"): Picture(
            "A smooth swirl stands in the bowl and shines", "bowl", slack=1, shine=2
        ),
        ("after-yolk", "loosened"): Picture(
            "Flat and thin in the bowl, and it drips off the spoon", "bowl", slack=4, shine=2
        ),
        ("after-yolk", "strands"): Picture(
            "Firm threads and flakes of egg stand in the paste", "bowl", slack=2, torn=5
        ),
        ("after-yolk", "split-oily"): Picture(
            "Grainy curds lie under a layer of oil", "bowl", slack=3, specks=7
        ),
        ("dough-touch", "silky-shapeable"): Picture(
            "A finger leaves a neat dent in a smooth dome", "finger", slack=1, shine=2
        ),
        ("dough-touch", "sticky"): Picture(
            "Dough stretches in strings up to the finger", "finger", slack=3, torn=2
        ),
        ("dough-touch", "greasy"): Picture(
            "Fat drips from the finger and pools round a slack dome",
            "finger",
            slack=2,
            shine=2,
            specks=4,
        ),
        ("dough-touch", "crumbly"): Picture(
            "The dough breaks into pieces under the finger", "finger", slack=0, torn=2
        ),
        ("bubbling", "none"): Picture("The surface lies still", "pan", slack=3, shine=1),
        ("bubbling", "lazy"): Picture(
            "One fat bubble swells and another has just burst", "pan", slack=3, shine=2, specks=2
        ),
        ("bubbling", "rolling"): Picture(
            "Bubbles all over, splashes and steam", "pan", slack=3, specks=7
        ),
        ("lumps", "none"): Picture("A smooth spoonful", "ladle", slack=2, shine=2),
        ("lumps", "soft"): Picture(
            "A spoonful with soft, rounded lumps, wet through", "ladle", slack=3, specks=5
        ),
        ("lumps", "dry-inside"): Picture(
            "A lump cut in two shows dry flour in the middle", "ladle", slack=0, specks=9
        ),
        ("pan-floor", "clean"): Picture(
            "From above: the floor of the pan is bare", "floor", shine=4
        ),
        ("pan-floor", "white-film"): Picture(
            "From above: a thin white film in patches on the floor of the pan", "floor", specks=3
        ),
        ("pan-floor", "brown-crust"): Picture(
            "From above: a thick brown crust on the floor of the pan",
            "floor",
            torn=3,
        ),
        ("fat", "none"): Picture("The paste is dull, with no fat to be seen", "pan", slack=1),
        ("fat", "beads"): Picture("Small beads of fat sit on the paste", "pan", slack=1, specks=6),
        ("fat", "pooling"): Picture("The paste sits in a pool of fat", "pan", slack=1, specks=9),
        ("spoon-path", "stays-open"): Picture(
            "From above: a bare path across the pan between two banks of paste",
            "path",
            slack=1,
            shine=2,
        ),
        ("spoon-path", "closes"): Picture(
            "From above: the paste has run together again behind the spoon",
            "path",
            slack=3,
            torn=2,
        ),
        ("imprint", "sharp"): Picture(
            "A clear oval print with a sharp, shining edge", "print", slack=1, shine=2
        ),
        ("imprint", "blurred"): Picture(
            "A faint print without an edge, pulled into strings", "print", slack=3, torn=3
        ),
        ("imprint", "cracked"): Picture(
            "A ragged print with cracks running out of it", "print", slack=0, torn=5
        ),
        ("plate-test", "holds"): Picture(
            "On a cold plate: a tall mound with steep edges", "plate", slack=1, shine=2
        ),
        ("plate-test", "spreads"): Picture(
            "On a cold plate: a flat puddle with drops of water round it", "plate", slack=4, wet=2
        ),
        ("heat-source", "direct"): Picture("The pan stands right over the flames", "hob"),
        ("heat-source", "water-bath"): Picture(
            "A bowl hangs over a pan of water, and that is over the flames", "hob", wet=2
        ),
        ("flour-wetting", "wets"): Picture(
            "Flour rains into the milk and is stirred in", "rain", specks=8, torn=2
        ),
        ("flour-wetting", "floats"): Picture(
            "Dry heaps of flour float on the milk", "pan", slack=4, lumps=7
        ),
        ("milk-looks", "fresh"): Picture(
            "Smooth milk, seen from near", "close", shine=4, of="card"
        ),
        ("milk-looks", "curdled"): Picture(
            "Milk full of soft curds, seen from near", "close", lumps=5, of="card"
        ),
        ("skin", "none"): Picture(
            "From above: a smooth, shining surface", "above", slack=4, shine=3
        ),
        ("skin", "skin"): Picture(
            "From above: a wrinkled skin over the whole surface", "above", slack=4, torn=5
        ),
        ("skin", "flakes"): Picture(
            "From above: dry flakes all round the rim", "above", slack=4, specks=7
        ),
        ("spitting", "calm"): Picture(
            "A bubble swells and bursts, and hardly a drop flies", "pan", slack=3, specks=1
        ),
        ("spitting", "spits"): Picture(
            "Hot drops fly out of the pan on all sides", "pan", slack=3, wet=6
        ),
        ("batch-in-pan", "usual"): Picture("The pan is about a third full", "level", full=2),
        ("batch-in-pan", "crowded"): Picture("The pan is full to its rim", "level", full=4),
        ("batch-in-pan", "shallow"): Picture("A thin layer in a wide, low pan", "level", full=1),
        ("stretch", "short"): Picture(
            "The paste has broken off short, with a gap under the spoon", "lift"
        ),
        ("stretch", "strings"): Picture(
            "Long strings run from the spoon down to the pan", "lift", torn=4
        ),
        ("yolk-in", "not-yet"): Picture("Whole yolks wait in a cup above the pan", "yolks", full=2),
        ("yolk-in", "in"): Picture(
            "The tipped cup is empty and the yolk is in the pan", "yolks", shine=1
        ),
        ("yolk-streaks", "none"): Picture("One smooth surface, seen from near", "close", shine=3),
        ("yolk-streaks", "streaks"): Picture(
            "Bands of yolk run through the paste", "close", torn=3
        ),
        ("cheese-look", "melted-in"): Picture(
            "One smooth surface, seen from near", "close", shine=3
        ),
        ("cheese-look", "strings"): Picture(
            "Strings of cheese run through the dough", "close", torn=4
        ),
        ("cheese-look", "clumps"): Picture(
            "Soft clumps of cheese lie in the dough", "close", lumps=5
        ),
        ("cheese-look", "grains"): Picture(
            "Small hard grains all through the dough", "close", specks=14
        ),
        ("butter-look", "blended"): Picture("One smooth surface, seen from near", "close", shine=3),
        ("butter-look", "cold-lumps"): Picture(
            "Lumps of butter lie in the dough", "close", lumps=5
        ),
        ("butter-look", "slick"): Picture("Pools of butter lie on the dough", "close", wet=2),
        ("slab-after-chill", "firm-clean"): Picture(
            "A slab with sharp edges, and the finger leaves no mark", "slab", slack=1, shine=3
        ),
        ("slab-after-chill", "soft-cold"): Picture(
            "A cold slab, and the finger sinks deep into it", "slab", slack=2, heat=0
        ),
        ("slab-after-chill", "soft-warm"): Picture(
            "A slab that still steams, sags and clings to the finger",
            "slab",
            slack=3,
            torn=2,
            heat=4,
        ),
        ("slab-after-chill", "wet-surface"): Picture(
            "A slab with sharp edges and drops of water on it", "slab", slack=1, wet=5
        ),
        ("slab-after-chill", "rubbery"): Picture(
            "The slab bends like rubber and springs back", "slab", slack=1, torn=2
        ),
        ("slab-after-chill", "icy"): Picture(
            "A hard slab with ice crystals in it", "slab", slack=1, specks=3, heat=0
        ),
        ("slab-after-chill", "liquid"): Picture(
            "It has run out flat in the tray and drips off the finger", "slab", slack=4
        ),
        ("slab-after-chill", "crumbly"): Picture(
            "The slab breaks into pieces under the finger", "slab", slack=0, torn=3
        ),
        ("when-turned", "releases"): Picture(
            "A whole cube on the turner, its face browned all over", "cube", slack=1, brown=5
        ),
        ("when-turned", "sticks-tears"): Picture(
            "The cube tears, and half of it stays on the pan", "cube", slack=1, torn=3
        ),
        ("when-turned", "melts-flattens"): Picture(
            "The cube has run into a flat puddle in the pan", "cube", slack=3, shine=2
        ),
        ("when-turned", "no-colour"): Picture(
            "A whole cube on the turner, its face pale and bare", "cube", slack=1
        ),
        ("when-turned", "breaks"): Picture(
            "The cube breaks in two on the turner", "cube", slack=0, torn=2
        ),
        ("when-turned", "burnt-cold-inside"): Picture(
            "Cut in two: a thick burnt crust and a cold middle", "half", brown=4, heat=0
        ),
        ("whisk", "moves"): Picture("The whisk runs free in thin milk", "whisk", shine=2),
        ("whisk", "clogged"): Picture("The wires are full of paste", "whisk", lumps=3),
        ("specks", "none"): Picture("One smooth surface, seen from near", "close", shine=3),
        ("specks", "specks"): Picture("Brown specks all through it", "close", brown=4),
        ("yolk-set-amount", "none"): Picture(
            "Smooth in the bowl, and not a thread", "bowl", slack=2
        ),
        ("yolk-set-amount", "some"): Picture(
            "Two threads of egg in the bowl", "bowl", slack=2, torn=2
        ),
        ("yolk-set-amount", "much"): Picture(
            "Threads and grains of egg all through", "bowl", slack=2, torn=5, specks=9
        ),
        ("next-day", "as-firm"): Picture(
            "A slab with sharp edges on its tray", "lies", slack=1, shine=3
        ),
        ("next-day", "clear-water"): Picture(
            "A firm slab stands in water", "lies", slack=1, full=4
        ),
        ("next-day", "ran-thin"): Picture("It has run out flat in the tray", "lies", slack=4),
        ("dough-look", "smooth"): Picture("One smooth surface, seen from near", "close", shine=3),
        ("dough-look", "curdled"): Picture(
            "Small soft bits all through the dough", "close", lumps=5
        ),
        ("dough-look", "grainy"): Picture("Fine grains all through the dough", "close", specks=14),
        ("oiled", "oil-or-butter"): Picture(
            "A board with a shining film of oil on it", "close", wet=2, of="wood"
        ),
        ("oiled", "flour"): Picture(
            "A board with flour dusted over it", "close", specks=14, of="wood"
        ),
        ("oiled", "dry"): Picture("A bare, dry board", "close", of="wood"),
        ("slab-look", "even"): Picture(
            "A flat slab, as thick at its ends as in the middle", "lies", slack=1, shine=3
        ),
        ("slab-look", "slumps"): Picture(
            "It runs out flat to both sides of the tray", "lies", slack=4
        ),
        ("slab-look", "cracked-edges"): Picture(
            "A slab with ragged, cracked edges", "lies", slack=1, torn=4
        ),
        ("slab-look", "uneven"): Picture(
            "Thick in the middle, thin at both ends", "lies", slack=1, lumps=2
        ),
        ("slab-look", "holes"): Picture(
            "A slab with holes and folds inside", "lies", slack=1, specks=5
        ),
        ("slab-look", "skin"): Picture(
            "A dry skin lies on the slab and curls up at its ends", "lies", slack=1, brown=3
        ),
        ("water-where", "none"): Picture("A dry slab on a dry tray", "lies", slack=1, shine=3),
        ("water-where", "drops-on-top"): Picture(
            "Drops of water on top of the slab", "lies", slack=1, wet=5
        ),
        ("water-where", "puddle-under"): Picture(
            "The slab stands in a puddle", "lies", slack=1, full=4
        ),
        ("knife-cut", "clean-face"): Picture(
            "A dry knife between two straight, clean faces", "cut", shine=3
        ),
        ("knife-cut", "smears"): Picture(
            "Dough clings to the blade and smears the faces", "cut", wet=2
        ),
        ("knife-cut", "crumbs"): Picture(
            "Crumbs and broken corners beside the knife", "cut", torn=3
        ),
        ("knife-cut", "ragged"): Picture("Crooked pieces, each of another size", "cut", lumps=2),
        ("knife-cut", "holes"): Picture(
            "The cut face has holes and folds in it", "lies", slack=1, specks=5
        ),
        ("cubes-lie", "apart"): Picture(
            "From above: cubes in rows, none touching another", "rows", slack=1, specks=9
        ),
        ("cubes-lie", "stuck-together"): Picture(
            "From above: cubes in a heap, stuck together", "rows", slack=2, specks=9
        ),
        ("blot", "dry"): Picture("The paper comes away blank", "blot"),
        ("blot", "wet-patch"): Picture("The paper comes away with a wet patch", "blot", wet=3),
        ("pan-load", "gaps"): Picture(
            "From above: seven cubes in the pan with gaps between them", "load", slack=1, specks=7
        ),
        ("pan-load", "touching"): Picture(
            "From above: the pan is packed, and the cubes touch", "load", slack=2, specks=9
        ),
        ("crust-look", "even"): Picture("The same brown all over", "crust", slack=1, brown=3),
        ("crust-look", "one-side-dark"): Picture(
            "From above: the cubes on one side of the pan are dark",
            "load",
            slack=1,
            specks=7,
            brown=3,
        ),
        ("crust-look", "lifts-off"): Picture(
            "The crust stands off like a lid, with a gap under it", "crust", slack=1, torn=3
        ),
        ("crust-look", "puffed"): Picture(
            "The cube has blown up round and burst", "crust", slack=3, torn=3
        ),
        ("crust-look", "greasy"): Picture(
            "Fat drips off the cube and pools round it", "crust", slack=1, wet=5
        ),
        ("fat-in-pan", "clear-film"): Picture(
            "From above: a clear film of fat over the whole pan", "film", wet=2, shine=3
        ),
        ("fat-in-pan", "hardly-any"): Picture(
            "From above: one small drop of fat in a bare pan", "film", wet=1
        ),
        ("fat-in-pan", "black-flecks"): Picture(
            "From above: black flecks all through the fat", "film", wet=2, specks=9
        ),
        ("fat-in-pan", "smoking"): Picture(
            "From above: smoke rises off the fat", "film", wet=2, heat=6
        ),
        ("crust-at-table", "crisp"): Picture(
            "A cube with straight edges and a crackling crust", "crust", slack=1, brown=3, shine=2
        ),
        ("crust-at-table", "soft"): Picture(
            "A damp cube that has sunk in, with drops on it", "crust", slack=2, wet=5
        ),
        ("crust-at-table", "leathery"): Picture(
            "A shrunken, wrinkled cube", "crust", slack=2, torn=3
        ),
        ("crust-at-table", "falls-apart"): Picture(
            "Pieces of cube swim in the sauce", "crust", slack=0, torn=3
        ),
        ("crust-at-table", "mealy"): Picture(
            "A cube full of grains, wet underneath", "crust", slack=1, specks=9, wet=1
        ),
        ("sauce-how", "none"): Picture("Cubes on a plate without sauce", "plate", lumps=3),
        ("sauce-how", "under-or-beside"): Picture(
            "Cubes stand on a pool of sauce", "plate", lumps=2, full=4
        ),
        ("sauce-how", "poured-over"): Picture(
            "Sauce runs over the cubes and hides them", "plate", lumps=3, wet=3
        ),
    }


def stages() -> dict[str, Picture]:
    """Stage → what right looks like there."""
    return {
        "weigh": Picture("A bowl of flour on the scale", "scale", full=4),
        "simmer": Picture(
            "Small bubbles at the rim, and the milk steams", "pan", slack=4, specks=6, heat=2
        ),
        "add-flour": Picture("Flour falls like rain into the milk", "rain", specks=8, torn=2),
        "cook-paste": Picture(
            "One smooth ball holds on the spoon and the pan is bare", "spoon", slack=1, shine=2
        ),
        "temper": Picture("A smooth swirl stands in the bowl and shines", "bowl", slack=1, shine=2),
        "enrich": Picture(
            "A finger leaves a neat dent in a smooth dome", "finger", slack=1, shine=2
        ),
        "shape": Picture("An even slab under its paper, measured with a ruler", "press", specks=9),
        "chill": Picture(
            "The tray stands on a rack in the cold, with air all round", "rack", heat=0
        ),
        "cut": Picture("A dry knife between two straight, clean faces", "cut", shine=3),
        "brown": Picture(
            "Cubes stand apart, gold where they touch the pan", "cubes", specks=3, brown=2, heat=2
        ),
        "serve": Picture("Steaming cubes on a warm plate", "plate", lumps=3, heat=2),
    }
