"""The day backwards from the plate: exact on small kitchens, and never one pair of hands twice."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st
from milp_day import best_start

from diagnose.planning.scheduling import NoPlan, Plan, Segment, Short, Task, schedule, slack

Problem = tuple[list[Task], dict[str, int]]


def problem(seed: int, most: int = 4) -> Problem:
    """A small kitchen: a few tasks, some in a row, some that keep only for minutes."""
    luck = random.Random(seed)
    count = luck.randint(1, most)
    tasks: list[Task] = []
    for n in range(count):
        segments = tuple(
            Segment(
                luck.randint(1, 3),
                tuple(r for r in ("hands", "burner") if luck.random() < 0.5),
            )
            for _ in range(luck.randint(1, 2))
        )
        later = tuple(t.id for t in tasks if luck.random() < 0.3)
        by = luck.randint(0, 1)
        keeps = by + luck.randint(0, 5) if luck.random() < 0.5 else None
        tasks.append(Task(f"t{n}", segments, later, by, keeps))
    return tasks, {"hands": luck.randint(1, 2), "burner": 1}


def fits(tasks: Sequence[Task], ends: Mapping[str, int], capacity: Mapping[str, int]) -> bool:
    """Written a second time, minute by minute and without the search's tables."""
    known = {t.id: t for t in tasks}
    for task in tasks:
        end = ends[task.id]
        if end < task.ready_by or (task.keeps is not None and end > task.keeps):
            return False
        if any(end < ends[n] + known[n].minutes for n in task.before):
            return False
    taken: dict[tuple[str, int], int] = {}
    for task in tasks:
        at = ends[task.id] + task.minutes
        for segment in task.segments:
            for _ in range(segment.minutes):
                at -= 1
                for need in segment.needs:
                    taken[need, at] = taken.get((need, at), 0) + 1
    return all(count <= capacity[need] for (need, _), count in taken.items())


def exhaustive(tasks: Sequence[Task], capacity: Mapping[str, int]) -> tuple[int, int] | None:
    """The best (start, sum of begins) of every way to end every task within the horizon."""
    horizon = 2 + sum(t.minutes for t in tasks)
    best: tuple[int, int] | None = None
    for ends in itertools.product(range(horizon), repeat=len(tasks)):
        told = dict(zip((t.id for t in tasks), ends, strict=True))
        begins = [told[t.id] + t.minutes for t in tasks]
        value = max(begins), sum(begins)
        if (best is None or value < best) and fits(tasks, told, capacity):
            best = value
    return best


@pytest.mark.parametrize("seeds", [range(n, n + 30) for n in range(0, 300, 30)], ids=str)
def test_it_equals_exhaustive_search_on_small_kitchens(seeds: range) -> None:
    for seed in seeds:
        tasks, capacity = problem(seed, most=3)
        wanted = exhaustive(tasks, capacity)
        if wanted is None:
            with pytest.raises(NoPlan):
                schedule(tasks, capacity)
            continue
        plan = schedule(tasks, capacity)
        assert plan.proven
        assert (plan.start, sum(plan.begins.values())) == wanted, seed


@given(st.integers(0, 10**9))
def test_a_plan_never_needs_one_thing_twice_and_everything_keeps(seed: int) -> None:
    tasks, capacity = problem(seed, most=7)
    short: tuple[Short, ...] = ()
    try:
        ends = schedule(tasks, capacity).ends
    except NoPlan as refused:
        short = refused.short
        ends = {}
    assert fits(tasks, ends, capacity) if ends else short and all(s.minutes > 0 for s in short)


@given(st.integers(0, 10**9), st.sampled_from(["hands", "burner"]))
def test_more_hands_or_burners_never_make_the_day_longer(seed: int, more: str) -> None:
    tasks, capacity = problem(seed, most=5)
    try:
        before = schedule(tasks, capacity)
    except NoPlan:
        return
    after = schedule(tasks, {**capacity, more: capacity[more] + 1})
    if before.proven and after.proven:
        assert after.start <= before.start


