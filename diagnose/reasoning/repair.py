"""Which remedy first, and whether to rescue or to start over.

A plan is an order of remedies with a point at which to give up and start over. Its loss is the
minutes it can be expected to cost: the remedies until one helps, what a wrong remedy spoils, being
late, and starting over if none helps. "Start over" is always in the race: it is the empty plan.

**Goes.** A remedy that may be repeated is planned go by go, each on what the last has left. One
that adds something is given in small doses: the author's word and minutes are for all of them
together. Each go then has an even share of the minutes, and a share of the chance such that all of
them fail as often as the word says (``posterior.log_of_attempt`` counts a failed go the same way);
reading and fetching is paid for once. Without an amount (heat, chilling) word and minutes are of
each go.

**Harm.** Under a cause for which a remedy "makes it worse" it costs minutes to put right, whether
it helps or not. Under one for which it "ruins it" and did not help, the batch is lost with a
stated chance and the cook starts over at once; if it is not lost, what is left of that cause is so
much smaller. Both are shared over small doses as the help is.

**The hour of serving.** Minutes of remedies and of putting right run on the clock, cause by cause;
if the food is right, or a fresh batch is back at this stage, later than the hour allows, a late
dinner is paid for once.

A plan is one fixed order. What a cook sees on the way (that it got worse, that time flies) is not
foreseen here; every report makes a new plan.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from operator import add, mul
from types import MappingProxyType
from typing import Literal, Protocol

from diagnose.knowledge.book import Cause, Dough, HouseBatch, Remedy, Stage
from diagnose.knowledge.situation import Tried

from .posterior import FLOOR, helps
from .words import HARM_MINUTES

BETWEEN_REMEDIES = 3.0
"""Minutes to read, fetch, act and look again, whatever the remedy takes by itself; house rule."""
START_OVER_EXTRA = 10.0
"""Minutes that a fresh batch costs beyond its stove time: scales, washing up, ingredients."""
TOO_LATE_TO_NOTICE = 15.0
"""Minutes lost, beyond starting over, when a batch that is not right is carried on."""
RUINS = 0.9
"""Chance that a remedy which did not help and "ruins it" under a cause does so; house rule."""
LATE_DINNER = 45.0
"""What being late for the hour of serving weighs, in minutes, however late; house rule."""
GO_WITHOUT = 90.0
"""What having no dish at all weighs, in minutes beyond those of starting over; house rule."""
MOST_OPTIONS = 8
MOST_GOES = 3
"""Goes of one remedy that a plan looks ahead."""
LONGEST_QUICK = 8
"""Goes; not more than the exact order's options, which take in all that the quick order names."""
LEAST_HELP = 0.05
"""A remedy with less chance of helping is not worth a cook's attention; house rule."""
HARM_HELD_BACK = 0.25
NEVER_PLANNED = frozenset({"restart", "discard", "none"})
_JUST = 1 - 1e-9
"""Room for rounding where a chance stands right at one of these limits."""

End = Literal["start-over", "go-without"]
"""What is left if no remedy of a course helps."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What the clock and the larder allow."""

    minutes_left: float | None = None
    """Minutes until serving less those from this stage to the plate; below 0 it is late already."""
    can_start_over: bool = True

    def late(self, clock: float) -> float:
        """What it costs to have this stage right after so many minutes.

        >>> Limits(20.0).late(20.0), Limits(20.0).late(21.0), Limits().late(600.0)
        (0.0, 45.0, 0.0)
        """
        left = self.minutes_left
        return 0.0 if left is None or clock <= left + 1e-9 else LATE_DINNER

    def end(self, start_over: float, clock: float = 0.0) -> float:
        """What is lost by giving up after so many minutes, at ``start_over`` minutes a batch.

        A cook who cannot start over loses the dish: never less than a fresh batch that comes late.

        >>> Limits(20.0).end(30.0), Limits(can_start_over=False).end(30.0)
        (75.0, 120.0)
        """
        if not self.can_start_over:
            return start_over + GO_WITHOUT
        return start_over + self.late(clock + start_over)

    @property
    def way_out(self) -> End:
        """What is left if nothing helps."""
        return "start-over" if self.can_start_over else "go-without"


