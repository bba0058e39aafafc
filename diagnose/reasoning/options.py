"""Every remedy that can still be done, go by go: what it helps, spoils and takes.

**Goes.** A remedy that may be repeated is planned go by go, each on what the last has left. One
that adds something is given in small doses: the author's word and minutes are for all of them
together. Each go then has an even share of the minutes, and a share of the chance such that all of
them fail as often as the word says (``posterior.log_of_attempt`` counts a failed go the same way);
reading and fetching is paid for once. Without an amount (heat, chilling) word and minutes are of
each go.

**Harm.** Under a cause for which a remedy "makes it worse" it costs minutes to put right, whether
it helps or not. Under one for which it "ruins it" and did not help, the batch is lost with a
stated chance and the cook starts over at once; if it is not lost, what is left of that cause is so
much smaller. Both are shared over small doses as the help is. While such a cause is likely the
remedy is held back; ``risking`` tells when "makes it worse" does not hold it back any longer.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field

from diagnose.knowledge.book import Cause, Dough, Remedy
from diagnose.knowledge.situation import Tried

from .posterior import FLOOR, helps
from .words import WORSE_MINUTES

BETWEEN_REMEDIES = 3.0
"""Minutes to read, fetch, act and look again, whatever the remedy takes by itself; house rule."""
RUINS = 0.9
"""Chance that a remedy which did not help and "ruins it" under a cause does so; house rule."""
MOST_GOES = 4
"""Goes of one remedy that a plan looks ahead. More small doses than this are planned as so many
larger ones, and then a plan's go and a failed dose are no longer of one size."""
LEAST_HELP = 0.05
"""A remedy with less chance of helping is not worth a cook's attention; house rule."""
HARM_HELD_BACK = 0.25
"""A remedy that would harm under a cause with this chance is held back; house rule."""
NEVER_PLANNED = frozenset({"restart", "discard", "none"})
JUST = 1 - 1e-9
"""Room for rounding where a chance stands right at one of these limits."""

Chances = tuple[tuple[int, float], ...]
"""(place in the belief, a chance or minutes) where it is not nothing."""


@dataclass(frozen=True, slots=True)
class Option:
    """A remedy that can be done at this stage; chances and harm are of one go."""

    remedy: Remedy
    minutes: float
    """Of its first go, with reading and fetching."""
    helps: tuple[float, ...]
    """Chance that a go helps, by place in the belief; the last is for "something else"."""
    harm: Chances
    """Minutes to put right, for the causes under which it makes it worse."""
    cures: tuple[tuple[str, float], ...]
    """The causes it is listed for, and how often the goes that are left help against each."""
    cured: Chances
    """The same, by place in the belief instead of by name."""
    ruins: Chances = ()
    """Chance that a go which does not help loses the batch."""
    goes: int = 1
    """How often it may still be done, as far as a plan looks ahead."""
    saved: float = 0.0
    """Minutes that each further go takes less than the first."""
    dosed: bool = False
    """Whether its goes are parts of one remedy, to be weighed together."""
    opens: bool = False
    """Whether doing it establishes something that others wait for; then that is reason enough."""
    priced: bool = False
    """Whether making it worse costs minutes and no longer holds it back (``risking``)."""
    gates: frozenset[str] = field(init=False, repr=False, compare=False)
    danger: tuple[int, ...] = field(init=False, repr=False, compare=False)
    """Where harm holds it back."""
    hopes: tuple[Chances, ...] = field(init=False, repr=False, compare=False)
    """By goes done: how likely it still is to help, where it is listed to."""
    runs: tuple[tuple[float, float, Chances], ...] = field(init=False, repr=False, compare=False)
    """By goes done: of what is weighed together from there the minutes, the chance to help that
    most causes share, and what the others have beyond it."""
    even: float = field(init=False, repr=False, compare=False)
    """Chance to help that most causes share, so that sums need only visit the others."""
    stays: Chances = field(init=False, repr=False, compare=False)
    """By how much more, or less, than under the shared chance a cause stays after a go."""

    def __post_init__(self) -> None:
        even = self.helps[-1] if self.helps[-1] < 1 else 0.0
        lost = dict(self.ruins)
        blocks = [self.goes - gone if self.dosed else 1 for gone in range(self.goes)]
        stays = [(1 - h) * (1 - lost.get(p, 0.0)) / (1 - even) for p, h in enumerate(self.helps)]
        made: dict[str, object] = {
            "gates": frozenset(self.remedy.only_after),
            "danger": tuple(sorted({*lost, *(() if self.priced else dict(self.harm))})),
            "hopes": tuple(
                tuple((p, share(self.helps[p], block)) for p, _ in self.cured) for block in blocks
            ),
            "runs": tuple(
                (
                    self.took(gone) + (block - 1) * (self.minutes - self.saved),
                    share(even, block),
                    tuple(
                        (p, share(h, block) - share(even, block))
                        for p, h in enumerate(self.helps)
                        if h != even
                    ),
                )
                for gone, block in enumerate(blocks)
            ),
            "even": even,
            "stays": tuple(
                (p, s)
                for p, (s, h) in enumerate(zip(stays, self.helps, strict=True))
                if h != even or p in lost
            ),
        }
        for name, value in made.items():
            object.__setattr__(self, name, value)

    def took(self, gone: int) -> float:
        """Minutes of a go after so many."""
        return self.minutes - self.saved if gone else self.minutes


