"""Money: decimals of a currency, rounding, steps, sharing, writing."""

import itertools
from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maker.calc.money import (
    cash_step,
    format_money,
    minor_digits,
    share_out,
    to_minor,
    up_to_step,
    with_working_precision,
)
from maker.calc.refusal import Refusal

D = Decimal


@pytest.mark.parametrize(
    ("amount", "digits", "rounded"),
    [
        ("0.005", 2, "0.01"),
        ("0.004999", 2, "0.00"),
        ("-0.005", 2, "-0.01"),
        ("2.5", 0, "3"),
        ("0.0005", 3, "0.001"),
        ("1e3", 2, "1000.00"),
    ],
)
def test_halves_round_away_from_zero(amount, digits, rounded):
    assert to_minor(D(amount), digits) == D(rounded)


@pytest.mark.parametrize(
    ("amount", "step", "price"),
    [
        ("14.45", "0.50", "14.50"),
        ("10.539", "0.05", "10.55"),
        ("10.55", "0.05", "10.55"),
        ("10.5500000001", "0.05", "10.60"),
        ("0", "0.05", "0"),
        ("3.333", "0", "3.333"),
        ("101", "25", "125"),
    ],
)
def test_prices_go_up_to_the_next_step(amount, step, price):
    assert up_to_step(D(amount), D(step)) == D(price)


def test_the_smallest_coin_is_a_unit_of_its_own():
    assert [cash_step(code) for code in ("EUR", "CHF", "JPY", "KWD")] == [
        D("0.01"),
        D("0.05"),
        D("1"),
        D("0.001"),
    ]
    assert minor_digits("SEK") == 2
    assert cash_step("SEK") == 1


def test_shares_of_nothing_and_over_nothing():
    assert share_out(D(0), []) == []
    assert share_out(D("0.03"), [D(0), D(0)]) == [D("0.02"), D("0.01")]
    assert share_out(D("-0.03"), [D(1), D(1)]) == [D("-0.02"), D("-0.01")]
    for total, weights in ((D("0.01"), []), (D("0.001"), [D(1)]), (D(1), [D(-1), D(2)])):
        with pytest.raises(Refusal):
            share_out(total, weights)


@given(
    st.decimals(-(10**9), 10**9, places=3),
    st.lists(st.decimals(0, 10**6, places=6), min_size=1, max_size=12),
    st.integers(0, 3),
)
def test_shares_add_up_exactly_and_stay_within_one_unit_of_fair(total, weights, digits):
    total = to_minor(total, digits)
    shares = share_out(total, weights, digits)
    assert sum(shares) == total
    whole, unit = sum(weights), D(1).scaleb(-digits)
    for share, weight in zip(shares, weights, strict=True):
        assert share == to_minor(share, digits)
        if whole:
            assert abs(share - total * weight / whole) < unit
    # a heavier line never gets less
    ranked = sorted(zip(weights, (abs(share) for share in shares), strict=True))
    assert all(low[1] <= high[1] for low, high in itertools.pairwise(ranked) if low[0] < high[0])


def test_sums_do_not_depend_on_the_callers_precision():
    @with_working_precision
    def third():
        return D(1) / 3

    with localcontext(prec=5):
        assert third() == D("0." + "3" * 34)
        assert len(str(D(1) / 3)) == 7


@pytest.mark.parametrize(
    ("amount", "currency", "locale", "text"),
    [
        ("1234.5", "EUR", "en_GB", "€1,234.50"),
        ("0.005", "EUR", "en_GB", "€0.01"),
        ("1234", "JPY", "en_GB", "JP¥1,234"),
        ("1.2345", "KWD", "en_GB", "KWD\N{NO-BREAK SPACE}1.235"),
        ("-3", "GBP", "en_GB", "−£3.00"),
        ("1234.5", "EUR", "de_DE", "1.234,50\N{NO-BREAK SPACE}€"),
        ("1234567", "INR", "en_IN", "₹12,34,567.00"),
        ("-1234.5", "CHF", "de_CH", "CHF−1’234.50"),
        ("12", "CHF", "de_CH", "CHF\N{NO-BREAK SPACE}12.00"),
    ],
)
def test_money_is_written_with_its_own_decimals(amount, currency, locale, text):
    assert format_money(D(amount), currency, locale) == text


def test_amounts_of_a_column_have_the_same_decimals():
    column = [format_money(D(x), "EUR", "en_GB", 2, in_column=True) for x in ("0.25", "12.3456")]
    assert column == ["€0.2500", "€12.3456"]


def test_less_than_nothing_has_a_minus_that_is_one():
    assert format_money(D("-3.2"), "EUR", "en_GB") == "\N{MINUS SIGN}€3.20"
    assert format_money(D("-3.2"), "EUR", "de_DE") == "\N{MINUS SIGN}3,20\N{NO-BREAK SPACE}€"
    assert format_money(D("-0.001"), "EUR", "en_GB") == "€0.00"


def test_small_unit_costs_show_more_decimals():
    assert format_money(D("0.522917"), "EUR", extra_digits=4) == "€0.522917"
    assert format_money(D("0.5"), "EUR", extra_digits=4) == "€0.50"


def test_equal_amounts_are_written_alike_whichever_came_first():
    """What was written is kept by its value, and 1.5 equals 1.50, and -0 equals 0."""
    amounts = [Decimal(text) for text in ("-0", "-0.001", "0", "1.5", "1.500")]
    assert [format_money(amount, "EUR") for amount in amounts] == ["€0.00"] * 3 + ["€1.50"] * 2
    assert format_money(Decimal("1.5"), "EUR", extra_digits=2) == "€1.50"
    assert format_money(Decimal("1.5"), "EUR", "de_DE") == "1,50\N{NO-BREAK SPACE}€"