NO_LIMITS = Limits()


def limits_for(
    stage: Stage, serve_in_min: float | None, house: HouseBatch, missing: Collection[str]
) -> Limits:
    """The limits at a stage: the hour of serving, and what there is none left of.

    ``missing`` are words for what a remedy adds or a batch needs: milk, flour, salt, yolks,
    cheese, butter.
    """
    left = None if serve_in_min is None else serve_in_min - stage.minutes_to_plate
    return Limits(left, not needed(house) & frozenset(missing))


def needed(house: HouseBatch) -> frozenset[str]:
    """What a fresh batch cannot be made without."""
    amounts = {
        "milk": house.milk_g,
        "flour": house.flour_g,
        "salt": house.salt_g,
        "yolks": house.yolks,
        "cheese": house.cheese_g,
        "butter": house.butter_g,
    }
    return frozenset(name for name, amount in amounts.items() if amount > 0)


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
    gates: frozenset[str] = field(init=False, repr=False, compare=False)
    danger: tuple[int, ...] = field(init=False, repr=False, compare=False)
    """Where it does harm of either kind."""
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
            "danger": tuple(sorted({*dict(self.harm), *lost})),
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


@dataclass(frozen=True, slots=True)
class Held:
    """A remedy that would help, but not yet: what it waits for, or what it could harm."""

    remedy: Remedy
    waits_for: tuple[str, ...]
    could_harm: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Course:
    """Remedies in order, up to where it is better to give up, and the minutes expected."""

    remedies: tuple[Remedy, ...]
    """Each is named once, where its first go comes."""
    minutes: float
    goes: tuple[Remedy, ...] = ()
    """The same, go by go."""
    ends: End = "start-over"


def share(chance: float, part: float) -> float:
    """The chance of a part of what has this chance as a whole.

    >>> share(0.75, 1 / 2), share(1.0, 1 / 3)
    (0.5, 1.0)
    """
    return 1.0 - math.pow(1 - chance, part)


def candidates(
    dough: Dough,
    stage: str,
    causes: Sequence[Cause],
    tried: Sequence[Tried],
    minutes: Mapping[str, float],
    missing: Collection[str] = (),
) -> tuple[Option, ...]:
    """Every remedy that can still be done at this stage and helps against some cause in play.

    Made once per situation; whether each may be advised depends on what is believed (see
    ``may_follow``). ``minutes`` are those worked out for this batch, by remedy id, where they
    differ from the book's. ``missing`` are the things there is none left of: what adds them
    cannot be done. The last entry of each option's chances is for "something else".
    """
    made = []
    for remedy in dough.remedies:
        if remedy.kind in NEVER_PLANNED or stage not in remedy.stages or exhausted(remedy, tried):
            continue
        if any(addition.of in missing for addition in remedy.amounts):
            continue
        words = tuple(
            0.0 if cause.id == dough.carry_on else helps(remedy.id, cause) for cause in causes
        )
        if max(words, default=0.0) <= FLOOR:
            continue
        made.append(_option(dough, remedy, causes, words, tried, minutes))
    return tuple(made)


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
        harm=tuple((p, HARM_MINUTES[harm] * part) for p, harm in harms if harm != "ruins it"),
        cures=tuple((causes[p].id, chance) for p, chance in cured),
        cured=cured,
        ruins=tuple((p, share(RUINS, part)) for p, harm in harms if harm == "ruins it"),
        goes=goes,
        saved=BETWEEN_REMEDIES if dosed else 0.0,
        dosed=dosed,
        opens=bool(remedy.establishes),
    )


def sort_out(
    options: Sequence[Option], chances: Mapping[str, float], findings: Collection[str]
) -> list[Held]:
    """The remedies that would help but may not be advised now, each with the reason."""
    held = []
    for option in options:
        if sum(chances[cause] * helped for cause, helped in option.cures) < LEAST_HELP * _JUST:
            continue
        remedy = option.remedy
        waits = tuple(name for name in remedy.only_after if name not in findings)
        risky = tuple(
            name
            for name, _ in remedy.harm_under
            if chances.get(name, 0.0) >= HARM_HELD_BACK * _JUST
        )
        if waits or risky:
            held.append(Held(remedy, waits, risky))
    return held