def share(chance: float, part: float) -> float:
    """The chance of a part of what has this chance as a whole.

    >>> share(0.75, 1 / 2), share(1.0, 1 / 3)
    (0.5, 1.0)
    """
    return 1.0 - math.pow(1 - chance, part)


MadeFor = tuple[str, str, int, float | None]
"""Stage, remedy, how often it was tried, and its minutes where they were worked out."""
MOST_KEPT = 4_000
"""Options kept by one compiled book."""


def candidates(
    dough: Dough,
    stage: str,
    causes: Sequence[Cause],
    tried: Sequence[Tried],
    minutes: Mapping[str, float],
    missing: Collection[str] = (),
    made: MutableMapping[MadeFor, Option | None] | None = None,
) -> tuple[Option, ...]:
    """Every remedy that can still be done at this stage and helps against some cause in play.

    Made once per situation; whether each may be advised depends on what is believed (see
    ``may_follow``). ``minutes`` are those worked out for this batch, by remedy id, where they
    differ from the book's. ``missing`` are the things there is none left of: what needs them
    cannot be done. The last entry of each option's chances is for "something else".
    ``made`` holds options of this dough made before, which are the same whatever is believed.
    """
    made = {} if made is None else made
    found = []
    for remedy in dough.remedies:
        if remedy.kind in NEVER_PLANNED or stage not in remedy.stages or exhausted(remedy, tried):
            continue
        if any(name in missing for name in needs(remedy)):
            continue
        done = sum(t.remedy == remedy.id for t in tried)
        key = stage, remedy.id, done, minutes.get(remedy.id)
        if key not in made:
            if len(made) >= MOST_KEPT:
                made.clear()
            words = tuple(
                0.0 if cause.id == dough.carry_on else helps(remedy.id, cause) for cause in causes
            )
            useless = max(words, default=0.0) <= FLOOR
            made[key] = None if useless else _option(dough, remedy, causes, words, tried, minutes)
        option = made[key]
        if option is not None:
            found.append(option)
    return tuple(found)


def _option(
    dough: Dough,
    remedy: Remedy,
    causes: Sequence[Cause],
    words: Sequence[float],
    tried: Sequence[Tried],
    minutes: Mapping[str, float],
) -> Option:
    still = remedy.may_repeat - sum(t.remedy == remedy.id for t in tried)
    goes = min(still, MOST_GOES)
    dosed = remedy.may_repeat > 1 and bool(remedy.amounts)
    part = still / remedy.may_repeat / goes if dosed else 1.0
    works = (
        *(
            1.0 if cause.id == dough.carry_on else share(word, part)
            for cause, word in zip(causes, words, strict=True)
        ),
        share(helps(remedy.id, None), part),
    )
    place = {cause.id: number for number, cause in enumerate(causes)}
    harms = [(place[name], harm) for name, harm in remedy.harm_under if name in place]
    together = goes if dosed else 1
    cured = tuple((p, share(works[p], together)) for p, word in enumerate(words) if word > FLOOR)
    return Option(
        remedy=remedy,
        minutes=minutes.get(remedy.id, remedy.minutes) * part + BETWEEN_REMEDIES,
        helps=works,
        harm=tuple((p, WORSE_MINUTES * part) for p, harm in harms if harm != "ruins it"),
        cures=tuple((causes[p].id, chance) for p, chance in cured),
        cured=cured,
        ruins=tuple((p, share(RUINS, part)) for p, harm in harms if harm == "ruins it"),
        goes=goes,
        saved=BETWEEN_REMEDIES if dosed else 0.0,
        dosed=dosed,
        opens=bool(remedy.establishes),
    )


def needs(remedy: Remedy) -> tuple[str, ...]:
    """What it cannot be done without: the ingredients it uses, and those it adds by amount."""
    return tuple(dict.fromkeys((*remedy.uses, *(added.of for added in remedy.amounts))))


def exhausted(remedy: Remedy, tried: Sequence[Tried]) -> bool:
    """Tried as often as it makes sense, found impossible, or followed by a turn for the worse."""
    outcomes = [t.result for t in tried if t.remedy == remedy.id]
    return len(outcomes) >= remedy.may_repeat or "cannot" in outcomes or "worse" in outcomes


Opened = Mapping[str, frozenset[str]]
"""Findings that hold once a remedy has been done, by its id; only for remedies that open some."""


def may_follow(
    option: Option,
    left: Sequence[float],
    bad: float,
    findings: Collection[str],
    gone: int = 0,
) -> bool:
    """Whether a remedy may be done with this much of each cause left and these findings.

    It must still have a fair chance, after ``gone`` goes, or open the gate of others; its own gates
    must stand open, and it must not be likely to harm. A remedy that comes first may open the gate
    of the next, or make the danger small.
    """
    for name in option.gates:
        if name not in findings:
            return False
    most = HARM_HELD_BACK * bad * JUST
    for place in option.danger:
        if left[place] >= most:
            return False
    if option.opens and gone == 0:
        return True
    helped = 0.0
    for place, hope in option.hopes[gone]:
        helped += left[place] * hope
    return helped >= LEAST_HELP * bad * JUST
