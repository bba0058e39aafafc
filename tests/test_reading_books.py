"""Good files: every key is read as it was meant, the guide describes every key, books load."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from diagnose.knowledge import keys
from diagnose.knowledge.bands import band_of
from diagnose.knowledge.book import (
    Book,
    Cause,
    Commonness,
    Dough,
    Effort,
    Given,
    Harm,
    Kind,
    Label,
    Reading,
    Remedy,
    Rule,
    Sign,
    Standing,
    Strength,
    Tool,
    Weight,
    Works,
)
from diagnose.knowledge.loading import fingerprint, load_book
from diagnose.knowledge.measures import UNITS
from diagnose.knowledge.nodes import PASTED, Limits, Mapping, Node, Scalar, read_nodes
from diagnose.knowledge.phrases import Interval, OneOf, Presence
from diagnose.knowledge.problems import BrokenBook
from diagnose.knowledge.reading import read_dough
from diagnose.knowledge.reading_sources import KINDS as SOURCE_KINDS
from diagnose.knowledge.reading_sources import MARKS, read_sources

HERE = Path(__file__).parent
BOOKS = HERE / "books"
GUIDE = HERE.parent / "rules" / "README.md"


@pytest.fixture(scope="module")
def made_up() -> Book:
    return load_book(BOOKS)


@pytest.fixture(scope="module")
def small(made_up: Book) -> Dough:
    dough = made_up.dough("small-paste")
    assert dough is not None
    return dough


def rule_of(dough: Dough, name: str) -> Rule:
    return next(rule for rule in dough.rules if rule.id == name)


def keys_in(node: Node) -> set[str]:
    if isinstance(node, Mapping):
        own = {entry.key for entry in node.entries}
        return own.union(*(keys_in(entry.value) for entry in node.entries))
    return set() if isinstance(node, Scalar) else set().union(*(keys_in(i) for i in node.items))


def test_the_small_book_uses_every_key_of_the_format() -> None:
    used: set[str] = set()
    for name in ("small.yaml", "sources.yaml"):
        node, problems = read_nodes((BOOKS / name).read_text(encoding="utf-8"), name)
        assert node is not None
        assert not problems
        used |= keys_in(node)
    known = {key for section in keys.SECTIONS.values() for key in section}
    assert known <= used


def test_signs_readings_and_stages_are_read_in_the_order_written(small: Dough) -> None:
    assert [stage.id for stage in small.stages] == ["cook-paste", "temper"]
    body = small.signs[0]
    assert [answer.id for answer in body.answers] == ["pours", "slumps", "one-mass"]
    assert body.answers[1].say == "It slides off in a lump"
    assert small.signs[1].stages == ("cook-paste", "temper")  # written: all
    heat = small.readings[0]
    assert (heat.likely, heat.possible, heat.good_to) == ((55, 99), (0, 105), 1.5)
    assert small.stages[1].meanwhile[0].say == "Stop pouring: beat"
    assert small.house_batch.milk_g == 500


def test_no_is_a_word(small: Dough) -> None:
    smell = next(sign for sign in small.signs if sign.id == "burnt-smell")
    assert [answer.id for answer in smell.answers] == ["no", "yes"]


def test_bands_are_found_by_value_and_a_shared_limit_belongs_to_the_earlier(small: Dough) -> None:
    bands = small.readings[0].bands
    found = [band_of(bands, value) for value in (0, 74.9, 75, 85, 85.1, 105)]
    assert [band.id if band else None for band in found] == [
        "cool", "cool", "warm", "warm", "hot", "hot",
    ]  # fmt: skip
    assert band_of(bands, None) is None


def test_conditions_know_what_they_are_about(small: Dough) -> None:
    rule = rule_of(small, "cooked-and-slack-is-short-of-flour")
    assert [(c.subject, c.kind, c.phrase) for c in rule.when] == [
        ("starch-cooked", "finding", Presence(True)),
        ("paste-body", "sign", OneOf(("pours", "slumps"))),
        ("flour-measured", "sign", OneOf(("weighed",), negated=True)),
    ]
    hot = rule_of(small, "hot-paste-is-hot-enough")
    assert isinstance(hot.when[0].phrase, Interval)
    assert hot.when[1].kind == "stage"


def test_cases_hold_numbers_in_the_unit_of_the_reading(small: Dough) -> None:
    case = rule_of(small, "hot-and-held-is-cooked").cases[0]
    assert case.told == {"stage": "cook-paste", "paste-temperature": 88.0, "minutes-cooked": 4.0}
    assert case.speaks


def test_a_situation_in_a_whole_case_is_told_as_json_would(small: Dough) -> None:
    situation = small.whole_cases[0].situation
    assert situation["kitchen"] == {
        "elevation_m": 640,
        "water_boils_at": {"value": 98, "unit": "degC"},
    }
    assert situation["not_looked"] == ["burnt-smell"]


def test_every_part_remembers_its_line(small: Dough) -> None:
    lines = (BOOKS / "small.yaml").read_text(encoding="utf-8").splitlines()
    parts: tuple[Sign | Reading | Cause | Remedy | Rule, ...] = (
        *small.signs, *small.readings, *small.causes, *small.remedies, *small.rules,
    )  # fmt: skip
    for part in parts:
        assert lines[part.line - 1].strip() == f"{part.id}:"


def test_the_version_is_a_short_fingerprint_of_the_texts_in_any_order(made_up: Book) -> None:
    texts = {f.name: f.read_text(encoding="utf-8") for f in BOOKS.glob("*.yaml")}
    assert made_up.version == fingerprint(dict(sorted(texts.items(), reverse=True)))
    assert re.fullmatch("[0-9a-f]{12}", made_up.version)
    changed = {**texts, "small.yaml": texts["small.yaml"] + "\n"}
    assert fingerprint(changed) != made_up.version


def test_a_failure_mode_is_shown_by_a_whole_case_or_says_why_not(small: Dough) -> None:
    shown, left_out = small.failure_modes
    assert (shown.id, shown.case, shown.why_not) == (
        "runs-and-is-not-hot", "slack-and-cool", None,
    )  # fmt: skip
    assert left_out.case is None
    assert left_out.why_not is not None
    assert left_out.why_not.startswith("Nothing that a cook can be asked")


def test_a_book_without_failure_modes_is_a_book(made_up: Book) -> None:
    other = made_up.dough("ten-minutes")
    assert other is not None
    assert other.failure_modes == ()


def test_a_folder_without_knowledge_is_refused_with_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(BrokenBook, match="run from its own folder"):
        load_book(tmp_path / "nowhere")
    (tmp_path / "sources.yaml").write_text("a-b: {kind: book}\n", encoding="utf-8")
    with pytest.raises(BrokenBook, match="no knowledge file"):
        load_book(tmp_path)


def test_every_broken_file_of_a_folder_is_reported(tmp_path: Path) -> None:
    for file in BOOKS.glob("*.yaml"):
        text = file.read_text(encoding="utf-8")
        (tmp_path / file.name).write_text(text.replace("format: 1", "format: 7"), encoding="utf-8")
    (tmp_path / "latin.yaml").write_bytes("title: Pâte\n".encode("latin-1"))
    with pytest.raises(BrokenBook) as refused:
        load_book(tmp_path)
    assert {p.file for p in refused.value.problems} == {
        "latin.yaml", "small.yaml", "ten-minutes.yaml",
    }  # fmt: skip


def test_a_missing_file_of_sources_is_said_once(tmp_path: Path) -> None:
    text = (BOOKS / "ten-minutes.yaml").read_text(encoding="utf-8")
    (tmp_path / "ten-minutes.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(BrokenBook) as refused:
        load_book(tmp_path)
    assert [problem.what for problem in refused.value.problems] == ["there is no file of sources."]


def test_two_doughs_of_one_name_are_refused(tmp_path: Path) -> None:
    for name in ("one.yaml", "two.yaml"):
        text = (BOOKS / "ten-minutes.yaml").read_text(encoding="utf-8")
        (tmp_path / name).write_text(text, encoding="utf-8")
    text = (BOOKS / "sources.yaml").read_text(encoding="utf-8")
    (tmp_path / "sources.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(BrokenBook, match=r'the name "ten-minutes" is already used by one\.yaml'):
        load_book(tmp_path)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a-b: {kind: novel, by: x, title: y, mark: read}", '"kind" cannot be "novel"'),
        ("a-b: {kind: book, by: x, title: y}", '"mark" is missing'),
        ("a-b: {kind: book, by: x, titel: y, mark: read}", 'Did you mean "title"?'),
        ("A: {kind: book, by: x, title: y, mark: read}", "cannot be a name"),
        ("- a", "needs keys with entries"),
        ("", "there is nothing in this file"),
    ],
)
def test_sources_are_checked_too(text: str, words: str) -> None:
    problems = read_sources(text, "sources.yaml")[1]
    assert any(words in str(problem) for problem in problems)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a: b\n" * 10_000, "bytes long"),
        ("a: [" + "b," * 3000 + "b]", "more than 2,000 entries"),
        ("[" * 100, "nested more than 20 deep"),
        ("a: {" * 100, "nested more than 20 deep"),
        ("x: &a [b]\ny: [*a, *a]", "&"),
        ("x: !!python/object:os.system ls", "tag"),
        ("%YAML 1.1\n---\na: yes", "%"),
        ("a: \x07", "U+0007"),
        ("a: \ud800", "U+D800"),
    ],
)
def test_pasted_text_is_refused_before_it_can_grow(text: str, words: str) -> None:
    dough, problems = read_dough(text, "pasted", (), PASTED)
    assert dough is None
    assert any(words in str(problem) for problem in problems)


def test_limits_are_the_callers() -> None:
    assert read_nodes("a: [b, c]", "x", Limits(bytes=100, nodes=3, depth=2))[0] is None
    assert read_nodes("a: [b, c]", "x", Limits(bytes=100, nodes=9, depth=2))[0] is not None


def test_scalars_stay_the_text_that_was_written() -> None:
    for text in ("no", "0250", "1_000", "1.10", "1:30", "2025-01-31", "null", "~", "0x1F"):
        node = read_nodes(f"a: {text}", "x")[0]
        assert isinstance(node, Mapping)
        assert node.entries[0].value == Scalar(text, 1)


def guide() -> str:
    return GUIDE.read_text(encoding="utf-8")


def test_the_guide_describes_every_key_of_the_format() -> None:
    described = set(re.findall("`([a-z ]+)`", guide()))
    known = {key for section in keys.SECTIONS.values() for key in section}
    assert known - described == set()


def test_the_guide_names_every_word_of_the_program() -> None:
    text = guide()
    for words in (Commonness, Effort, Given, Harm, Kind, Label, Standing, Strength, Tool, Weight,
                  Works):  # fmt: skip
        for word in get_args(words):
            assert f"`{word}`" in text
    for word in (*UNITS, *SOURCE_KINDS, *MARKS):
        assert f"`{word}`" in text or f'`"{word}"`' in text


def test_the_rule_of_the_guide_is_the_one_that_loads() -> None:
    """The blocks of the guide, one after another, are the rule in the file, line by line."""
    shown = "".join(re.findall(r"```yaml\n(.*?)```", guide(), flags=re.DOTALL))
    assert shown.startswith("  undercooked-looks-wet:\n")
    assert shown in (BOOKS / "ten-minutes.yaml").read_text(encoding="utf-8")
