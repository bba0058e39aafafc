"""Timings of the day's scheduler beside a general solver, printed; nothing here is a test.

    .venv/bin/python tests/bench/planning.py

Processor time in one process, every peer in the same run. The peer is a whole-number programme, one
variable a task and minute, solved by HiGHS through scipy, with 60 s at most. Ratios carry over to
another machine, milliseconds do not.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from diagnose.planning.asking import Garnish, Wanted
from diagnose.planning.batch_plan import plan
from diagnose.planning.scheduling import schedule
from diagnose.planning.sizing import loads_of, sized
from diagnose.planning.tasks import work
from milp_day import best_start

ROUNDS = 3
SQUASH = Garnish("Squash cubes", 2, 8, 10, "burner")


def garnishes(count: int) -> tuple[Garnish, ...]:
    luck = random.Random(3)
    return tuple(
        Garnish(f"garnish {n}", luck.randint(2, 9), luck.randint(0, 15), 30) for n in range(count)
    )


DAYS = {
    "the story: 12 small plates, 1 garnish": Wanted(12, "small-plate", garnishes=(SQUASH,)),
    "20 small plates, 4 garnishes": Wanted(
        20, "small-plate", cooks=2, pans=2, burners=4, garnishes=garnishes(4)
    ),
    "30 small plates, 8 garnishes, 3 cooks": Wanted(
        30, "small-plate", cooks=3, pans=3, burners=4, garnishes=garnishes(8)
    ),
}


def seconds(action: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Median processor time."""
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        action()
        taken.append(time.process_time() - start)
    return statistics.median(taken)


def one_day(name: str, wanted: Wanted) -> None:
    formula, _ = sized(wanted)
    todo = work(wanted, formula.amounts, loads_of(wanted, formula).sizes)
    found = schedule(todo.tasks, todo.capacity)
    ours = seconds(lambda: schedule(todo.tasks, todo.capacity))
    whole = seconds(lambda: plan(wanted), 1)
    begun = time.process_time()
    try:
        # No better day begins earlier than ours, so the peer need not look beyond it.
        peer = best_start(todo.tasks, todo.capacity, found.start)
        best = "none" if peer is None else f"start {peer[0]} min, begins {peer[1]} in all"
    except TimeoutError:
        best = "not proven in 60 s"
    other = time.process_time() - begun
    print(f"{name}: {len(todo.acts)} steps in {len(todo.tasks)} tasks")
    print(
        f"  ours   {ours * 1e3:7.1f} ms | start {found.start} min, begins "
        f"{sum(found.begins.values())} in all{'' if found.proven else ' (not proven)'}"
        f"{', no later start' if found.latest else ''}"
    )
    print(f"  solver {other * 1e3:7.1f} ms | {best} | {other / ours:.0f}x")
    print(f"  the whole plan {whole * 1e3:.0f} ms")


def main() -> None:
    for name, wanted in DAYS.items():
        one_day(name, wanted)


if __name__ == "__main__":
    main()
