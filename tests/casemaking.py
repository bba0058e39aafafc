"""Invented cases for the tests: a handful of fixed ones, and any number of drawn ones."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hypothesis import strategies as st

from diagnose.knowledge.case import (
    ENTERED_BY,
    JSON,
    NOT_TEXT,
    OUTCOMES,
    Case,
    Mark,
    Thought,
    Told,
    Verdict,
)
from diagnose.knowledge.casefile import CaseFile

DOUGH = "milk-panade-slab"
NOON = datetime(2024, 2, 29, 12, 0, tzinfo=UTC)

PLAIN = Case(DOUGH, "Soupy after ten minutes", "cook-paste", NOON, NOON)

TORN = Case(
    dough=DOUGH,
    title="The crust is torn",
    stage="brown",
    opened=NOON,
    kept=NOON + timedelta(hours=1),
    book="0123456789ab",
    class_code="TUE-2",
    elevation_m=2310.0,
    situation={
        "dough": DOUGH,
        "stage": "brown",
        "kitchen": {"elevation_m": 2310},
        "signs": {"when-turned": "sticks-tears"},
        "readings": {"slab-core-temperature": {"value": 4.5, "unit": "degC"}},
        "tried": [{"remedy": "carry-on", "result": "no-change"}],
    },
    told=(
        Told(NOON, "kitchen", "elevation_m", 2310),
        Told(NOON + timedelta(minutes=1), "sign", "when-turned", "sticks-tears"),
        Told(NOON + timedelta(minutes=2), "tried", "carry-on#1",
             {"remedy": "carry-on", "result": "no-change"}),
    ),
    bands={"slab-core-temperature": "cold"},
    thought=Thought((("turned-too-soon", 0.75), ("pan-too-cool", 0.2)), "needs-a-remedy",
                    "carry-on"),
    said=("It sticks to the pan and tears.", "Colour on one side only."),
    outcome="not-quite",
    note="Kneading it again did not help.\n\"Crème brûlée\" next time?",
)  # fmt: skip

MADE_EACH = {
    "soupy-at-harbour": replace(
        PLAIN, elevation_m=6.0, said=("It pours off the spoon.",),
        situation={"signs": {"paste-body": "pours"}}, outcome="as-it-should",
        thought=Thought((("undercooked-paste", 0.8),), "needs-a-remedy", "cook-on-hotter"),
        told=(Told(NOON, "tried", "cook-on-hotter#1",
                   {"remedy": "cook-on-hotter", "result": "worked"}),),
    ),
    "stiff-at-orchard": replace(
        PLAIN, title="Too stiff to shape", stage="shape", elevation_m=640.0,
        said=("The dough is crumbly.",), outcome="not-served",
        thought=Thought((("flour-over", 0.6),), "needs-a-remedy", "beat-in-warm-milk"),
    ),
    "torn-at-summit": TORN,
    "greasy-somewhere": replace(
        PLAIN, title="Fat runs out of it", stage="enrich", said=("It looks split and oily.",),
        note="A crêpe pan was used.",
    ),
}  # fmt: skip
"""By name: one low, one middle, one high, one of a kitchen whose height nobody told."""


names = st.from_regex(r"[a-z][a-z0-9-]{1,12}", fullmatch=True)
lines = st.text(
    st.characters(exclude_categories=["C", "Zl", "Zp"]), min_size=1, max_size=40
).filter(lambda text: bool(text.strip()) and not NOT_TEXT.search(text))
notes = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60).filter(
    lambda text: bool(text.strip()) and not NOT_TEXT.search(text)
)
moments = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))
json_values: st.SearchStrategy[JSON] = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**63) + 1, 2**63 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)
thoughts = st.builds(
    Thought,
    st.lists(st.tuples(names, st.floats(0, 1)), max_size=3).map(tuple),
    st.just("") | names,
    st.none() | names,
)
cases = st.builds(
    Case,
    dough=names,
    title=lines,
    stage=names,
    opened=moments,
    kept=moments,
    book=st.just("") | lines,
    entered_by=st.sampled_from(ENTERED_BY),
    id=names,
    class_code=st.none() | lines,
    elevation_m=st.none() | st.floats(-430, 9000),
    situation=st.dictionaries(st.text(max_size=8), json_values, max_size=3),
    told=st.lists(st.builds(Told, moments, lines, lines, json_values), max_size=3).map(tuple),
    bands=st.dictionaries(names, names, max_size=2),
    thought=st.none() | thoughts,
    said=st.lists(lines, max_size=3).map(tuple),
    outcome=st.none() | st.sampled_from(OUTCOMES),
    note=st.none() | notes,
)
verdicts: st.SearchStrategy[tuple[Verdict, list[str], str | None]] = st.one_of(
    st.tuples(
        st.just("confirmed"), st.lists(names, min_size=1, max_size=3, unique=True), st.none()
    ),
    st.tuples(st.just("doubtful"), st.lists(names, max_size=2, unique=True), st.none()),
    st.tuples(st.just("same-as"), st.just([]), names),
)


@st.composite
def case_files(draw: st.DrawFn) -> CaseFile:
    """A case with marks and descriptions of pictures."""
    marks = []
    for number in range(1, draw(st.integers(0, 2)) + 1):
        verdict, causes, other = draw(verdicts)
        remedy = draw(st.none() | names)
        marks.append(
            Mark(number, draw(moments), draw(lines), verdict, tuple(causes), remedy, other)
        )
    return CaseFile(draw(cases), tuple(marks), tuple(draw(st.lists(lines, max_size=2))))