def advisable(
    options: Sequence[Option], weights: Sequence[float], findings: Collection[str]
) -> frozenset[str]:
    """Ids of the remedies that may be done now, with these chances in the options' order."""
    bad = math.fsum(weights)
    return frozenset(o.remedy.id for o in options if may_follow(o, weights, bad, findings))


class Asked(Protocol):
    """A part of the book that can be asked."""

    @property
    def id(self) -> str: ...


class Asking(Protocol):
    """What is read here of a question's worth."""

    @property
    def part(self) -> Asked: ...

    @property
    def leads_to(self) -> tuple[tuple[str, str], ...]: ...


@dataclass(frozen=True, slots=True)
class Clearing:
    """A question that would clear a remedy that is held back, and the answers that would."""

    question: str
    answers: tuple[str, ...]
    first: bool
    """Whether these answers make it the first remedy; otherwise they only unlock it."""


def clearing_question(
    held: Held,
    worths: Sequence[Asking],
    unlocked: Mapping[tuple[str, str], Collection[str]] = MappingProxyType({}),
) -> Clearing | None:
    """The open question that would clear a remedy that is held back, or None.

    Of the questions with an answer that would put this remedy first, the one that stands first in
    ``worths`` (the best one, if they come as ``asking.Ahead`` ranks them). If there is none, the
    first question with an answer after which the remedy may be advised at all: ``unlocked`` tells,
    by (question, answer), what ``advisable`` says then.
    """
    name = held.remedy.id
    for worth in worths:
        answers = tuple(answer for answer, first in worth.leads_to if first == name)
        if answers:
            return Clearing(worth.part.id, answers, first=True)
    for worth in worths:
        part = worth.part.id
        answers = tuple(a for a, _ in worth.leads_to if name in unlocked.get((part, a), ()))
        if answers:
            return Clearing(part, answers, first=False)
    return None


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
    most = HARM_HELD_BACK * bad * _JUST
    for place in option.danger:
        if left[place] >= most:
            return False
    if option.opens and gone == 0:
        return True
    helped = 0.0
    for place, hope in option.hopes[gone]:
        helped += left[place] * hope
    return helped >= LEAST_HELP * bad * _JUST


def quick_course(
    options: Sequence[Option],
    weights: Sequence[float],
    start_over: float,
    findings: frozenset[str] = frozenset(),
    opened: Opened = MappingProxyType({}),
    limits: Limits = NO_LIMITS,
) -> Course:
    """A good order at once: help per minute, ranked anew after each step, cut where it pays.

    Used for the many hypothetical answers; ``best_course`` is exact. ``weights`` are the chances
    of the causes, in the order of the options' tuples. The minutes are those of the order it
    gives, so it never promises less than the best order takes.
    """
    end = limits.end(start_over)
    # what is left is scale x part: a go then changes only the causes it is about
    part, scale = list(weights), 1.0
    bad = math.fsum(part)
    gone = [0] * len(options)
    reach = findings.union(*opened.values()) if opened else findings
    pool = [n for n, option in enumerate(options) if option.gates <= reach]
    least = min((options[n].minutes - options[n].saved for n in pool), default=0.0)
    order: list[int] = []
    spent, best, length = 0.0, end * bad, 0
    while len(order) < LONGEST_QUICK and spent + scale * bad * least < best:
        fair, danger = LEAST_HELP * bad * _JUST, HARM_HELD_BACK * bad * _JUST
        pick, top = -1, 0.0
        for n in pool:
            option = options[n]
            helped = 0.0
            for place, hope in option.hopes[gone[n]]:
                helped += part[place] * hope
            if helped < fair or not option.gates <= findings:
                continue
            for place in option.danger:
                if part[place] >= danger:
                    break
            else:
                rate = help_per_minute(option, part, bad, end, gone[n])
                if rate > top:
                    pick, top = n, rate
        if pick < 0:
            break
        option = options[pick]
        order.append(pick)
        spent += scale * (option.took(gone[pick]) * bad + _harm(option, part, end))
        gone[pick] += 1
        if gone[pick] == option.goes:
            pool.remove(pick)
        scale *= 1 - option.even
        for place, stays in option.stays:
            part[place] *= stays
        bad = sum(part)
        if option.remedy.id in opened:
            findings = findings | opened[option.remedy.id]
        total = spent + scale * bad * end
        if total < best - 1e-12:
            best, length = total, len(order)
    goes = [options[n] for n in order]
    if limits.minutes_left is not None and _may_turn_late(goes, start_over, limits):
        losses = prefix_losses(goes, weights, start_over, limits)
        best = min(losses)
        length = losses.index(best)
    return _course(goes[:length], best, limits)


