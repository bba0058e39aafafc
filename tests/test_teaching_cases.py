"""Every shipped teaching case is read, tells something that could happen, and comes out as it says.

The advice is checked through the front door. The cases themselves are invented; what they teach is
common practice or stands with its source in the book.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.consulting import OpenBook, open_book
from diagnose.knowledge.diagnosis import Diagnosis
from diagnose.knowledge.problems import Problem
from diagnose.knowledge.teaching import (
    CASES,
    LABEL,
    OUTCOMES,
    SECTIONS,
    TeachingCase,
    read_teaching_case,
    read_teaching_cases,
)
from web.summary import OUTCOMES as OUTCOMES_OF_THE_SITE

FILES = sorted(CASES.glob("*.yaml"))
FEWEST = 64
KITCHENS = {"Harbour": 6, "Orchard": 640, "Summit": 2310}
MARGINS = {"easy": (0.35, 1.0), "middling": (0.0, 0.8), "hard": (-1.0, 0.3)}
"""Wider than the guide's limits, so that a small change of the book does not relabel a case."""
LONGEST_SENTENCE = 25
MAY_BE_CAPITAL = {*KITCHENS, "American", "I"}


@cache
def shipped() -> OpenBook:
    return open_book()


@cache
def case_of(file: Path) -> TeachingCase:
    text = file.read_text(encoding="utf-8")
    case, problems = read_teaching_case(text, file.name, shipped().book)
    assert case is not None, "\n".join(str(problem) for problem in problems)
    return case


@cache
def diagnosed(file: Path) -> Diagnosis:
    return shipped().diagnose(case_of(file).situation)


each = pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)


@each
def test_the_case_reads_and_comes_out_as_it_says(file: Path) -> None:
    case, said = case_of(file), diagnosed(file)
    chances = [(cause.id, cause.chance) for cause in said.causes]
    assert said.plan[0].remedy == case.first_remedy, (said.situation, chances)
    reach = 3 if case.difficulty == "hard" else 1
    assert any(name in case.causes for name, _ in chances[:reach]), chances


@each
def test_how_hard_it_is_called_agrees_with_the_margin_of_its_causes(file: Path) -> None:
    case, said = case_of(file), diagnosed(file)
    true = sum(cause.chance for cause in said.causes if cause.id in case.causes)
    others = [cause.chance for cause in said.causes if cause.id not in case.causes]
    low, high = MARGINS[case.difficulty]
    assert low <= true - max(others, default=0.0) <= high + 1e-9


@each
def test_food_that_is_thrown_away_is_a_discard_and_nothing_else_is(file: Path) -> None:
    case, said = case_of(file), diagnosed(file)
    thrown = case.first_remedy == "throw-away"
    assert (said.situation == "discard") is thrown
    assert (case.outcome == "thrown-away") is thrown
    assert said.situation != "start-over" or case.first_remedy == "start-over"


@each
def test_everything_told_could_be_asked_at_that_step(file: Path) -> None:
    case = case_of(file)
    dough = shipped().ready(case.situation.dough).dough
    asked_at = {sign.id: sign.stages for sign in dough.signs}
    asked_at |= {reading.id: reading.stages for reading in dough.readings}
    stage = case.situation.stage
    assert [one.about for one in case.told if stage not in asked_at[one.about]] == []


@each
def test_nobody_is_named_and_the_kitchen_is_one_of_the_three(file: Path) -> None:
    case = case_of(file)
    assert case.situation.kitchen.elevation_m == KITCHENS[case.place]
    for sentence in (case.title, *case.story, case.lesson):
        capitals = set(re.findall(r"(?<![.?!:] )(?<!^)\b[A-Z][A-Za-z]*", sentence))
        # A unit after its degree sign is not a name.
        assert capitals - MAY_BE_CAPITAL - {"C", "F"} == set(), sentence


