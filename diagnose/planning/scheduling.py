"""The day backwards from the plate: when each task begins, with few hands and few burners.

Time is counted backwards: a task that *ends* at 20 is done 20 minutes before plating, and one of
30 minutes then begins at 50. A task is a row of segments without gaps; each segment needs some
resources (a pair of hands, a burner, the oven) for its minutes. A task may have to end before
others begin, and may keep for only so long after it is ready.

The best plan begins as late as it can, then has everything as fresh as it can. Placing the tasks
one by one, each as late as the resources allow, in some order, reaches a best plan for one of the
orders (active schedules; Sprecher, Kolisch and Drexl, European Journal of Operational Research 80,
1995, 94-102, from memory), so the search is over orders. It is exact unless it runs out of steps,
and then says so.

A solver was tried in its place: a constraint solver weighs 270 MB installed, takes 0.3 s to load,
and did not prove a plan of 30 tasks within 5 s; a day in one kitchen is small.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .quick_plan import bettered, chains, nearest, over
from .resources import MOST_BACK, Segment, Task, Used

__all__ = ["MOST_STEPS", "NoPlan", "Plan", "Segment", "Short", "Task", "schedule", "slack"]

MOST_STEPS = 4_000
"""Placements tried before the best plan so far is taken."""


@dataclass(frozen=True, slots=True)
class Plan:
    """When each task ends, in minutes before plating; tasks in the order of the clock."""

    ends: Mapping[str, int]
    begins: Mapping[str, int]
    proven: bool
    """Whether no other plan is better; else the search ran out of steps."""
    latest: bool
    """Whether no other plan begins later."""

    @property
    def start(self) -> int:
        """Minutes before plating at which the first task begins."""
        return max(self.begins.values(), default=0)


@dataclass(frozen=True, slots=True)
class Short:
    """Why there is no plan: a task that is ready so long before the plate that it does not keep."""

    task: str
    minutes: int
    """How many minutes longer it would have to keep."""
    waits_for: tuple[str, ...]
    """The resources that are taken when it would have to be done."""


class NoPlan(Exception):
    """There is no plan; ``short`` says what does not fit."""

    def __init__(self, short: Sequence[Short]) -> None:
        super().__init__("; ".join(f"{s.task} is {s.minutes} minutes short" for s in short))
        self.short = tuple(short)


def schedule(
    tasks: Sequence[Task], capacity: Mapping[str, int], most_steps: int = MOST_STEPS
) -> Plan:
    """The best plan for these tasks.

    Args:
        capacity: how many of each resource there are; whole numbers from 1.

    Raises:
        NoPlan: whatever the order, something does not keep until the plate.
        ValueError: a name that is not there, a circle, a resource that nobody has, or a time that
            is not a whole number of minutes.

    >>> dough = Task("slab", (Segment(50, ("hands",)), Segment(160)), before=("brown",))
    >>> brown = Task("brown", (Segment(8, ("hands", "burner")),), ready_by=8, keeps=20)
    >>> plan = schedule([dough, brown], {"hands": 1, "burner": 1})
    >>> plan.begins["brown"], plan.begins["slab"]
    (16, 226)
    """
    _check(tasks, capacity)
    search = _Search(tasks, capacity, most_steps)
    quick = bettered(tasks, capacity, most_steps)
    if over(tasks, quick) == 0:
        search.begin_with(quick)
    search.run()
    if search.best is None:
        raise NoPlan(_shortfalls(tasks, capacity, nearest(tasks, capacity)))
    begins = {t.id: search.best[t.id] + t.minutes for t in tasks}
    order = sorted(begins, key=lambda name: (-begins[name], name))
    proven = search.steps < most_steps
    longest = max(chains(tasks).values(), default=0)
    return Plan(
        {name: search.best[name] for name in order},
        {name: begins[name] for name in order},
        proven,
        proven or max(begins.values(), default=0) == longest,
    )


def slack(plan: Plan, tasks: Sequence[Task], capacity: Mapping[str, int]) -> dict[str, int | None]:
    """By how many minutes each task may run late with all others as planned; None: any number.

    A task that runs late ends later, so this is how much nearer to the plate it could end.
    """
    known = {task.id: task for task in tasks}
    found: dict[str, int | None] = {}
    for task in tasks:
        end = plan.ends[task.id]
        others = Used(capacity)
        for other in tasks:
            if other.id != task.id:
                others.take(other, plan.ends[other.id])
        least = max(
            [task.ready_by, *(plan.begins[name] for name in task.before if name in known)],
            default=0,
        )
        room = 0
        while end - room - 1 >= least and others.free(task, end - room - 1):
            room += 1
        found[task.id] = room
    return found


def _check(tasks: Sequence[Task], capacity: Mapping[str, int]) -> None:
    names = [task.id for task in tasks]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"two tasks are called {twice[0]}; each needs a name of its own")
    for name, count in capacity.items():
        if count < 1:
            raise ValueError(f"there are {count} of {name}; a whole number from 1 is accepted")
    for task in tasks:
        if not task.segments or any(
            not isinstance(s.minutes, int) or s.minutes < 1 for s in task.segments
        ):
            raise ValueError(f"{task.id} needs segments of at least 1 whole minute")
        for segment in task.segments:
            for need in segment.needs:
                if need not in capacity:
                    raise ValueError(f"{task.id} needs {need}, and there is none of that")
        for name in task.before:
            if name not in names:
                raise ValueError(f"{task.id} comes before {name}, which is not planned")
        if task.keeps is not None and task.keeps < task.ready_by:
            raise ValueError(
                f"{task.id} must be ready {task.ready_by} minutes before plating and keeps "
                f"{task.keeps}; it has to keep at least as long"
            )
    left = {task.id: set(task.before) for task in tasks}
    while left:
        free = [name for name, later in left.items() if not later]
        if not free:
            raise ValueError(f"{', '.join(sorted(left))} wait for each other")
        for name in free:
            del left[name]
        for later in left.values():
            later.difference_update(free)


class _Search:
    """Depth first over the orders, the most fragile tasks first, cut by a bound."""

    def __init__(self, tasks: Sequence[Task], capacity: Mapping[str, int], most_steps: int) -> None:
        self._tasks = {task.id: task for task in tasks}
        self._used = Used(capacity)
        self._most = most_steps
        self._ends: dict[str, int] = {}
        self._after: dict[str, list[str]] = {task.id: [] for task in tasks}
        for task in tasks:
            for name in task.before:
                self._after[name].append(task.id)
        self._behind = {task.id: self._chain(task.id) for task in tasks}
        self._seen: dict[frozenset[tuple[str, int]], None] = {}
        self._value: tuple[int, int] | None = None
        self.steps = 0
        self.best: dict[str, int] | None = None

    def _chain(self, name: str) -> int:
        """Minutes of the longest row of tasks that ends with this one."""
        task = self._tasks[name]
        return task.minutes + max((self._chain(n) for n in self._after[name]), default=0)

    def run(self) -> None:
        """Find the best plan, if there is one."""
        self._place()

    def begin_with(self, ends: Mapping[str, int]) -> None:
        """A plan that was found by other means: it stands until a better one is found."""
        begins = [ends[n] + t.minutes for n, t in self._tasks.items()]
        self._value, self.best = (max(begins, default=0), sum(begins)), dict(ends)

    def _least_end(self, task: Task) -> int:
        return max([task.ready_by, *(self._ends[n] + self._tasks[n].minutes for n in task.before)])

    def _place(self) -> None:
        if len(self._ends) == len(self._tasks):
            begins = [self._ends[n] + t.minutes for n, t in self._tasks.items()]
            value = max(begins, default=0), sum(begins)
            if self._value is None or value < self._value:
                self._value, self.best = value, dict(self._ends)
            return
        state = frozenset(self._ends.items())
        if state in self._seen or not self._may_win():
            return
        self._seen[state] = None
        open_ = [
            task
            for name, task in self._tasks.items()
            if name not in self._ends and all(later in self._ends for later in task.before)
        ]
        # What keeps least is placed nearest to the plate; of equals what has most behind it.
        open_.sort(
            key=lambda t: (MOST_BACK if t.keeps is None else t.keeps, -self._behind[t.id], t.id)
        )
        for task in open_:
            if self.steps >= self._most:
                return
            self.steps += 1
            end = self._latest(task)
            if end is None:
                continue
            before = self._used.copy()
            self._ends[task.id] = end
            self._used.take(task, end)
            self._place()
            self._used.put_back(before)
            del self._ends[task.id]

    def _latest(self, task: Task) -> int | None:
        """The latest end that the resources allow; None if it does not keep so long."""
        end = self._least_end(task)
        last = MOST_BACK if task.keeps is None else task.keeps
        while end <= last:
            if self._used.free(task, end):
                return end
            end += 1
        return None

    def _may_win(self) -> bool:
        """Whether what is left could still make a better plan, were every resource free."""
        if self._value is None:
            return True
        least: dict[str, int] = {}

        def begin(name: str) -> int:
            task = self._tasks[name]
            if name in self._ends:
                return self._ends[name] + task.minutes
            if name not in least:
                later = [begin(n) for n in task.before]
                least[name] = max([task.ready_by, *later]) + task.minutes
            return least[name]

        begins = [begin(name) for name in self._tasks]
        return (max(begins), sum(begins)) < self._value


def _shortfalls(
    tasks: Sequence[Task], capacity: Mapping[str, int], ends: Mapping[str, int]
) -> list[Short]:
    """What does not keep in the plan that comes nearest."""
    found = []
    for task in tasks:
        if task.keeps is None or ends[task.id] <= task.keeps:
            continue
        used = Used(capacity)
        for other in tasks:
            if other.id != task.id:
                used.take(other, ends[other.id])
        begins = [ends[n] + t.minutes for n in task.before for t in tasks if t.id == n]
        wanted = max([task.ready_by, *begins])
        blocking: set[str] = set()
        for end in range(wanted, max(wanted, task.keeps) + 1):
            blocking |= used.blocking(task, end)
        found.append(Short(task.id, ends[task.id] - task.keeps, tuple(sorted(blocking))))
    return found