def help_per_minute(
    option: Option, left: Sequence[float], bad: float, end: float, gone: int = 0
) -> float:
    """What the quick order ranks by: chance to help over minutes, doses taken together.

    ``left`` need not add up to one, ``bad`` is its sum; ``end`` is what giving up costs.
    """
    minutes, even, beyond = option.runs[gone]
    gain = even * bad
    for place, more in beyond:
        gain += left[place] * more
    return gain / (minutes * bad + _harm(option, left, end))


def _harm(option: Option, left: Sequence[float], end: float) -> float:
    """Minutes a go is expected to spoil."""
    cost = 0.0
    for place, worse in option.harm:
        cost += left[place] * worse
    for place, lost in option.ruins:
        cost += left[place] * (1 - option.helps[place]) * lost * end
    return cost


def _course(goes: Iterable[Option], minutes: float, limits: Limits) -> Course:
    named = tuple(option.remedy for option in goes)
    once = {remedy.id: remedy for remedy in reversed(named)}
    first = tuple(once[name] for name in dict.fromkeys(remedy.id for remedy in named))
    return Course(first, minutes, named, limits.way_out)


def _may_turn_late(goes: Sequence[Option], start_over: float, limits: Limits) -> bool:
    """Whether something that would be in time now could be late after these goes."""
    worst = sum(option.minutes + sum(m for _, m in option.harm) for option in goes)
    return limits.late(worst) > 0 or limits.end(start_over, worst) > limits.end(start_over)


def prefix_losses(
    goes: Sequence[Option], weights: Sequence[float], start_over: float, limits: Limits = NO_LIMITS
) -> list[float]:
    """The minutes expected of giving up after none, one, two ... of these goes."""
    left = list(weights)
    clock = [0.0] * len(left)
    spent = 0.0
    done: set[str] = set()
    losses = [_dot(left, (limits.end(start_over, t) for t in clock))]
    for option in goes:
        worse, lost = dict(option.harm), dict(option.ruins)
        for place, helped in enumerate(option.helps):
            took = option.took(option.remedy.id in done) + worse.get(place, 0.0)
            clock[place] += took
            stays = left[place] * (1 - helped)
            ruined = stays * lost.get(place, 0.0)
            spent += left[place] * (took + helped * limits.late(clock[place]))
            spent += ruined * limits.end(start_over, clock[place])
            left[place] = stays - ruined
        done.add(option.remedy.id)
        ends = (limits.end(start_over, t) for t in clock)
        losses.append(spent + _dot(left, ends))
    return losses


def best_course(
    options: Sequence[Option],
    weights: Sequence[float],
    start_over: float,
    findings: frozenset[str] = frozenset(),
    opened: Opened = MappingProxyType({}),
    limits: Limits = NO_LIMITS,
) -> Course:
    """The exact best order and cut, by dynamic programming over the goes made in vain.

    Takes at most eight options: those of the quick order (so that it is never worse), those that
    open others, then those that help most per minute. Agrees with trying every order (see the
    tests).
    """
    quick = quick_course(options, weights, start_over, findings, opened, limits)
    at_hand = {remedy.id for remedy in quick.remedies}
    reach = findings.union(*opened.values())
    ranked = sorted(
        (option for option in options if option.gates <= reach),
        key=lambda o: (
            o.remedy.id not in at_hand,
            o.remedy.id not in opened,
            -_dot(weights, o.helps) / o.minutes,
            o.remedy.id,
        ),
    )[:MOST_OPTIONS]
    search = _Search(ranked, weights, start_over, opened, limits)
    return _course(*search.course(findings), limits)


