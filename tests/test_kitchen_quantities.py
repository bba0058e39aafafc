"""Quantities as cooks write them."""

import string
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.kitchen.quantities import (
    KINDS,
    LONGEST_TEXT,
    UNITS,
    NotAQuantity,
    Quantity,
    convert,
    echo,
    parse,
    parse_number,
    show,
)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("1 1/2 cups", 1.5, "cup"),
        ("1½ cups", 1.5, "cup"),
        ("1 ½ cup", 1.5, "cup"),
        ("1-1/2 cups", 1.5, "cup"),
        ("½ cup", 0.5, "cup"),
        ("1⁄2 cup", 0.5, "cup"),
        ("¾ cup", 0.75, "cup"),
        ("⅔ cup", 2 / 3, "cup"),
        ("3 / 4 cup", 0.75, "cup"),
        ("0,5 l", 0.5, "l"),
        ("0.5 l", 0.5, "l"),
        (".5 l", 0.5, "l"),
        ("0,500 L", 0.5, "l"),
        ("300g", 300, "g"),
        (" 300  grams ", 300, "g"),
        ("1.500 kg", 1.5, "kg"),
        ("8 fl oz", 8, "floz"),
        ("8 fl. oz.", 8, "floz"),
        ("8 oz", 8, "oz"),
        ("1 h 30 min", 90, "min"),
        ("1 lb 3 oz", 19, "oz"),
        ("5 ft 2 in", 62, "in"),
        ("2 T", 2, "tbsp"),
        ("2 t", 2, "tsp"),
        ("2 Tbsp.", 2, "tbsp"),
        ("5 dl", 500, "ml"),
        ("78 °C", 78, "degC"),
        ("78C", 78, "degC"),
        ("185 °F", 185, "degF"),
        ("85 degrees C", 85, "degC"),
        ("-18 °C", -18, "degC"),
        ("−18°C", -18, "degC"),
        ('1/2"', 0.5, "in"),
        ("7000 ft", 7000, "ft"),
        ("2310m", 2310, "m"),
    ],
)
def test_a_quantity_as_a_cook_writes_it(text: str, value: float, unit: str) -> None:
    assert parse(text) == Quantity(value, unit)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "Nothing is written"),
        ("1,500 g", r"Did you mean 1500 or 1\.500\?"),
        ("7,000 ft", r"Did you mean 7000 or 7\.000\?"),
        ("1,234,567 g", r"Did you mean 1234567\?"),
        ("1 500 g", r"Did you mean 1500\?"),
        ("1/0 cup", "divides by zero"),
        ("3 cupps", r"Did you mean cups\?"),
        ("12 gramms", r"Did you mean grams\?"),
        ("12 zorks", r"Known: °C, °F, g, kg"),
        ("3 pints", "not the same amount everywhere"),
        ("300 g flour", '"flour" was left over'),
        ("300 g g", '"g" was left over'),
        ("300", r"300 of what\?"),
        ("1h30", r"30 of what\?"),
        ("1:30", "1 h 30 min or 90 min"),
        ("2-3 tbsp", "looks like a range"),
        ("78 °", r"is that °C or °F\?"),
        ("78 c", r"did you mean cups or °C\?"),
        ("a cup", "Write it in digits"),
        ("1.2.3 g", "more than one decimal mark"),
        ("1/2/3 cup", "not a fraction"),
        ("1.5/2 cup", "not a fraction"),
        ("1 3/2 cup", "read twice"),
        ("½½ cup", "left over"),
        ("-3 g", "below zero"),
        ("99999999999 g", "too large"),
        ("9999999999 kg", "too large"),
        ("1 cup 30 min", "cannot be put together"),
        ("30 min 1 h", "cannot be put together"),
        ("1 h 60 min", "more than fits"),
        ("1e5 g", '"e" is not a unit'),
        ("٣ g", "No number was found"),
        ("1" * (LONGEST_TEXT + 1), "longer than 64"),
    ],
)
def test_what_is_not_understood_is_refused_with_a_sentence(text: str, sentence: str) -> None:
    with pytest.raises(NotAQuantity, match=sentence):
        parse(text)


def test_what_is_wanted_settles_an_ambiguous_letter() -> None:
    assert parse("78 c", kind="temperature") == Quantity(78, "degC")
    assert parse("2 C", kind="volume") == Quantity(2, "cup")
    assert parse("5 m", kind="time") == Quantity(5, "min")
    assert parse("5 m", kind="length") == Quantity(5, "m")


def test_a_number_alone_takes_the_unit_printed_beside_the_field() -> None:
    assert parse("78", kind="temperature", bare="degC") == Quantity(78, "degC")
    assert parse("1½", bare="cup") == Quantity(1.5, "cup")
    assert parse("2 kg", bare="g") == Quantity(2, "kg")


def test_the_wrong_kind_is_refused_with_an_example_of_the_right_one() -> None:
    with pytest.raises(NotAQuantity, match="is a volume; a mass is wanted here, like 300 g"):
        parse("2 cups", kind="mass")


def test_a_caller_that_names_no_kind_or_unit_there_is_learns_which_there_are() -> None:
    with pytest.raises(ValueError, match="temperature, mass, length, time, volume"):
        parse("1 g", kind="weight")
    with pytest.raises(ValueError, match="degC, degF, g"):
        parse("1", bare="gram")


