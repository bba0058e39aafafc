"""The day of a batch: its steps on the clock, the room each has, and what does not fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from .asking import Wanted
from .formula import Amounts
from .scheduling import MOST_STEPS, NoPlan, Plan, Task, schedule, slack
from .tasks import HANDS, RESOURCES, Standing, Work, work

EXACT_WITHIN_MIN = 40
"""Nearer to the plate than this a clock time is given to the minute, before it to 5."""
DAY_MIN = 24 * 60
PAN_ON = "pan-"


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the day. Minutes are before the plate."""

    id: str
    stage: str
    say: str
    begins: int
    ends: int
    hands: bool
    slack: int
    """By how many minutes it may run late with all else as planned."""
    clock: str
    """When it begins, at the latest; empty where no hour of serving was told."""
    earliest: int | None
    """When it may begin at the earliest, by what keeps only so long; None: at any time before."""
    not_before: str
    """The same on the clock; empty where it may begin at any time before, or no hour was told."""

    @property
    def minutes(self) -> int:
        """How long it takes, at the most."""
        return self.begins - self.ends


@dataclass(frozen=True, slots=True)
class Late:
    """A step that would be ready so early that it does not keep until the plate."""

    task: str
    say: str
    minutes: int
    """How many minutes longer it would have to keep."""
    waits_for: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Day:
    """All steps in the order of the clock; ``late`` names every one that does not keep."""

    steps: tuple[Step, ...]
    start: int
    late: tuple[Late, ...]
    proven: bool
    """Whether no plan could begin later; else the latest that was found."""


def clock(serve_at: int | None, before: int, *, no_earlier: bool = False) -> str:
    """The hour ``before`` minutes before serving: the 5 minutes before it, exact from 40 min on.

    ``no_earlier`` gives the 5 minutes after it, for what must not be done sooner. House rule. An
    hour of the day before says so.

    >>> clock(19 * 60 + 30, 268), clock(19 * 60 + 30, 39), clock(60, 90), clock(None, 5)
    ('15:00', '18:51', '23:30 the day before', '')
    """
    if serve_at is None:
        return ""
    at = serve_at - before
    if before >= EXACT_WITHIN_MIN:
        at += -at % 5 if no_earlier else -(at % 5)
    words = ("", " the day before")
    days = -(at // DAY_MIN)
    hours, minutes = divmod(at % DAY_MIN, 60)
    which = words[days] if days < len(words) else f" {days} days before"
    return f"{hours:02}:{minutes:02}{which}"


def day(
    wanted: Wanted,
    amounts: Amounts,
    loads: Sequence[int],
    standing: Standing | None = None,
    most_steps: int = MOST_STEPS,
    why: bool = True,
) -> Day:
    """The latest day that serves on time.

    Where something does not keep until the plate, whatever the order, the nearest day is given and
    everything in it that does not keep is named, and with ``why`` also what it waits for.
    """
    todo = work(wanted, amounts, loads, standing)
    plan = _nearest(todo, most_steps)
    room = slack(plan, todo.tasks, todo.capacity)
    late = []
    for task in todo.tasks:
        over = 0 if task.keeps is None else plan.ends[task.id] - task.keeps
        if over > 0:
            late.append(
                Late(task.id, _first(todo, task), over, _taken(todo, plan, task) if why else ())
            )
    steps = _steps(todo, plan, room, wanted.serve_at)
    return Day(steps, plan.start, tuple(late), plan.latest)


def _nearest(todo: Work, most_steps: int) -> Plan:
    """The best plan, with as little more keeping as it takes where there is none."""
    tasks = list(todo.tasks)
    while True:
        try:
            return schedule(tasks, todo.capacity, most_steps)
        except NoPlan as refused:
            more = {short.task: short.minutes for short in refused.short}
        tasks = [
            replace(t, keeps=t.keeps + more[t.id]) if t.keeps is not None and t.id in more else t
            for t in tasks
        ]


def _taken(todo: Work, plan: Plan, late: Task) -> tuple[str, ...]:
    """What is all taken, by others, in the time in which it would have to be done."""
    first, last = late.ready_by, plan.ends[late.id]
    found = []
    for need in dict.fromkeys(n for s in late.segments for n in s.needs):
        for minute in range(first, last):
            used = sum(
                1
                for task in todo.tasks
                if task.id != late.id and _needs_at(task, plan.begins[task.id], minute, need)
            )
            if used >= todo.capacity[need]:
                found.append(RESOURCES[need])
                break
    return tuple(found)


def _needs_at(task: Task, begins: int, minute: int, need: str) -> bool:
    at = begins
    for segment in task.segments:
        at -= segment.minutes
        if at <= minute < at + segment.minutes:
            return need in segment.needs
    return False


def _first(todo: Work, task: Task) -> str:
    return next(act.say for act in todo.acts if act.task == task.id)


def earliest_begins(tasks: Sequence[Task]) -> dict[str, int | None]:
    """How many minutes before the plate each task may begin at the earliest; None: any time.

    By what keeps only so long, and by what has to be done before; hands and burners are not asked.
    A pan is not left to heat empty: it goes on just before its load.
    """
    known = {task.id: task for task in tasks}
    first: dict[str, list[str]] = {task.id: [] for task in tasks}
    for task in tasks:
        for name in task.before:
            if not task.id.startswith(PAN_ON):
                first[name].append(task.id)
    found: dict[str, int | None] = {}

    def begin(name: str) -> int | None:
        if name not in found:
            task = known[name]
            limits = [None if task.keeps is None else task.keeps + task.minutes]
            for other in first[name]:
                at = begin(other)
                limits.append(None if at is None else at - known[other].minutes)
            if name.startswith(PAN_ON):
                loads = [begin(load) for load in task.before]
                limits += [None if at is None else at + task.minutes for at in loads]
            found[name] = min((limit for limit in limits if limit is not None), default=None)
        return found[name]

    return {task.id: begin(task.id) for task in tasks}


def _steps(
    todo: Work, plan: Plan, room: Mapping[str, int | None], serve_at: int | None
) -> tuple[Step, ...]:
    found = []
    at = dict(plan.begins)
    early = earliest_begins(todo.tasks)
    for act in todo.acts:
        begins, first = at[act.task], early[act.task]
        at[act.task] = begins - act.minutes
        if first is not None:
            early[act.task] = first - act.minutes
            first = max(first, begins)  # what does not keep at all is told as such
        found.append(
            Step(
                act.id, act.stage, act.say, begins, begins - act.minutes, HANDS in act.needs,
                room[act.task] or 0, clock(serve_at, begins), first,
                "" if first is None else clock(serve_at, first, no_earlier=True),
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda step: -step.begins))
