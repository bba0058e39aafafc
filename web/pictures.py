"""What each picture answer shows: its words for those who cannot see it, and how it is drawn.

The drawings are the macros of ``templates/pictures.html`` and ``pictures_later.html``. A picture
is one *scene* (where the dough is looked at) and a few small whole numbers, each a degree on a
scale of our own:

========= ====== ==========================================================================
degree    range  means
========= ====== ==========================================================================
``slack`` 0-4    how loosely it lies: 0 dry crumbs, 1 a ball, 2 clings, 3 sags, 4 runs
``shine`` 0-4    how many highlights a smooth surface carries
``torn``  0-5    how many cracks, furrows, wrinkles, strings or threads break it up
``specks`` 0-14  how many bubbles, grains, beads or patches there are; 9 beads run to a pool
``lumps`` 0-7    how many big pieces lie in it
``wet``   0-6    how many drops, splashes or slicks of water, fat or paste there are
``brown`` 0-5    how dark a crust is: more hatching, not only another colour
``full``  0-4    how full the vessel is
``heat``  0-4    how many wisps of steam; 0 is two cold stars, ``None`` says nothing
========= ====== ==========================================================================

The degrees are house rules for drawing, measured by nobody. They choose a silhouette; they never
enter a diagnosis. ``UNDRAWN`` names the answers to a look that no drawing can show, and why.

A template asks for a picture by the names the knowledge file uses. Its environment has to hold
the table: ``environment.globals.update(PICTURE_GLOBALS)``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Scene = Literal[
    "spoon", "above", "bowl", "finger", "pan", "ladle", "floor", "close", "print", "path", "lift",
    "hob", "level", "yolks", "rain", "slab", "cut", "cube", "half", "cubes", "plate", "press",
    "rack", "scale",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Picture:
    """One drawing: ``says`` is its alternative text, a phrase that says what is shown.

    >>> PICTURES["paste-body", "pours"].scene
    'spoon'
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
    of: Literal["paste", "card"] = "paste"
    """What a close look is at: paste, or milk (``card``, the lightest fill)."""


def _table() -> dict[tuple[str, str], Picture]:
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
        ("slab-after-chill", "crumbly"): Picture(
            "The slab breaks into pieces under the finger", "slab", slack=0, torn=3
        ),
        ("when-turned", "releases"): Picture(
            "A whole cube on the turner, its face browned all over", "cube", slack=1, brown=4
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
        ("when-turned", "burnt-cold-inside"): Picture(
            "Cut in two: a thick burnt crust and a cold middle", "half", brown=4, heat=0
        ),
    }


def _stages() -> dict[str, Picture]:
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


PICTURES: Mapping[tuple[str, str], Picture] = MappingProxyType(_table())
"""(sign, answer) → its picture. An answer that is not here is offered in words alone."""

STAGE_PICTURES: Mapping[str, Picture] = MappingProxyType(_stages())
"""Stage → what right looks like there."""

UNDRAWN: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("milk-looks", "sour-smell"): "a smell",
        ("smells-burnt", "none"): "a smell",
        ("smells-burnt", "pan-only"): "a smell",
        ("smells-burnt", "all-through"): "a smell",
    }
)
"""(sign, answer) of a look that has no picture → why a drawing cannot show it."""

PICTURE_GLOBALS: Mapping[str, object] = MappingProxyType(
    {"PICTURES": PICTURES, "STAGE_PICTURES": STAGE_PICTURES}
)
"""What a template environment needs so that ``pictures.html`` can be imported in it."""
