"""The first vocabulary: names that tools outside this program rely on. They are never renamed."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from diagnose.knowledge.book import Book, Dough
from diagnose.knowledge.problems import Problem

from .lint import Lint

DOUGH = "milk-panade-slab"
STAGES = (
    "weigh", "simmer", "add-flour", "cook-paste", "temper", "enrich", "shape", "chill", "cut",
    "brown", "serve",
)  # fmt: skip
SIGNS: Mapping[str, tuple[str, ...]] = {
    "paste-body": ("pours", "slumps", "sticks", "one-mass", "stiff-crumbly"),
    "pulls-away": ("cleanly", "partly", "no"),
    "bubbling": ("none", "lazy", "rolling"),
    "raw-flour-taste": ("yes", "no"),
    "lumps": ("none", "soft", "dry-inside"),
    "after-yolk": ("silky", "loosened", "strands", "split-oily"),
    "dough-touch": ("silky-shapeable", "sticky", "greasy", "crumbly"),
    "slab-after-chill": ("firm-clean", "soft-cold", "soft-warm", "wet-surface", "crumbly"),
    "when-turned": ("releases", "sticks-tears", "melts-flattens", "no-colour", "burnt-cold-inside"),
}
READINGS: Mapping[str, str] = {
    "paste-temperature": "degC",
    "pan-contents": "g",
    "slab-thickness": "mm",
    "slab-core-temperature": "degC",
    "plate-temperature": "degC",
}
CAUSES = (
    "undercooked-paste", "flour-short", "milk-over", "over-reduced", "flour-over",
    "yolk-scrambled", "fat-split", "chilled-too-short", "pan-too-cool", "turned-too-soon",
    "held-warm-too-long-at-room-temperature",
)  # fmt: skip
REMEDIES = (
    "cook-on-hotter", "add-flour-by-the-spoon", "beat-in-warm-milk", "press-through-a-sieve",
    "cool-and-beat-in-warm-milk", "chill-longer", "start-over", "throw-away", "carry-on",
)  # fmt: skip


class FixedNames(Lint):
    """Every name of the first vocabulary is there, with its answers or unit."""

    name = "fixed names"
    level = "error"
    recommendation = "Put the name back: tools outside this program rely on it."

    def check(self, dough: Dough, book: Book) -> list[Problem]:
        if dough.id != DOUGH:
            return []
        return [self.problem(dough, 1, "", f"{what}.") for what in _missing(dough)]


def _missing(dough: Dough) -> Iterator[str]:
    stages = [stage.id for stage in dough.stages]
    if [name for name in stages if name in STAGES] != list(STAGES):
        yield "the stages are not, in order, " + ", ".join(STAGES)
    yield from _absent("cause", CAUSES, [cause.id for cause in dough.causes])
    yield from _absent("remedy", REMEDIES, [remedy.id for remedy in dough.remedies])
    signs = {sign.id: [answer.id for answer in sign.answers] for sign in dough.signs}
    yield from _absent("sign", SIGNS, signs)
    for name, answers in SIGNS.items():
        if name in signs:
            yield from _absent(f"answer to {name},", answers, signs[name])
    units = {reading.id: reading.unit for reading in dough.readings}
    yield from _absent("reading", READINGS, units)
    for name, unit in READINGS.items():
        if units.get(name, unit) != unit:
            yield f"the reading {name} is kept in {units[name]}, not in {unit}"


def _absent(kind: str, fixed: Collection[str], known: Collection[str]) -> Iterator[str]:
    for name in fixed:
        if name not in known:
            yield f"there is no {kind} {name}"
