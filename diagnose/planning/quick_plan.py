"""A good day in one go: each task as late as it can be, in an order that is then bettered."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence

from .resources import MOST_BACK, Task, Used

MOVES = 30


def over(tasks: Sequence[Task], ends: Mapping[str, int]) -> int:
    """By how many minutes in all things would have to keep longer."""
    return sum(max(0, ends[t.id] - t.keeps) for t in tasks if t.keeps is not None)


def nearest(tasks: Sequence[Task], capacity: Mapping[str, int]) -> dict[str, int]:
    """The better of two plain plans in which things may keep longer than they do.

    What it breaks is told to a cook, so it is kept simple: what keeps least comes first, or what
    takes longest.
    """
    found = [_in_order(order, capacity) for order in _orders(tasks)[:2]]
    return min(found, key=lambda ends: over(tasks, ends))


def _orders(tasks: Sequence[Task]) -> list[list[Task]]:
    """What keeps least first; what takes longest; what has the longest row before it."""
    behind = chains(tasks)
    return [
        sorted(tasks, key=lambda t: (MOST_BACK if t.keeps is None else t.keeps, t.id)),
        sorted(tasks, key=lambda t: (t.keeps is None, -t.minutes, t.id)),
        sorted(tasks, key=lambda t: (-behind[t.id], t.id)),
    ]


def bettered(tasks: Sequence[Task], capacity: Mapping[str, int], most_steps: int) -> dict[str, int]:
    """A good plan, quickly, in which things may keep longer than they do where nothing else goes.

    Three orders; in the first, of what keeps least, one task after another is moved to another
    place as long as that is no worse. Always the same moves, at most 30 for each task, and at most
    four times ``most_steps`` placements.
    """

    def worth(ends: Mapping[str, int]) -> tuple[int, int, int]:
        begins = [ends[t.id] + t.minutes for t in tasks]
        return over(tasks, ends), max(begins, default=0), sum(begins)

    found = [(order, _in_order(order, capacity)) for order in _orders(tasks)]
    # From what keeps least the moves were seen to get furthest.
    order, ends = found[0]
    best = min((other for _, other in found), key=worth)
    least = max(chains(tasks).values(), default=0)
    luck = random.Random(0)
    for _ in range(min(MOVES * len(tasks), 4 * most_steps // max(1, len(tasks)))):
        if len(tasks) < 2 or worth(ends)[:2] <= (0, least):
            break
        moved = list(order)
        moved.insert(luck.randrange(len(tasks)), moved.pop(luck.randrange(len(tasks))))
        other = _in_order(moved, capacity)
        if worth(other)[:2] <= worth(ends)[:2]:
            order, ends = moved, other
            best = min(best, ends, key=worth)
    return best


def chains(tasks: Sequence[Task]) -> dict[str, int]:
    """Minutes of the longest row of tasks that ends with each: no plan begins later than that."""
    found: dict[str, int] = {}

    def chain(task: Task) -> int:
        if task.id not in found:
            before = [chain(other) for other in tasks if task.id in other.before]
            found[task.id] = task.minutes + max(before, default=0)
        return found[task.id]

    for task in tasks:
        chain(task)
    return found


def _in_order(tasks: Sequence[Task], capacity: Mapping[str, int]) -> dict[str, int]:
    """Each task as late as it can be, the first of those that may be placed first."""
    known = {task.id: task for task in tasks}
    used, ends = Used(capacity), dict[str, int]()
    while len(ends) < len(tasks):
        task = next(
            t for t in tasks if t.id not in ends and all(later in ends for later in t.before)
        )
        end = max([task.ready_by, *(ends[n] + known[n].minutes for n in task.before)])
        while not used.free(task, end):
            end += 1
        ends[task.id] = end
        used.take(task, end)
    return ends
