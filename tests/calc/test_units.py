"""Numbers and lengths as they are typed: fractions, marks, other digits, and nonsense."""

import contextlib
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maker.calc.units import (
    UnreadableNumber,
    format_length,
    inch_fraction,
    parse_length,
    parse_number,
)

D = Decimal


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("7", "7"),
        ("7.5", "15/2"),
        ("7,5", "15/2"),
        (".5", "1/2"),
        ("7 1/2", "15/2"),
        ("7-1/2", "15/2"),
        ("7½", "15/2"),
        ("7 ½", "15/2"),
        ("½", "1/2"),
        ("3/4", "3/4"),
        ("3 / 4", "3/4"),
        ("3⁄4", "3/4"),
        # not one and 3/16: only a space or a dash parts the whole from the fraction
        ("13/16", "13/16"),
        ("71/2", "71/2"),
        ("12 13/16", "205/16"),
        ("190,5", "381/2"),
        ("0,125", "1/8"),
        ("1.500", "3/2"),
        ("７.５", "15/2"),
        ("７ １／２", "15/2"),
        ("  7\N{NO-BREAK SPACE}1/2 ", "15/2"),
        ("000123", "123"),
    ],
)
def test_numbers_are_read_exactly(text, value):
    assert parse_number(text) == Fraction(value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is no number"),
        ("   ", "is no number"),
        ("seven", "is no number"),
        ("1e5", "is no number"),
        ("1E5", "is no number"),
        ("-7", "is no number"),
        ("+7", "is no number"),
        ("7.5.5", "is no number"),
        ("7--1/2", "is no number"),
        ("1/2/3", "is no number"),
        ("7 1/", "is no number"),
        ("0x10", "is no number"),
        ("NaN", "is no number"),
        ("Infinity", "is no number"),
        ("7²", "is no number"),
        ("1 500", "is no number"),
        ("1234567890123", "is no number"),
        ("9" * 10_000, "is no number"),
        ("7.5 1/2", "mixes a decimal and a fraction"),
        ("7 1/0", "divides by zero"),
        ("1,500", "Type 1.5 or 1500"),
        ("12,345", "Type 12.345 or 12345"),
        ("1,500.50", "leave the thousands marks out"),
        ("1.500,50", "leave the thousands marks out"),
        ("1,500,000", "leave the thousands marks out"),
        ("1.500.000", "leave the thousands marks out"),
    ],
)
def test_what_is_no_number_is_refused_with_how_to_type_it(text, says):
    with pytest.raises(UnreadableNumber, match=says):
        parse_number(text)


@pytest.mark.parametrize(
    ("text", "unit", "length_mm"),
    [
        ('7 1/2"', "mm", "190.5"),
        ("7½", "in", "190.5"),
        ("7½ in", "mm", "190.5"),
        ("7.5", "in", "190.5"),
        ("7.5", "mm", "7.5"),
        ("190,5 mm", "in", "190.5"),
        ("190,5mm", "in", "190.5"),
        ("19 cm", "in", "190"),
        ("19 CM", "in", "190"),
        ("0.19 m", "in", "190"),
        ("2 ft", "mm", "609.6"),
        ("2'", "mm", "609.6"),
        ("1 yd", "mm", "914.4"),
        ("6''", "mm", "152.4"),
        ("5″", "mm", "127"),
        ("7 in.", "mm", "177.8"),
        ("1/64", "in", "0.396875"),
        ("1/3 in", "mm", "8.466667"),
        ("0", "mm", "0"),
        ("100 m", "mm", "100000"),
    ],
)
def test_lengths_are_read_in_the_unit_typed_or_the_workshops(text, unit, length_mm):
    assert parse_length(text, unit) == D(length_mm)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("-3", "below zero"),
        ("−3 mm", "below zero"),
        ("- 3 in", "below zero"),
        ("100.001 m", "longer than 100 m"),
        ("999999999 in", "longer than 100 m"),
        ("1e5", "is no length"),
        ("mm", "is no length"),
        ("", "is no length"),
        ("5 m m", "is no length"),
        ("3 furlongs", "is no length"),
        ("1,500 mm", "Type 1.5 or 1500"),
        ("1/0 in", "divides by zero"),
        ("7 x 9", "is no length"),
    ],
)
def test_what_is_no_length_is_refused(text, says):
    with pytest.raises(UnreadableNumber, match=says):
        parse_length(text, "in")


def test_no_text_does_anything_but_read_or_refuse():
    @given(st.text(max_size=20) | st.from_regex(r"[0-9 .,/'\"½-]{0,12}"))
    def try_text(text):
        for unit in ("in", "mm"):
            # anything but a refusal fails the test
            with contextlib.suppress(UnreadableNumber):
                assert 0 <= parse_length(text, unit) <= 100_000

    try_text()


@given(st.integers(0, 64 * 3000))
def test_every_64th_of_an_inch_survives_being_stored_shown_and_typed_again(sixty_fourths):
    typed = Fraction(sixty_fourths, 64)
    stored = (
        parse_length(f"{typed.numerator}/{typed.denominator}", "in")
        if (typed.numerator < 10_000 and typed.denominator > 1)
        else parse_length(str(float(typed)), "in")
    )
    assert Fraction(stored) == typed * Fraction(127, 5)
    whole, rest, exact = inch_fraction(stored)
    assert exact
    assert whole + rest == typed
    assert parse_length(format_length(stored, "in"), "mm") == stored


@given(st.decimals(0, 99_999, places=3))
def test_thousandths_of_a_millimetre_survive_too(length_mm):
    stored = parse_length(f"{length_mm:f} mm", "in")
    assert stored == length_mm
    assert parse_length(format_length(stored, "mm"), "in") == stored


@pytest.mark.parametrize(
    ("length_mm", "unit", "text"),
    [
        ("190.5", "in", "7 1/2 in"),
        ("190.5", "mm", "190.5 mm"),
        ("190", "in", "7.4803 in"),
        ("12.7", "in", "1/2 in"),
        ("0", "in", "0 in"),
        ("25.4", "in", "1 in"),
        ("8.466667", "in", "0.3333 in"),
    ],
)
def test_lengths_are_written_as_a_maker_says_them(length_mm, unit, text):
    assert format_length(D(length_mm), unit) == text