Vector = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Go:
    """An option over the classes of causes that all the options treat alike."""

    option: Option
    helps: Vector
    worse: Vector
    lost: Vector
    """Chance that a go neither helps nor leaves anything to help."""
    stays: Vector
    dangers: tuple[int, ...]
    hopes: tuple[Chances, ...]

    @property
    def least(self) -> float:
        """Minutes of its shortest go."""
        return self.option.minutes - self.option.saved


@dataclass(frozen=True, slots=True)
class _State:
    """Goes made in vain, and what follows from them whatever their order was."""

    key: int
    gone: tuple[int, ...]
    left: Vector
    known: frozenset[str]
    clock: float
    behind: Vector
    """Minutes of putting right on top of the clock."""


class _Search:
    """Least loss by the set of goes made in vain; branches that cannot win are not followed.

    The bound is what each cause would cost a cook who knew it: goes by help per minute, and a
    point of giving up (the best order for one cause; see e.g. Gluss, Operations Research 7, 1959,
    468-477, from memory). No plan does better, whatever has been tried.
    """

    def __init__(
        self,
        ranked: Sequence[Option],
        weights: Sequence[float],
        start_over: float,
        opened: Opened,
        limits: Limits,
    ) -> None:
        self._start_over, self._opened, self._limits = start_over, opened, limits
        self._end = limits.end(start_over)
        classes = _classes(ranked, len(weights))
        self._weights = tuple(math.fsum(weights[p] for p in places) for places in classes)
        self._goes = [_go(option, classes) for option in ranked]
        self._strides: list[int] = []
        stride = 1
        for option in ranked:
            self._strides.append(stride)
            stride *= option.goes + 1
        self._least = tuple(
            _if_known(
                [(g.least + g.worse[c], g.helps[c], g.option.goes) for g in self._goes], self._end
            )
            for c in range(len(classes))
        )
        self._found: dict[int, tuple[float, int | None]] = {}
        longest = sum((g.option.minutes + max(g.worse)) * g.option.goes for g in self._goes)
        self._never_late = limits.minutes_left is None or (
            limits.late(longest) == 0 and limits.end(start_over, longest) == self._end
        )

    def course(self, findings: frozenset[str]) -> tuple[list[Option], float]:
        """The best goes in order, and the loss of it all."""
        nothing = (0.0,) * len(self._weights)
        state = _State(0, (0,) * len(self._goes), self._weights, findings, 0.0, nothing)
        value = self._value(state)
        order: list[Option] = []
        while (step := self._found[state.key][1]) is not None:
            order.append(self._goes[step].option)
            state = self._after(state, step)
        return order, value

    def _value(self, state: _State) -> float:
        found = self._found.get(state.key)
        if found is not None:
            return found[0]
        bad = sum(state.left)
        best, choice = self._give_up(state, bad), None
        branches = []
        for n, go in enumerate(self._goes):
            gone = state.gone[n]
            if gone < go.option.goes and self._may(go, state, bad, gone):
                now = self._cost(go, state, bad, gone)
                bound = now + _dot(map(mul, state.left, go.stays), self._least)
                branches.append((bound, n, now))
        branches.sort()
        for bound, n, now in branches:
            if bound >= best - 1e-12:
                break
            cost = now + self._value(self._after(state, n))
            if cost < best - 1e-12:
                best, choice = cost, n
        self._found[state.key] = best, choice
        return best

    def _may(self, go: _Go, state: _State, bad: float, gone: int) -> bool:
        """``may_follow``, over the classes."""
        if not go.option.gates <= state.known:
            return False
        most = HARM_HELD_BACK * bad * _JUST
        for place in go.dangers:
            if state.left[place] >= most:
                return False
        helped = 0.0
        for place, hope in go.hopes[gone]:
            helped += state.left[place] * hope
        return helped >= LEAST_HELP * bad * _JUST

    def _cost(self, go: _Go, state: _State, bad: float, gone: int) -> float:
        """Of one go: minutes, what is spoilt or ruined, and being late although it helps."""
        left = state.left
        cost = go.option.took(gone) * bad + _dot(left, go.worse)
        if self._never_late:
            return cost + self._end * _dot(left, go.lost)
        limits, clock = self._limits, state.clock + go.option.took(gone)
        for c, (weight, behind) in enumerate(zip(left, state.behind, strict=True)):
            then = clock + behind + go.worse[c]
            cost += weight * go.helps[c] * limits.late(then)
            cost += weight * go.lost[c] * limits.end(self._start_over, then)
        return cost

    def _give_up(self, state: _State, bad: float) -> float:
        if self._never_late:
            return self._end * bad
        ends = (self._limits.end(self._start_over, state.clock + b) for b in state.behind)
        return _dot(state.left, ends)

    def _after(self, state: _State, n: int) -> _State:
        go = self._goes[n]
        remedy = go.option.remedy.id
        return _State(
            key=state.key + self._strides[n],
            gone=(*state.gone[:n], state.gone[n] + 1, *state.gone[n + 1 :]),
            left=tuple(map(mul, state.left, go.stays)),
            known=state.known | self._opened[remedy] if remedy in self._opened else state.known,
            clock=state.clock + go.option.took(state.gone[n]),
            behind=state.behind if self._never_late else tuple(map(add, state.behind, go.worse)),
        )


