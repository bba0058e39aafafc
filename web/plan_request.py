"""A plan as a program asks for it: the shape of the request, and a sentence for every mistake."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from diagnose.kitchen.browning import base_of_pan_mm
from diagnose.knowledge.problems import nearest
from diagnose.planning.asking import (
    LONGEST_HOLD_MIN,
    LONGEST_TASK_MIN,
    MOST_BURNERS,
    MOST_COOKS,
    MOST_GARNISHES,
    MOST_PANS,
    Garnish,
    Wanted,
)
from diagnose.planning.batch_plan import BatchPlan
from diagnose.planning.formula import LEAST_YOLK_G, MOST_GUESTS, MOST_YOLK_G

_CONFIG = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)
FlourWay = Literal["weighed", "spooned", "dipped", "sifted-first", "sifted-after", "unknown"]
Support = Literal["racked-metal-tray", "tray-on-shelf", "wood-or-box"]
Clock = Annotated[str, Field(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$", description="like 19:30")]


class GarnishAsked(BaseModel):
    """One garnish: first hands, then waiting, then how long it stays good."""

    model_config = _CONFIG
    name: str = Field(min_length=1, max_length=40)
    active_min: int = Field(ge=1, le=LONGEST_TASK_MIN)
    waiting_min: int = Field(0, ge=0, le=LONGEST_TASK_MIN)
    holds_min: int = Field(ge=0, le=LONGEST_HOLD_MIN)
    needs: Literal["nothing", "burner", "oven"] = "nothing"


class PlanRequest(BaseModel):
    """A batch to plan. Only ``guests`` is needed; what is left out stands at a usual value."""

    model_config = _CONFIG
    guests: int = Field(ge=1, le=MOST_GUESTS)
    portion: Literal["starter", "small-plate", "plate"] = "small-plate"
    elevation_m: float | None = Field(None, ge=-430, le=3500)
    serve_at: Clock | None = None
    minutes_to_serving: int | None = Field(None, ge=0, le=7 * 24 * 60)
    flour_measured: FlourWay = "weighed"
    flour_choice: Literal["book", "practice"] = "book"
    pan_base_mm: float | None = Field(None, ge=100, le=400)
    pan_rim_mm: float | None = Field(None, ge=125, le=500)
    pans: int = Field(1, ge=1, le=MOST_PANS)
    cooks: int = Field(1, ge=1, le=MOST_COOKS)
    burners: int = Field(2, ge=1, le=MOST_BURNERS)
    thickness_mm: float = Field(15.0, ge=10, le=25)
    support: Support = "racked-metal-tray"
    fridge_c: float = Field(4.0, ge=1, le=7)
    milk: Literal["whole", "skim", "lactose-free"] = "whole"
    flour: Literal["all-purpose", "bread", "cake", "wholewheat"] = "all-purpose"
    yolk_g: float = Field(17.0, ge=LEAST_YOLK_G, le=MOST_YOLK_G)
    chance_lost: float | None = Field(None, ge=0, le=0.9)
    freezer: bool = False
    garnishes: tuple[GarnishAsked, ...] = Field((), max_length=MOST_GARNISHES, strict=False)


def wanted_from(data: object) -> tuple[Wanted | None, list[tuple[str, str]]]:
    """The batch asked for, or None and every mistake as (field, sentence)."""
    if not isinstance(data, Mapping):
        return None, [("", 'An object like {"guests": 12, "portion": "small-plate"} is accepted.')]
    try:
        asked = PlanRequest.model_validate(data)
    except ValidationError as refused:
        return None, [_sentence(error) for error in refused.errors()]
    if asked.pan_base_mm is not None and asked.pan_rim_mm is not None:
        return None, [("pan_rim_mm", "Tell the pan's base or its rim, not both.")]
    base = asked.pan_base_mm
    if asked.pan_rim_mm is not None:
        base = base_of_pan_mm(asked.pan_rim_mm)
    left_out = {"pan_base_mm", "pan_rim_mm", "minutes_to_serving", "serve_at", "garnishes"}
    try:
        return Wanted(
            **asked.model_dump(exclude=left_out),
            base_mm=base,
            serve_at=minutes_of(asked.serve_at),
            to_serving_min=asked.minutes_to_serving,
            garnishes=tuple(Garnish(**one.model_dump()) for one in asked.garnishes),
        ), []
    except ValueError as refused:
        return None, [("", str(refused))]


def minutes_of(clock: str | None) -> int | None:
    """Minutes after midnight.

    >>> minutes_of("19:30"), minutes_of(None)
    (1170, None)
    """
    if clock is None:
        return None
    hours, minutes = clock.split(":")
    return 60 * int(hours) + int(minutes)


def _sentence(error: ErrorDetails) -> tuple[str, str]:
    field = ".".join(str(part) for part in error["loc"])
    kind, told, more = error["type"], error["input"], error.get("ctx", {})
    if kind == "missing":
        return field, f"{field} is missing; it has to be told."
    if kind == "extra_forbidden":
        name = str(error["loc"][-1])[:60]
        known = PlanRequest if len(error["loc"]) == 1 else GarnishAsked
        close = nearest(name, list(known.model_fields))
        hint = f'the nearest known is "{close}"' if close else _listed(list(known.model_fields))
        return field[:80], f'There is no field "{name}"; {hint}.'
    what = _said(told)
    if kind == "literal_error":
        return field, f"{what} is not accepted for {field}; give {more['expected']}."
    if kind == "string_pattern_mismatch":
        return field, f"{what} is not an hour of the day; write it like 19:30."
    if kind in ("too_long", "string_too_long", "string_too_short", "too_short"):
        limit = more.get("max_length", more.get("min_length"))
        return field, f"{field} has the wrong length; the limit is {limit}."
    if kind in ("model_type", "model_attributes_type", "tuple_type", "bool_type", "string_type"):
        accepted = {"tuple_type": "a list", "bool_type": "true or false", "string_type": "text"}
        return field, f"{what} does not fit {field}; {accepted.get(kind, 'an object')} is accepted."
    return field, f"{what} is not possible for {field}; {_range(error['loc'])} is accepted."


def _range(where: tuple[int | str, ...]) -> str:
    """The range of a number, out of the model itself."""
    model = PlanRequest if len(where) == 1 else GarnishAsked
    field = model.model_fields.get(str(where[-1]))
    ends = {
        name: getattr(part, name)
        for part in (field.metadata if field else ())
        for name in ("ge", "le")
        if hasattr(part, name)
    }
    whole = "whole number" if field and field.annotation in (int, int | None) else "number"
    if len(ends) < 2:
        return f"a {whole}"
    return f"a {whole} from {ends['ge']:g} to {ends['le']:g}"


def _said(told: object) -> str:
    if isinstance(told, str):
        return f'"{told[:60]}"'
    if told is None:
        return "nothing"
    if isinstance(told, bool):
        return "true" if told else "false"
    if isinstance(told, int | float):
        return f"{told:.10g}" if abs(told) < 1e300 else "so large a number"
    return "a list" if isinstance(told, list | tuple) else "an object"


def _listed(words: Sequence[str]) -> str:
    return f"known are {', '.join(words)}"


def request_of(wanted: Wanted) -> dict[str, Any]:
    """A wanted batch as it is asked for, so that it can be kept and asked again."""
    data = asdict(wanted)
    at, left = data.pop("serve_at"), data.pop("to_serving_min")
    data["pan_base_mm"] = data.pop("base_mm")
    data["serve_at"] = None if at is None else f"{at // 60:02}:{at % 60:02}"
    data["minutes_to_serving"] = left
    data["garnishes"] = [dict(one) for one in data["garnishes"]]
    return data


_ANSWER = TypeAdapter(BatchPlan)


def as_json(plan: BatchPlan) -> dict[str, Any]:
    """A plan as the machine face gives it."""
    found: dict[str, Any] = _ANSWER.dump_python(plan, mode="json")
    return found


def schemas() -> tuple[dict[str, Any], dict[str, Any]]:
    """What is asked and what is answered, with nothing to look up elsewhere."""
    return _whole(PlanRequest.model_json_schema()), _whole(
        _ANSWER.json_schema(mode="serialization")
    )


def _whole(schema: dict[str, Any]) -> dict[str, Any]:
    """The same with every reference written out."""
    parts = schema.pop("$defs", {})

    def written(value: Any) -> Any:
        if isinstance(value, dict):
            name = value.get("$ref")
            if isinstance(name, str):
                return written(parts[name.rpartition("/")[2]])
            return {key: written(one) for key, one in value.items()}
        return [written(one) for one in value] if isinstance(value, list) else value

    found: dict[str, Any] = written(schema)
    return found
