"""A length is written in the unit it was typed in, and reads back as the same length."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maker.calc.amounts import format_amount, read_amount, typed_amount, unit_to_keep
from maker.calc.units import LENGTH_UNITS, format_length_in, parse_length

D = Decimal


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("1 yd", "1 yd"),
        ("2 ft", "2 ft"),
        ("72 in", "72 in"),
        ("18 in", "18 in"),
        ("1' 6\"", "1 ft 6 in"),
        ("1/3 yd", "1/3 yd"),
        ("2 2/3 yd", "2 2/3 yd"),
        ("2.5 yd", "2.5 yd"),
        ("7 1/2 in", "7 1/2 in"),
        ("35 cm", "35 cm"),
        ("50 m", "50 m"),
    ],
)
@pytest.mark.parametrize("lengths", ["in", "mm"])
def test_an_amount_is_shown_as_it_was_typed(typed: str, shown: str, lengths: str) -> None:
    amount = read_amount(typed)
    metres = amount.in_unit("m")
    kept = unit_to_keep(metres, "m", amount.unit, lengths)
    assert typed_amount(metres, "m", lengths=lengths, typed_in=kept) == shown
    assert format_amount(metres, "m", lengths=lengths, typed_in=kept) == shown


def test_what_is_shown_in_that_unit_anyway_keeps_none() -> None:
    assert unit_to_keep(D("0.4572"), "m", "in", "in") == ""
    assert unit_to_keep(D("22.86"), "m", "yd", "in") == ""
    assert unit_to_keep(D("0.9144"), "m", "yd", "in") == "yd"
    assert unit_to_keep(D("0.35"), "m", "m", "mm") == ""
    assert unit_to_keep(D(24), "piece", "", "in") == ""


def test_a_unit_that_would_round_is_not_used() -> None:
    # 0.1 m is 0.109361... yd: no fraction of a yard that anyone writes
    assert format_length_in(D(100), "yd") == ""
    # a micrometre is less than a millionth of a yard
    assert typed_amount(D("0.000001"), "m", lengths="in", typed_in="m") == "0.000001 m"


def test_nothing_of_a_ribbon_is_no_metre_in_an_inch_workshop() -> None:
    assert format_amount(D(0), "m", lengths="in") == "0 yd"
    assert format_amount(D(0), "m") == "0 m"


@given(
    micrometres=st.integers(0, 10**8),
    unit=st.sampled_from(LENGTH_UNITS),
    locale=st.sampled_from(["en_GB", "de_DE"]),
)
def test_what_is_written_reads_back(micrometres: int, unit: str, locale: str) -> None:
    length = D(micrometres) / 1000
    if text := format_length_in(length, unit, locale):
        assert parse_length(text, "mm", locale) == length
    metres = D(micrometres) / 10**6
    text = typed_amount(metres, "m", locale, "in", unit)
    assert read_amount(text, locale).in_unit("m") == metres