def _dot(left: Iterable[float], right: Iterable[float]) -> float:
    total: float = sum(map(mul, left, right))
    return total


def _classes(ranked: Sequence[Option], count: int) -> list[list[int]]:
    """Places that every option treats alike, together; a place in danger stands alone."""
    dangers = {place for option in ranked for place in option.danger}
    hoped = [dict(option.cured) for option in ranked]
    classes: dict[object, list[int]] = {}
    for place in range(count):
        alike = tuple(
            (option.helps[place], place in cured)
            for option, cured in zip(ranked, hoped, strict=True)
        )
        key: object = place if place in dangers else alike
        classes.setdefault(key, []).append(place)
    return list(classes.values())


def _go(option: Option, classes: Sequence[Sequence[int]]) -> _Go:
    worse, lost = dict(option.harm), dict(option.ruins)
    # the places of a class are alike: its first speaks for all
    firsts = [places[0] for places in classes]
    of = {place: c for c, place in enumerate(firsts)}
    helped = tuple(option.helps[p] for p in firsts)
    ruined = tuple((1 - option.helps[p]) * lost.get(p, 0.0) for p in firsts)
    return _Go(
        option=option,
        helps=helped,
        worse=tuple(worse.get(p, 0.0) for p in firsts),
        lost=ruined,
        stays=tuple(1 - h - r for h, r in zip(helped, ruined, strict=True)),
        dangers=tuple(of[p] for p in option.danger),
        hopes=tuple(tuple((of[p], hope) for p, hope in by if p in of) for by in option.hopes),
    )


def _if_known(goes: Sequence[tuple[float, float, int]], end: float) -> float:
    """Least minutes under one known cause; goes are (minutes, chance to help, how often).

    >>> _if_known([(10.0, 0.5, 1), (4.0, 0.5, 1)], 100.0)
    34.0
    """
    value = end
    for cost, helped, often in sorted(goes, key=lambda g: g[1] / g[0]):
        for _ in range(often):
            value = min(value, cost + (1 - helped) * value)
    return value


def carry_on_loss(
    dough: Dough, chances: Mapping[str, float], start_over: float, limits: Limits = NO_LIMITS
) -> float:
    """Minutes lost by carrying on, if something is wrong after all."""
    fine = chances.get(dough.carry_on, 0.0)
    wrong = TOO_LATE_TO_NOTICE + limits.end(start_over, TOO_LATE_TO_NOTICE)
    return fine * limits.late(0.0) + (1 - fine) * wrong
