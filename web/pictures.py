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
``heat``  0-6    how many wisps of steam; 0 is two cold stars, ``None`` says nothing
========= ====== ==========================================================================

The degrees are house rules for drawing, measured by nobody. They choose a silhouette; they never
enter a diagnosis. ``UNDRAWN`` names the answers to a look that no drawing can show, and why.

A template asks for a picture by the names the knowledge file uses. Its environment has to hold
the table: ``environment.globals.update(PICTURE_GLOBALS)``.
"""

from collections.abc import Mapping
from types import MappingProxyType

from .drawing import Picture
from .pictured import answers, stages

PICTURES: Mapping[tuple[str, str], Picture] = MappingProxyType(answers())
"""(sign, answer) → its picture. An answer that is not here is offered in words alone."""

STAGE_PICTURES: Mapping[str, Picture] = MappingProxyType(stages())
"""Stage → what right looks like there."""

UNDRAWN: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("milk-looks", "sour-smell"): "a smell",
        ("smells-burnt", "none"): "a smell",
        ("smells-burnt", "pan-only"): "a smell",
        ("smells-burnt", "all-through"): "a smell",
        ("slab-smell", "clean"): "a smell",
        ("slab-smell", "refrigerator"): "a smell",
        ("slab-smell", "sour"): "a smell",
        ("warm-at-table", "hot"): "warmth is felt, not seen",
        ("warm-at-table", "lukewarm"): "warmth is felt, not seen",
        ("pan-kind", "heavy"): "what a pan is made of does not show in its outline",
        ("pan-kind", "thin-or-warped"): "what a pan is made of does not show in its outline",
        ("pan-kind", "bare-steel"): "what a pan is made of does not show in its outline",
        ("pan-kind", "non-stick"): "what a pan is made of does not show in its outline",
    }
)
"""(sign, answer) of a look that has no picture → why a drawing cannot show it."""

PICTURE_GLOBALS: Mapping[str, object] = MappingProxyType(
    {"PICTURES": PICTURES, "STAGE_PICTURES": STAGE_PICTURES}
)
"""What a template environment needs so that ``pictures.html`` can be imported in it."""
