"""The day of a batch as a chart: lanes of bars, true to scale; what is drawn, not how."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.planning.day import Day, Step

WIDTH, LANE, TOP = 340, 34, 20
"""Units of the drawing: its width, the height of a lane, the room for the hours."""
LEAST_BAR = 2.0
TICKS_MIN = (15, 30, 60, 120, 240, 480, 1440)
MOST_TICKS = 7


@dataclass(frozen=True, slots=True)
class Bar:
    """One step; ``hands`` is drawn full, waiting is drawn empty."""

    x: float
    width: float
    hands: bool


@dataclass(frozen=True, slots=True)
class Lane:
    """A row of steps that follow one another."""

    label: str
    y: int
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on the axis."""

    x: float
    label: str


@dataclass(frozen=True, slots=True)
class Chart:
    """All that the drawing needs. ``begins`` and ``ends`` are seconds of the clock, or None."""

    lanes: tuple[Lane, ...]
    ticks: tuple[Tick, ...]
    height: int
    begins: int | None
    ends: int | None
    say: str


def chart(day: Day, serve_at: int | None, serving_epoch: int | None = None) -> Chart:
    """The chart of a day; with the second of serving it can show where now is."""
    start = max(day.start, 1)
    scale = WIDTH / start
    lanes: dict[str, list[Step]] = {}
    for step in day.steps:
        lanes.setdefault(_lane(step, lanes), []).append(step)
    drawn = tuple(
        Lane(
            label,
            TOP + place * LANE,
            tuple(
                Bar(
                    round((start - s.begins) * scale, 1),
                    round(max(LEAST_BAR, s.minutes * scale - 0.8), 1),
                    s.hands,
                )
                for s in steps
            ),
        )
        for place, (label, steps) in enumerate(lanes.items())
    )
    height = TOP + LANE * len(drawn)
    return Chart(
        drawn,
        _ticks(start, serve_at),
        height,
        None if serving_epoch is None else serving_epoch - 60 * start,
        serving_epoch,
        f"Chart of the day: {len(day.steps)} steps in {len(drawn)} rows over {start} minutes. "
        "The table says the same.",
    )


def _lane(step: Step, lanes: dict[str, list[Step]]) -> str:
    if step.stage == "garnish":
        return step.say.removesuffix(": wait")
    if step.id in ("oven", "finish"):
        return "Oven"
    if step.stage == "serve":
        return "Plates"
    if step.stage == "chill":
        return "Slab cools"
    if step.stage == "brown":
        for number in range(1, 20):
            name = "Pan" if number == 1 else f"Pan {number}"
            if all(s.ends >= step.begins for s in lanes.get(name, ())):
                return name
    return "Stove and bench"


def _ticks(start: int, serve_at: int | None) -> tuple[Tick, ...]:
    every = next((t for t in TICKS_MIN if start / t <= MOST_TICKS - 1), TICKS_MIN[-1])
    scale = WIDTH / start
    if serve_at is None:
        marks = [(before, f"-{before}") for before in range(0, start + 1, every)]
    else:
        first = serve_at % every
        marks = [
            (before, f"{(serve_at - before) // 60 % 24:02}:{(serve_at - before) % 60:02}")
            for before in range(first, start + 1, every)
        ]
    return tuple(Tick(round((start - before) * scale, 1), label) for before, label in marks)
