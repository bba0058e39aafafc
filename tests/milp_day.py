"""The day of a kitchen as a whole-number programme, for a general solver: an oracle for ours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix

from diagnose.planning.scheduling import Task


def best_start(
    tasks: Sequence[Task], capacity: Mapping[str, int], horizon: int, seconds: float = 60.0
) -> tuple[int, int] | None:
    """(start, sum of begins) of the best day, by HiGHS; None where there is none.

    One variable for each task and minute it may end in, one for the start. ``TimeoutError`` if the
    solver did not prove its answer.
    """
    column: dict[tuple[str, int], int] = {}
    for task in tasks:
        last = horizon if task.keeps is None else min(horizon, task.keeps)
        for end in range(task.ready_by, last + 1):
            column[task.id, end] = len(column)
    start = len(column)
    known = {task.id: task for task in tasks}
    rows: list[tuple[dict[int, float], float, float]] = []

    def ends(task: Task, weight: float) -> dict[int, float]:
        return {c: weight * end for (name, end), c in column.items() if name == task.id}

    for task in tasks:
        rows.append(({c: 1.0 for (n, _), c in column.items() if n == task.id}, 1, 1))
        rows.append(({start: 1.0, **ends(task, -1)}, task.minutes, np.inf))
        for name in task.before:
            later = known[name]
            rows.append(({**ends(task, 1), **ends(later, -1)}, later.minutes, np.inf))
    for need, most in capacity.items():
        used: dict[int, dict[int, float]] = {}
        for (name, end), c in column.items():
            at = end + known[name].minutes
            for segment in known[name].segments:
                at -= segment.minutes
                if need in segment.needs:
                    for minute in range(at, at + segment.minutes):
                        used.setdefault(minute, {})[c] = segment.needs.count(need)
        rows += [(row, -np.inf, most) for row in used.values()]
    matrix = lil_matrix((len(rows), start + 1))
    for place, (row, _, _) in enumerate(rows):
        for c, value in row.items():
            matrix[place, c] = value
    heavy = float(len(tasks) * (horizon + max(t.minutes for t in tasks)) + 1)
    cost = np.zeros(start + 1)
    cost[start] = heavy
    for (_, end), c in column.items():
        cost[c] = end
    upper = np.ones(start + 1)
    upper[start] = np.inf
    found = milp(
        cost,
        constraints=LinearConstraint(
            matrix.tocsr(), [low for _, low, _ in rows], [high for _, _, high in rows]
        ),
        integrality=np.ones(start + 1),
        bounds=Bounds(0, upper),
        options={"time_limit": seconds, "mip_rel_gap": 0},
    )
    if found.status == 2:
        return None
    if found.status != 0:
        raise TimeoutError(found.message)
    begins = [end + known[name].minutes for (name, end), c in column.items() if found.x[c] > 0.5]
    return max(begins), sum(begins)
