"""Numbers and lengths as they are typed: fractions, marks, other digits, and nonsense."""

import contextlib
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maker.calc.currencies import LOCALES
from maker.calc.units import (
    UnreadableNumber,
    format_length,
    format_number,
    format_percent,
    inch_fraction,
    parse_length,
    parse_number,
    read_two_ways,
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
        # thousands marks, where only one reading is left
        ("1,500.50", "3001/2"),
        ("1.500,50", "3001/2"),
        ("1 500,50", "3001/2"),
        ("1 500", "1500"),
        ("1\N{NARROW NO-BREAK SPACE}234\N{NARROW NO-BREAK SPACE}567", "1234567"),
        ("1'234.50", "2469/2"),
        ("1’234", "1234"),
        ("1,500,000", "1500000"),
        ("1.500.000", "1500000"),
        ("12,34,567.5", "2469135/2"),
    ],
)
def test_numbers_are_read_exactly(text, value):
    assert parse_number(text) == Fraction(value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "a number. Enter one"),
        ("   ", "a number. Enter one"),
        ("seven", "a number. Enter one"),
        ("1e5", "a number we can read"),
        ("1E5", "a number we can read"),
        ("1e999", "a number we can read"),
        ("inf", "a number. Enter one"),
        ("-7", "a number. Enter one"),
        ("+7", "a number. Enter one"),
        ("7.5.5", "a number. Enter one"),
        ("7--1/2", "a number. Enter one"),
        ("1/2/3", "a number. Enter one"),
        ("7 1/", "a number. Enter one"),
        ("0x10", "a number we can read"),
        ("NaN", "a number. Enter one"),
        ("Infinity", "a number. Enter one"),
        ("7²", "a number. Enter one"),
        ("1 5000", "a number. Enter one"),
        ("1 500 1/2", "a number. Enter one"),
        ("1,5000.5", "a number. Enter one"),
        ("1234567890123", "too many digits"),
        ("9" * 10_000, "too many digits"),
        ("0.1234567891", "too many digits"),
        ("7.5 1/2", "mixes a decimal and a fraction"),
        ("7 1/0", "divides by zero"),
        ("1,500", "Enter 1.5 or 1500"),
        ("12,345", "Enter 12.345 or 12345"),
    ],
)
def test_what_is_no_number_is_refused_with_how_to_type_it(text, says):
    with pytest.raises(UnreadableNumber, match=says):
        parse_number(text)


@pytest.mark.parametrize(
    ("text", "locale", "value", "said"),
    [
        ("1,234", "en_GB", "1234", "“1,234” was read as 1234."),
        ("1,234", "en_US", "1234", "“1,234” was read as 1234."),
        ("1,234", "de_DE", "1.234", ""),
        ("1.234", "de_DE", "1234", "“1.234” was read as 1234."),
        ("1.234", "fr_FR", "1234", "“1.234” was read as 1234."),
        ("1.125", "en_GB", "1.125", ""),
        ("1,234", "de_CH", "1234", "“1,234” was read as 1234."),
        # no doubt at all
        ("0,125", "en_GB", "0.125", ""),
        ("190,5", "en_GB", "190.5", ""),
        ("1,234.50", "de_DE", "1234.5", ""),
        ("1.234,50", "en_GB", "1234.5", ""),
    ],
)
def test_what_can_be_read_two_ways_follows_the_locale_and_is_said(text, locale, value, said):
    assert parse_number(text, locale) == Fraction(value)
    assert read_two_ways(f"{text} mm", locale) == said


@pytest.mark.parametrize("locale", LOCALES)
def test_a_number_written_for_a_locale_is_read_back_in_it(locale):
    @given(st.decimals(0, 999_999, places=3))
    def try_number(value):
        assert parse_number(format_number(value, locale), locale) == Fraction(value)

    try_number()


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
        ("3 yards", "mm", "2743.2"),
        ("3 YD", "mm", "2743.2"),
        ("18 in", "mm", "457.2"),
        ("1' 6\"", "mm", "457.2"),
        ("1'6", "mm", "457.2"),
        ("1 ft 6 in", "mm", "457.2"),
        ("1 foot 6 inches", "mm", "457.2"),
        ("5'-3 1/2\"", "mm", "1612.9"),
        ("1 yd 1 ft", "mm", "1219.2"),
        ("1 m 20 cm", "in", "1200"),
        ("190 millimetres", "in", "190"),
        ("1,234.5 mm", "in", "1234.5"),
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
        ("1e5", "a number we can read"),
        ("1e999 in", "a length. Enter one"),
        ("nan", "a length. Enter one"),
        ("1' 6 mm", "a length. Enter one"),
        ("6 in 1 ft", "a length. Enter one"),
        ("1 ft 2 ft", "a length. Enter one"),
        ("9" * 400 + " mm", "too many digits"),
        ("mm", "a length. Enter one"),
        ("", "a length. Enter one"),
        ("5 m m", "a length. Enter one"),
        ("3 furlongs", "a length. Enter one"),
        ("1,500 mm", "Enter 1.5 or 1500"),
        ("1/0 in", "divides by zero"),
        ("7 x 9", "a length. Enter one"),
    ],
)
def test_what_is_no_length_is_refused(text, says):
    with pytest.raises(UnreadableNumber, match=says):
        parse_length(text, "in")


def test_no_text_does_anything_but_read_or_refuse():
    @given(st.text(max_size=20) | st.from_regex(r"[0-9 .,/'\"½-]{0,12}"))
    def try_text(text):
        for unit, locale in (("in", None), ("mm", None), ("mm", "de_DE")):
            # anything but a refusal fails the test
            with contextlib.suppress(UnreadableNumber):
                assert 0 <= parse_length(text, unit, locale) <= 100_000

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


def test_equal_numbers_are_written_alike_whichever_came_first():
    """What was written is kept by its value, and 1.50 equals 1.5, and -0 equals 0."""
    written = [
        format_number(Decimal(text)) for text in ("-0", "0", "0.000", "1.50", "1.5", "15E-1")
    ]
    assert written == ["0", "0", "0", "1.5", "1.5", "1.5"]


@pytest.mark.parametrize(
    ("share", "locale", "decimals", "text"),
    [
        ("0.282", "en_GB", 1, "28.2%"),
        ("0.4", "en_US", 1, "40%"),
        ("1", "en_GB", 0, "100%"),
        ("0.05512", "en_IE", 2, "5.51%"),
        ("-0.031", "en_GB", 1, "\N{MINUS SIGN}3.1%"),
        # CLDR's percentFormats: a space that does not break, or the sign in front
        ("0.282", "de_DE", 1, "28,2\N{NO-BREAK SPACE}%"),
        ("-0.5", "fr_FR", 1, "\N{MINUS SIGN}50\N{NO-BREAK SPACE}%"),
        ("-0.0004", "en_GB", 1, "0%"),
        ("0.282", "tr_TR", 1, "%28,2"),
        ("12.5", "hi_IN", 1, "1250%"),
    ],
)
def test_percentages_are_written_as_the_language_has_them(share, locale, decimals, text):
    assert format_percent(D(share), locale, decimals) == text
