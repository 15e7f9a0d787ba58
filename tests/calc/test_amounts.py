"""Amounts with units are read exactly; a unit that does not measure the material is refused.

Factors: NIST Special Publication 811 (2008), appendix B.8: yard 9.144 E-01 m, foot 3.048 E-01 m,
inch 2.54 E-02 m (all exact), ounce (avoirdupois) 2.834 952 E-02 kg, pound 4.535 924 E-01 kg.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maker.calc.amounts import (
    WrongUnit,
    format_amount,
    read_amount,
    typed_amount,
    unit_cost_in,
)
from maker.calc.units import UnreadableNumber


@pytest.mark.parametrize(
    ("text", "unit", "amount"),
    [
        ("24", "sheet", "24"),
        ("24 sheets", "sheet", "24"),
        ("1/2", "sheet", "0.5"),
        ("50", "m", "50"),
        ("50 m", "m", "50"),
        ("25 yd", "m", "22.86"),
        ("25 Yards", "m", "22.86"),
        ("10 ft", "m", "3.048"),
        ('36"', "m", "0.9144"),
        ("7 1/2 in", "m", "0.1905"),
        ("350mm", "m", "0.35"),
        ("1,5 m", "m", "1.5"),
        ("250 ml", "ml", "250"),
        ("0.5 l", "ml", "500"),
        ("1,5 kg", "g", "1500"),
        ("8 oz", "g", "226.796185"),
        ("1 lb", "g", "453.59237"),
        ("100 pcs", "piece", "100"),
        ("200 pairs", "pair", "200"),
        ("1' 6\"", "m", "0.4572"),
        ("2 feet 6 inches", "m", "0.762"),
        ("1/2 l", "ml", "500"),
        ("100 g", "g", "100"),
        ("250 millilitres", "ml", "250"),
        ("2 Liters", "ml", "2000"),
        ("3 pounds", "g", "1360.77711"),
        ("1,234.5 g", "g", "1234.5"),
    ],
)
def test_an_amount_is_read_in_the_unit_of_the_material(text: str, unit: str, amount: str) -> None:
    assert read_amount(text).in_unit(unit) == Decimal(amount)


@pytest.mark.parametrize(
    ("text", "unit"), [("50 m", "sheet"), ("24 sheets", "m"), ("250 ml", "g"), ("3 oz", "ml")]
)
def test_a_unit_that_does_not_fit_is_refused(text: str, unit: str) -> None:
    with pytest.raises(WrongUnit, match="fit: this"):
        read_amount(text).in_unit(unit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "m",
        "a lot",
        "5 bananas",
        "-3",
        "−3 m",
        "1e5",
        "1e999 m",
        "inf",
        "1,500",
        "1/0",
        "NaN",
        "\x00",
    ],
)
def test_what_is_no_amount_is_refused(text: str) -> None:
    with pytest.raises(UnreadableNumber):
        read_amount(text)


@pytest.mark.parametrize(
    ("text", "unit"), [("18 in", "in"), ("1' 6\"", "ft in"), ("3 yards", "yd"), ("24", "")]
)
def test_the_unit_typed_is_known(text: str, unit: str) -> None:
    assert read_amount(text).unit == unit


def test_a_fluid_ounce_is_not_guessed() -> None:
    with pytest.raises(UnreadableNumber, match="millilitres"):
        read_amount("8 fl oz")


@pytest.mark.parametrize("text", ["999999999 kg", "0.0000004"])
def test_what_cannot_be_kept_is_refused(text: str) -> None:
    with pytest.raises(UnreadableNumber):
        read_amount(text).in_unit("g")


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        ("1", "sheet", "1 sheet"),
        ("24", "sheet", "24 sheets"),
        ("0.5", "pair", "0.5 pairs"),
        ("50", "m", "50 m"),
        ("0", "piece", "0 pieces"),
    ],
)
def test_an_amount_is_written_with_its_unit(value: str, unit: str, text: str) -> None:
    assert format_amount(Decimal(value), unit) == text


@pytest.mark.parametrize(
    ("metres", "text"),
    [
        ("0.4572", "18 in"),
        ("0.1905", "7 1/2 in"),
        ("1.016", "40 in"),
        ("22.86", "25 yd"),
        ("9.144", "10 yd"),
        ("-0.4572", "-18 in"),
        # sold by the metre
        ("50", "50 m"),
        ("0.35", "0.35 m"),
        # what is left of such a reel after 60 pieces of 18 in
        ("22.568", "24.68 yd"),
        ("0.3333", "13.12 in"),
    ],
)
def test_an_inch_workshop_is_told_lengths_in_inches_and_yards(metres: str, text: str) -> None:
    assert format_amount(Decimal(metres), "m", "en_US", "in") == text
    assert format_amount(Decimal(metres), "m", "en_GB", "mm").endswith(" m")


@pytest.mark.parametrize(
    "text", ["18 in", "7 1/2 in", "25 yd", "40 in", "50 m", "0.35 m", "2.5 yd"]
)
def test_a_length_is_shown_back_as_it_was_typed(text: str) -> None:
    stored = read_amount(text).in_unit("m")
    assert typed_amount(stored, "m", "en_US", "in") == text


@given(st.decimals("0.000001", 999, places=6))
def test_what_is_shown_to_be_typed_again_gives_the_same(metres: Decimal) -> None:
    for lengths in ("in", "mm"):
        shown = typed_amount(metres, "m", "en_US", lengths)
        assert read_amount(shown, "en_US").in_unit("m") == metres


def test_the_cost_of_a_metre_is_told_by_the_yard() -> None:
    assert unit_cost_in(Decimal("0.25"), "m", "in") == (Decimal("0.228600"), "yd")
    assert unit_cost_in(Decimal("0.25"), "m", "mm") == (Decimal("0.25"), "m")
    assert unit_cost_in(Decimal("0.25"), "ml", "in") == (Decimal("0.25"), "ml")
