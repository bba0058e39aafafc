"""What each picture answer shows: its words for those who cannot see it, and how it is drawn.

The drawings are the macros of ``templates/pictures.html``. A picture is one *scene* (where the
paste is looked at) and a few small whole numbers, each a degree on a scale of our own:

========= ====== ==========================================================================
degree    range  means
========= ====== ==========================================================================
``slack`` 0-4    how loosely the paste lies: 0 dry crumbs, 1 a ball, 2 clings, 3 sags, 4 runs
``shine`` 0-4    how many highlights a smooth surface carries
``torn``  0-5    how many cracks, furrows, strings or threads break it up
``specks`` 0-9   how many bubbles, lumps, beads or patches there are; 9 beads run to a pool
========= ====== ==========================================================================

The degrees are house rules for drawing, measured by nobody. They choose a silhouette; they never
enter a diagnosis.

A template asks for a picture by the names the knowledge file uses. Its environment has to hold
the table: ``environment.globals.update(PICTURE_GLOBALS)``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Scene = Literal["spoon", "above", "bowl", "finger", "pan", "ladle", "floor"]


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
        ("bubbling", "none"): Picture("The surface lies still", "pan", slack=3),
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
    }


PICTURES: Mapping[tuple[str, str], Picture] = MappingProxyType(_table())
"""(sign, answer) → its picture. An answer that is not here is offered in words alone."""

PICTURE_GLOBALS: Mapping[str, object] = MappingProxyType({"PICTURES": PICTURES})
"""What a template environment needs so that ``pictures.html`` can be imported in it."""