def dinner(burners: int) -> Problem:
    """Two loads in the pan, then the oven; a steamed garnish that keeps 10 minutes."""
    hands_pan = ("hands", "burner")
    return [
        Task("load 1", (Segment(8, hands_pan),), ("oven",)),
        Task("load 2", (Segment(8, hands_pan),), ("oven",)),
        Task("oven", (Segment(6, ("oven",)),), (), 2, 20),
        Task("steam", (Segment(10, ("burner",)),), (), 2, 10),
    ], {"hands": 1, "burner": burners, "oven": 1}


def test_a_second_burner_makes_room_for_the_garnish_and_one_says_what_is_short() -> None:
    plan = schedule(*dinner(2))
    assert plan.ends["steam"] == 2
    assert plan.start == 24
    one = schedule(*dinner(1))
    assert one.start > plan.start
    tight = [t if t.id != "oven" else Task("oven", t.segments, (), 2, 3) for t in dinner(1)[0]]
    late = [t if t.id != "steam" else Task("steam", t.segments, (), 2, 4) for t in tight]
    plan = schedule(late, dinner(1)[1])
    assert plan.ends["steam"] <= 4
    pan = Task("fried garnish", (Segment(9, ("hands", "burner")),), (), 2, 4)
    last = Task("sauce", (Segment(9, ("hands", "burner")),), (), 2, 4)
    with pytest.raises(NoPlan) as refused:
        schedule([pan, last], {"hands": 1, "burner": 2})
    (short,) = refused.value.short
    assert short.minutes == 7
    assert short.waits_for == ("hands",)


def test_slack_is_how_late_a_task_may_run_with_all_others_as_planned() -> None:
    tasks, capacity = dinner(2)
    plan = schedule(tasks, capacity)
    room = slack(plan, tasks, capacity)
    assert room["load 2"] == 0 or room["load 1"] == 0
    for task in tasks:
        late = room[task.id]
        assert late is not None
        assert fits(tasks, {**plan.ends, task.id: plan.ends[task.id] - late}, capacity)


def test_thirty_tasks_are_planned_and_say_whether_the_plan_is_the_best() -> None:
    luck = random.Random(7)
    tasks = [
        Task(f"t{n}", (Segment(luck.randint(2, 15), ("hands",)), Segment(luck.randint(1, 30))))
        for n in range(30)
    ]
    plan = schedule(tasks, {"hands": 1})
    assert isinstance(plan, Plan)
    assert fits(tasks, plan.ends, {"hands": 1})


@pytest.mark.parametrize(
    ("tasks", "words"),
    [
        ([Task("a", (Segment(1),)), Task("a", (Segment(1),))], "two tasks are called a"),
        ([Task("a", (Segment(1, ("grill",)),))], "needs grill"),
        ([Task("a", (Segment(1),), ("b",))], "b, which is not planned"),
        ([Task("a", (Segment(0),))], "at least 1 whole minute"),
        ([Task("a", (Segment(1),), (), 5, 3)], "keep at least as long"),
        (
            [Task("a", (Segment(1),), ("b",)), Task("b", (Segment(1),), ("a",))],
            "wait for each other",
        ),
    ],
)
def test_what_cannot_be_planned_is_refused_in_words(tasks: list[Task], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        schedule(tasks, {"hands": 1})


@pytest.mark.parametrize("seed", range(20))
def test_it_equals_a_general_solver_on_larger_kitchens(seed: int) -> None:
    """A whole-number programme, one variable a task and minute, solved by HiGHS through scipy."""
    tasks, capacity = problem(seed + 1000, most=7)
    horizon = 2 + sum(t.minutes for t in tasks)
    wanted = best_start(tasks, capacity, horizon)
    if wanted is None:
        with pytest.raises(NoPlan):
            schedule(tasks, capacity)
        return
    plan = schedule(tasks, capacity)
    assert plan.proven
    assert (plan.start, sum(plan.begins.values())) == wanted
