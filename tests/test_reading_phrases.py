"""The comparing phrases: read, refused with a sentence, judged, printed and read again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.parsing_phrases import (
    NotAPhrase,
    parse_answers,
    parse_interval,
    parse_presence,
    parse_value,
)
from diagnose.knowledge.phrases import Interval, OneOf, Presence, Truth

ANSWERS = ("pours", "slumps", "sticks", "one-mass", "stiff-crumbly")


@pytest.mark.parametrize(
    ("text", "low", "high", "low_inside", "high_inside"),
    [
        ("below 85 °C", None, 85, False, False),
        ("above 85 °C", 85, None, False, False),
        ("at least 85 °C", 85, None, True, False),
        ("at most 85 °C", None, 85, False, True),
        ("between 72 and 85 °C", 72, 85, True, True),
        ("between 72 °C and 185 °F", 72, 85, True, True),
        # 185 °F is 85 °C and 212 °F is 100 °C exactly, by the definition of the scale.
        ("at least 185 °F", 85, None, True, False),
        ("below 212 °F", None, 100, False, False),
        ("below 85°C", None, 85, False, False),
        ("below  85   °C", None, 85, False, False),
        ("at least 85.5 degC", 85.5, None, True, False),
        ("above -4 °C", -4, None, False, False),
    ],
)
def test_a_stretch_of_a_scale_is_read(
    text: str, low: float | None, high: float | None, low_inside: bool, high_inside: bool
) -> None:
    phrase = parse_interval(text, "paste-temperature", "degC")
    assert (phrase.low, phrase.high) == (low, high)
    assert (phrase.low_inside, phrase.high_inside) == (low_inside, high_inside)


@pytest.mark.parametrize(
    ("text", "unit", "low"),
    [
        # NIST Handbook 44, appendix C: a pound is 453.59237 g, an inch 25.4 mm, a foot 0.3048 m.
        ("at least 1 lb", "g", 453.59237),
        ("at least 1 in", "mm", 25.4),
        ("at least 7000 ft", "m", 2133.6),
        ("at least 2 h", "min", 120),
        ("at least 3 Tbsp", "Tbsp", 3),
        ("at least 13.6 %", "%", 13.6),
        ("at least 13.6%", "%", 13.6),
    ],
)
def test_another_unit_of_the_same_kind_is_converted(text: str, unit: str, low: float) -> None:
    assert parse_interval(text, "it", unit).low == pytest.approx(low, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("below 85", "has no unit"),
        ("below 85 g", 'not measured in "g"'),
        ("below 85 stone", 'not measured in "stone"'),
        ("under 85 °C", "does not compare"),
        ("85 °C", "does not compare"),
        ("", "does not compare"),
        ("below eighty °C", "does not compare"),
        ("below 85,5 °C", "does not compare"),
        ("below 1e3 °C", "does not compare"),
        ("below 85 °C or above 90 °C", "does not compare"),
        ("between 85 °C", "does not compare"),
        ("between 85 and 85 °C", "holds nothing"),
        ("not below 85 °C", "does not compare"),
        ("below 85 °C" + " " * 500 + "x", "too long"),
    ],
)
def test_what_is_no_stretch_is_refused(text: str, words: str) -> None:
    with pytest.raises(NotAPhrase) as refused:
        parse_interval(text, "paste-temperature", "degC")
    assert words in str(refused.value)
    assert refused.value.advice


@pytest.mark.parametrize(
    ("text", "phrase"),
    [
        ("pours", OneOf(("pours",))),
        ("pours or slumps", OneOf(("pours", "slumps"))),
        ("not one-mass", OneOf(("one-mass",), negated=True)),
        ("not pours or slumps", OneOf(("pours", "slumps"), negated=True)),
    ],
)
def test_answers_are_read(text: str, phrase: OneOf) -> None:
    assert parse_answers(text, "paste-body", ANSWERS) == phrase


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("slump", "The answers are pours, slumps, sticks, one-mass and stiff-crumbly"),
        ("pours or pours", "twice"),
        ("pours or not slumps", 'Write "not" once'),
        ("unknown", "never a fact"),
        ("not-looked", "never a fact"),
        ("not unknown", "never a fact"),
        (" or ".join(ANSWERS), "every answer"),
        ("", "there is no answer"),
        ("pours and slumps", "there is no answer"),
    ],
)
def test_what_is_no_answer_is_refused(text: str, words: str) -> None:
    with pytest.raises(NotAPhrase) as refused:
        parse_answers(text, "paste-body", ANSWERS)
    assert words in str(refused.value)


def test_a_finding_is_present_or_absent_and_nothing_else() -> None:
    assert parse_presence("present", "starch-cooked") == Presence(present=True)
    assert parse_presence("absent", "starch-cooked") == Presence(present=False)
    with pytest.raises(NotAPhrase, match=r'"presnt" says nothing.*Did you mean "present"'):
        parse_presence("presnt", "starch-cooked")


def test_a_told_number_keeps_its_unit_beside_it() -> None:
    assert parse_value("78 °C", "paste-temperature", "degC") == 78
    assert parse_value("172.4 °F", "paste-temperature", "degC") == 78
    with pytest.raises(NotAPhrase, match="no unit"):
        parse_value("78", "paste-temperature", "degC")
    with pytest.raises(NotAPhrase, match="is not a value"):
        parse_value("hot", "paste-temperature", "degC")


def test_nobody_having_looked_is_never_yes_and_never_no() -> None:
    for text in ("pours", "not pours"):
        assert parse_answers(text, "paste-body", ANSWERS).judge(None) is Truth.UNKNOWN
    assert parse_interval("below 85 °C", "x", "degC").judge(None) is Truth.UNKNOWN


numbers = st.integers(-400, 4000).map(lambda n: n / 10)


@st.composite
def intervals(draw: st.DrawFn) -> str:
    low, high = sorted(draw(st.lists(numbers, min_size=2, max_size=2, unique=True)))
    word = draw(st.sampled_from(("below", "above", "at least", "at most", "between")))
    return f"between {low:g} and {high:g} °C" if word == "between" else f"{word} {low:g} °C"


@given(intervals())
def test_a_printed_stretch_reads_back_as_itself(text: str) -> None:
    phrase = parse_interval(text, "paste-temperature", "degC")
    assert parse_interval(str(phrase), "paste-temperature", "degC") == phrase


@given(st.lists(st.sampled_from(ANSWERS), min_size=1, max_size=4, unique=True), st.booleans())
def test_printed_answers_read_back_as_themselves(answers: list[str], negated: bool) -> None:
    phrase = OneOf(tuple(answers), negated)
    assert parse_answers(str(phrase), "paste-body", ANSWERS) == phrase


@given(intervals(), numbers)
def test_the_five_ways_to_compare_mean_what_they_say(text: str, value: float) -> None:
    """Against a second reading of the words, written with Python's own comparisons."""
    words = text.split()
    limits = [float(word) for word in words if word.lstrip("-").replace(".", "", 1).isdigit()]
    meant = {
        "below": lambda: value < limits[0],
        "above": lambda: value > limits[0],
        "least": lambda: value >= limits[0],
        "most": lambda: value <= limits[0],
        "between": lambda: limits[0] <= value <= limits[1],
    }
    word = words[1] if words[0] == "at" else words[0]
    expected = Truth.YES if meant[word]() else Truth.NO
    phrase: Interval = parse_interval(text, "paste-temperature", "degC")
    assert phrase.judge(value) is expected


@given(st.text(max_size=60))
def test_any_text_is_a_phrase_or_refused_with_advice(text: str) -> None:
    for parse in (
        lambda: parse_answers(text, "paste-body", ANSWERS),
        lambda: parse_interval(text, "paste-temperature", "degC"),
        lambda: parse_presence(text, "starch-cooked"),
        lambda: parse_value(text, "paste-temperature", "degC"),
    ):
        try:
            parse()
        except NotAPhrase as refused:
            advice = refused.advice
        else:
            advice = "none needed"
        assert advice