@each
def test_the_story_is_told_in_short_sentences_and_the_units_of_the_pages(file: Path) -> None:
    case = case_of(file)
    for sentence in (*case.story, case.lesson):
        assert len(sentence.split()) <= LONGEST_SENTENCE, sentence
        assert "degC" not in sentence


def test_there_are_enough_cases_and_all_stages_and_kitchens_have_some() -> None:
    cases = [case_of(file) for file in FILES]
    dough = shipped().book.doughs[0]
    assert len(cases) >= FEWEST
    stages = [case.situation.stage for case in cases]
    assert min(stages.count(stage.id) for stage in dough.stages) >= 3
    assert {case.place for case in cases} == set(KITCHENS)
    assert {case.outcome for case in cases} == set(OUTCOMES)
    assert {case.difficulty for case in cases} == set(MARGINS)


def test_the_cases_show_what_learners_have_to_meet() -> None:
    cases = [case_of(file) for file in FILES]
    fine = shipped().book.doughs[0].carry_on
    assert sum(len(case.causes) == 2 for case in cases) >= 4
    assert sum(case.causes == (fine,) for case in cases) >= 5
    assert sum(case.first_remedy == "throw-away" for case in cases) >= 5
    assert sum(bool(case.tried) for case in cases) >= 2
    assert any(case.situation.not_looked for case in cases)
    assert any(case.first_remedy == "altitude-spoonful" and case.tried for case in cases)
    assert "torn crust at altitude" in {case.title.casefold() for case in cases}


def test_the_whole_folder_reads_without_a_problem_and_no_title_is_said_twice() -> None:
    cases, problems = read_teaching_cases(shipped().book)
    assert problems == []
    assert [f"{case.id}.yaml" for case in cases] == [file.name for file in FILES]
    titles = [case.title.casefold() for case in cases]
    assert len(set(titles)) == len(titles)


def test_the_outcomes_are_those_the_site_offers() -> None:
    assert set(OUTCOMES) == set(OUTCOMES_OF_THE_SITE)


def test_every_key_is_described_in_the_guide() -> None:
    guide = (CASES / "README.md").read_text(encoding="utf-8")
    missing = {key for section in SECTIONS.values() for key in section if f"`{key}`" not in guide}
    assert missing == set()
    assert LABEL in guide


GOOD = """\
format: 1
case: made-up
title: It slumps
label: Invented teaching case
dough: milk-panade-slab
kitchen: {place: Harbour, elevation_m: 6}
batch: {milk_g: 500, flour_g: 100}
stage: cook-paste
told:
  - {sign: paste-body, answer: slumps}
  - {reading: paste-temperature, value: 172.4 °F}
  - {looked not: bubbling}
tried:
  - {remedy: add-flour-by-the-spoon, result: no-change}
causes: [undercooked-paste]
first remedy: cook-on-hotter
outcome: as-it-should
difficulty: easy
story:
  - It slumped.
  - It was cooked on.
lesson: Heat comes first.
"""


def read(text: str, file: str = "made-up.yaml") -> tuple[TeachingCase | None, list[Problem]]:
    return read_teaching_case(text, file, shipped().book)


def test_a_case_becomes_a_situation_with_everything_that_was_told() -> None:
    case, problems = read(GOOD)
    assert problems == []
    assert case is not None
    situation = case.situation
    assert situation.signs == {"paste-body": "slumps"}
    assert situation.readings == {"paste-temperature": pytest.approx(78)}
    assert situation.not_looked == {"bubbling"}
    assert situation.tried[0].remedy == "add-flour-by-the-spoon"
    assert [one.about for one in case.told] == ["paste-body", "paste-temperature", "bubbling"]


