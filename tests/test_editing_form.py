"""A rule's text, its fields and the boxes of its page are three forms of one thing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_ruletext import COMMENTED, RULES, changed, comments

from diagnose.consulting import open_book
from diagnose.knowledge.book import Dough
from diagnose.knowledge.parsing_phrases import NotAPhrase
from diagnose.knowledge.phrases import Truth
from diagnose.knowledge.ruletext import RuleFields, fields_of, tidied, with_fields
from web.editing_cases import examples_in_step, values_of
from web.editing_form import (
    boxes_of_sheet,
    fields_of_sheet,
    name_from,
    problems_of,
    sheet_from,
    sheet_of,
    with_row,
)
from web.editing_rows import judged, phrase_of, row_of

DOUGH: Dough = open_book().book.doughs[0]


def through_the_page(fields: RuleFields) -> RuleFields:
    sent = boxes_of_sheet(sheet_of(fields, DOUGH))
    # a browser sends lines with their ends, and the reader of forms trims
    return fields_of_sheet(sheet_from({k: v.strip() for k, v in sent.items()}, DOUGH), DOUGH)


@given(st.data(), st.sampled_from([COMMENTED, *RULES.values()]))
@settings(max_examples=250, deadline=None)
def test_a_changed_rule_goes_through_the_boxes_of_a_page_and_its_text_exactly(
    data: st.DataObject, text: str
) -> None:
    after = tidied(data.draw(changed(fields_of(text))))
    assert through_the_page(after) == after
    written = with_fields(text, through_the_page(after))
    assert fields_of(written) == after
    assert through_the_page(fields_of(written)) == after
    assert [c for c in comments(text) if c not in comments(written)] == []


@st.composite
def touched(draw: st.DrawFn, sent: dict[str, str]) -> dict[str, str]:
    """A form after a hand went over it: boxes ticked and struck, limits typed, lines added."""
    sheet = sheet_from(sent, DOUGH)
    if draw(st.booleans()):
        names = [p.id for p in DOUGH.signs] + [p.id for p in DOUGH.readings]
        names += [p.id for p in DOUGH.findings] + [p.id for p in DOUGH.computed]
        place = draw(st.sampled_from(["when", "unless"]))
        sheet = with_row(sheet, place, draw(st.sampled_from(names)), DOUGH)
    boxes = boxes_of_sheet(sheet)
    sides = (("when", sheet.when), ("unless", sheet.unless))
    rows = [(f"{place}-{n}", row) for place, side in sides for n, row in enumerate(side)]
    for at, row in rows:
        if draw(st.booleans()):
            boxes.pop(f"{at}-keep", None)
        if row.kind == "answers":
            names = [s.id for s in DOUGH.stages] if row.subject == "stage" else [
                a.id for s in DOUGH.signs if s.id == row.subject for a in s.answers]  # fmt: skip
            for name in draw(st.lists(st.sampled_from(names), max_size=3)):
                boxes.pop(f"{at}-is-{name}", None)
                if draw(st.booleans()):
                    boxes[f"{at}-is-{name}"] = "yes"
            boxes[f"{at}-not"] = draw(st.sampled_from(["yes", "no"]))
        elif row.kind == "number":
            boxes[f"{at}-how"] = draw(st.sampled_from(["below", "at least", "between"]))
            boxes[f"{at}-low"] = draw(st.sampled_from(["20", "65 °F", "high", ""]))
            boxes[f"{at}-high"] = draw(st.sampled_from(["90", "200 °F", ""]))
    return boxes


@given(st.data(), st.sampled_from([COMMENTED, *RULES.values()]))
@settings(max_examples=1000, deadline=None)
def test_what_a_hand_does_to_the_boxes_stands_in_the_text_and_comes_back(
    data: st.DataObject, text: str
) -> None:
    sent = data.draw(touched(boxes_of_sheet(sheet_of(fields_of(text), DOUGH))))
    sheet = sheet_from(sent, DOUGH)
    assert boxes_of_sheet(sheet) == sent
    fields = fields_of_sheet(sheet, DOUGH)
    written = with_fields(text, fields)
    readable = replace(fields, when=tuple(fields.when), unless=tuple(fields.unless))
    assert fields_of(written) == readable
    assert through_the_page(fields_of(written)) == readable


@pytest.mark.parametrize("name", list(RULES)[::9])
def test_boxes_that_nobody_touched_leave_every_letter(name: str) -> None:
    fields = fields_of(RULES[name])
    assert through_the_page(fields) == fields
    assert with_fields(RULES[name], through_the_page(fields)) == RULES[name]
    assert problems_of(sheet_of(fields, DOUGH), DOUGH, None) == []


@pytest.mark.parametrize(
    ("subject", "phrase"),
    [
        ("slab-after-chill", "soft-cold or wet-surface"),
        ("slab-after-chill", "not firm-clean"),
        ("slab-core-temperature", "at least 65 °F"),
        ("paste-temperature", "between 72 and 85 °C"),
        ("paste-temperature", "between 160 °F and 85 °C"),
        ("slab-is-cold", "absent"),
        ("stage", "cut or brown"),
    ],
)
def test_a_phrase_in_boxes_is_the_phrase_that_was_written(subject: str, phrase: str) -> None:
    row = row_of(subject, phrase, DOUGH)
    assert row.kind != "text"
    assert phrase_of(row, DOUGH) == phrase
    written_anew = phrase_of(replace(row, was=""), DOUGH)
    assert judged(subject, written_anew, DOUGH) == judged(subject, phrase, DOUGH)


def test_a_bare_number_gets_the_unit_of_its_reading() -> None:
    row = replace(row_of("paste-temperature", "", DOUGH), how="below", low="85")
    assert phrase_of(row, DOUGH) == "below 85 °C"


def test_a_condition_with_nothing_chosen_says_what_to_do() -> None:
    with pytest.raises(NotAPhrase, match="Choose at least one answer"):
        judged("slab-after-chill", "", DOUGH)
    with pytest.raises(NotAPhrase, match="Write a number"):
        judged("paste-temperature", "", DOUGH)


@pytest.mark.parametrize(
    ("says", "taken", "name"),
    [
        ("A slab that smears is warm", (), "slab-smears-warm"),
        ("A slab that smears is warm", ("slab-smears-warm",), "slab-smears-warm-2"),
        ("", (), "new-rule"),
        ("2 hours are not enough", (), "hours-not-enough"),
        ("Ääää!", (), "new-rule"),
        ("x" * 300, (), "new-rule"),
    ],
)
def test_a_name_is_made_from_the_words_and_never_used_again(
    says: str, taken: tuple[str, ...], name: str
) -> None:
    assert name_from(says, taken) == name


@given(st.sampled_from(list(RULES.values())))
@settings(max_examples=60, deadline=None)
def test_cases_written_from_the_conditions_hold_in_the_book(text: str) -> None:
    fields = fields_of(text)
    sheet = sheet_of(fields, DOUGH)
    examples = examples_in_step(sheet, DOUGH, lambda _: frozenset())
    assert [e.rule for e in examples].count("speaks") == 1
    assert any(e.rule == "silent" for e in examples)
    alone = judged_alone(fields)
    for example in examples:
        assert alone(dict(example.told)) == (example.rule == "speaks"), example


def judged_alone(fields: RuleFields) -> Callable[[dict[str, str]], bool]:
    """Whether a rule alone speaks on what was told, straight from its phrases."""

    def speaks(told: dict[str, str]) -> bool:
        facts = values_of(tuple(told.items()), DOUGH)
        met = all(
            judged(s, p, DOUGH).judge(facts.get(s)) is Truth.YES for s, p in fields.when
        )  # fmt: skip
        stopped = any(
            judged(s, p, DOUGH).judge(facts.get(s)) is Truth.YES for s, p in fields.unless
        )
        return met and not stopped

    return speaks