def test_a_plain_number() -> None:
    assert parse_number("2") == 2
    assert parse_number("1½") == 1.5
    with pytest.raises(NotAQuantity, match="without a unit"):
        parse_number("2 yolks")
    with pytest.raises(NotAQuantity, match="below zero"):
        parse_number("-2")


@pytest.mark.parametrize(
    ("text", "understood"),
    [
        ("1 1/2 cups", "1 1/2 cups = 355 ml"),
        ("¾ c", "3/4 cup = 177 ml"),
        ("8 fl oz", "8 fl oz = 237 ml"),
        ("2 T", "2 tablespoons = 30 ml"),
        ("1 t", "1 teaspoon = 4.9 ml"),
        ("1 lb 3 oz", "19 oz = 539 g"),
        ("0,5 l", "0.5 l"),
        ("300g", "300 g"),
        ("5/8 in", "5/8 in = 16 mm"),
        ("7000 ft", "7000 ft = 2134 m"),
        ("1 h 30 min", "90 min = 1 h 30 min"),
        ("120 min", "120 min = 2 h"),
    ],
)
def test_what_was_understood_is_echoed(text: str, understood: str) -> None:
    kind = "volume" if text.endswith(" c") else None
    assert echo(parse(text, kind=kind)) == understood


def test_a_temperature_is_echoed_in_the_unit_the_cook_used() -> None:
    assert echo(parse("185 °F")) == "185 °F"
    assert echo(parse("85 °C")) == "85 °C"


@pytest.mark.parametrize(
    ("value", "unit", "to", "result"),
    [
        (212, "degF", "degC", 100.0),
        (-40, "degC", "degF", -40.0),
        (1, "lb", "g", 453.59237),
        (1, "oz", "g", 28.349523125),
        (1, "ft", "m", 0.3048),
        (1, "in", "mm", 25.4),
        (1, "cup", "ml", 236.5882365),
        (1, "cup", "tbsp", 16.0),
        (1, "tbsp", "tsp", 3.0),
        (1, "cup", "floz", 8.0),
        (1.5, "h", "min", 90.0),
    ],
)
def test_units_convert_as_defined(value: float, unit: str, to: str, result: float) -> None:
    """NIST Handbook 44, appendix C (printed values from memory); exact."""
    assert convert(value, unit, to) == pytest.approx(result, rel=1e-14)


def test_unlike_kinds_and_unknown_units_are_refused() -> None:
    with pytest.raises(ValueError, match="cups measure volume and g measure mass"):
        convert(1, "cup", "g")
    with pytest.raises(ValueError, match='"pint" is not a unit'):
        convert(1, "pint", "ml")
    with pytest.raises(ValueError, match="A number is wanted"):
        convert(float("nan"), "g", "kg")


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)), st.floats(-1000, 1e6))
def test_converting_there_and_back_changes_nothing(unit: str, to: str, value: float) -> None:
    if UNITS[unit].kind == UNITS[to].kind:
        back = convert(convert(value, unit, to), to, unit)
        assert back == pytest.approx(value, rel=1e-12, abs=1e-9)


def understood(text: str, kind: str | None) -> Quantity | str:
    try:
        return parse(text, kind=kind)
    except NotAQuantity as refused:
        return str(refused)


COOKS_LETTERS = string.digits + " /.,-½¾⅓⁄°CFTtcupsgkglbozmhinft\"'"


@settings(max_examples=1200, deadline=timedelta(milliseconds=200))
@given(
    st.text(max_size=80) | st.text(COOKS_LETTERS, max_size=24), st.none() | st.sampled_from(KINDS)
)
def test_any_text_gives_a_value_or_one_kind_of_refusal(text: str, kind: str | None) -> None:
    found = understood(text, kind)
    if isinstance(found, str):
        assert found.endswith((".", "?"))
    else:
        assert parse(show(found)) == found


numbers = st.one_of(
    st.integers(0, 5000).map(str),
    st.builds("{} {}/{}".format, st.integers(1, 40), st.integers(1, 7), st.just(8)),
    st.builds("{}/{}".format, st.integers(0, 9), st.integers(1, 16)),
    st.decimals(0, 5000, places=3).map(str),
    st.decimals(0, 5000, places=1).map(lambda number: str(number).replace(".", ",")),
)


@settings(max_examples=1200, deadline=timedelta(milliseconds=200))
@given(numbers, st.sampled_from(sorted(UNITS)))
def test_printing_then_reading_gives_the_same(number: str, unit: str) -> None:
    found = parse(f"{number} {unit}")
    assert found.unit == unit
    assert parse(show(found)) == found
    assert echo(found).startswith(show(found))


@given(st.floats(0, 1e9), st.sampled_from(sorted(UNITS)))
def test_any_value_is_printed_so_that_it_reads_back_or_is_refused(value: float, unit: str) -> None:
    printed = show(Quantity(value, unit))
    if len(printed) <= LONGEST_TEXT:
        assert parse(printed) == Quantity(value, unit)


def test_a_long_hostile_text_is_refused_at_once() -> None:
    for text in ("1" * 10_000_000, " 1/" * 1_000_000, "½" * 1_000_000):
        with pytest.raises(NotAQuantity, match="longer than"):
            parse(text)