MISTAKES = [
    ("format: 1", "format: 2", 1, "format: 1"),
    ("case: made-up", "case: Made Up", 2, "small letters, digits and hyphens"),
    ("case: made-up", "case: another", 2, "Call the file another.yaml"),
    ("It slumps\n", "It slumps " + "very " * 12 + "much\n", 3, "At most 60"),
    ("Invented teaching case", "From Tuesday", 4, "Write label: Invented teaching case"),
    ("milk-panade-slab", "milk-panade-slap", 5, 'Did you mean "milk-panade-slab"'),
    ("elevation_m: 6}", "elevation_m: 9000}", 6, "from -430 to"),
    ("flour_g: 100", "flour_g: 0.2", 7, "from 5 to 10000 g"),
    ("cook-paste", "cook-pasta", 8, '"cook-paste"'),
    ("answer: slumps", "answer: slump", 10, 'Did you mean "slumps"'),
    ("sign: paste-body", "sign: paste-bodi", 10, 'Did you mean "paste-body"'),
    (", answer: slumps", "", 10, "Write sign and answer"),
    ("172.4 °F", "78", 11, "a number, a space and a unit"),
    ("172.4 °F", "78 g", 11, "degC or degF"),
    ("172.4 °F", "780 degC", 11, "from 0 to 110"),
    ("looked not: bubbling", "looked not: weather", 12, 'no sign or reading "weather"'),
    ("looked not: bubbling", "looked not: paste-body", 12, "told twice"),
    ("no-change", "wonderful", 14, "worked, no-change, worse or cannot"),
    ("add-flour-by-the-spoon", "add-flower", 14, 'no remedy "add-flower"'),
    ("[undercooked-paste]", "[undercooked]", 15, "Did you mean"),
    ("[undercooked-paste]", "[flour-short, milk-over, scorched]", 15, "one or two"),
    ("remedy: cook-on-hotter", "remedy: cook-on-hoter", 16, 'Did you mean "cook-on-hotter"'),
    ("as-it-should", "well", 17, "thrown-away"),
    ("difficulty: easy", "difficulty: simple", 18, "easy, middling or hard"),
    ("  - It was cooked on.\n", "", 19, "2 to 5"),
    ("It was cooked on.", "It was cooked on", 21, "full stop"),
    ("lesson: Heat comes first.", "lesson: Heat comes first", 22, "full stop"),
    ("lesson:", "lessen:", 22, 'Did you mean "lesson"'),
    ("lesson: Heat comes first.\n", "", 1, '"lesson" is missing'),
]


@pytest.mark.parametrize(("right", "wrong", "line", "words"), MISTAKES)
def test_each_mistake_is_named_with_its_line(right: str, wrong: str, line: int, words: str) -> None:
    assert right in GOOD
    case, problems = read(GOOD.replace(right, wrong, 1))
    assert case is None
    assert [p for p in problems if p.line == line and words in str(p)], [str(p) for p in problems]
    assert len(problems) <= 2


def test_anchors_tags_and_great_lengths_are_refused() -> None:
    for text in (GOOD.replace("[under", "&a [under"), GOOD + "# " + "x" * 30_000):
        case, problems = read(text)
        assert case is None
        assert len(problems) == 1


@given(st.text(max_size=200))
def test_any_text_gives_a_case_or_a_reason(text: str) -> None:
    case, problems = read(text)
    assert case is None
    assert problems


@pytest.mark.parametrize("left_out", range(len(GOOD.splitlines())))
def test_a_case_with_a_line_missing_reads_or_says_what_is_wrong(left_out: int) -> None:
    lines = GOOD.splitlines()
    case, problems = read("\n".join(lines[:left_out] + lines[left_out + 1 :]))
    assert (case is None) is bool(problems)


def test_a_folder_with_one_title_twice_is_reported(tmp_path: Path) -> None:
    (tmp_path / "made-up.yaml").write_text(GOOD, encoding="utf-8")
    other = GOOD.replace("case: made-up", "case: second")
    (tmp_path / "second.yaml").write_text(other, encoding="utf-8")
    (tmp_path / "third.yaml").write_bytes(b"title: \xff\n")
    cases, problems = read_teaching_cases(shipped().book, tmp_path)
    assert [case.id for case in cases] == ["made-up", "second"]
    assert "already used by made-up.yaml" in str(problems[0])
    assert "UTF-8" in str(problems[1])
