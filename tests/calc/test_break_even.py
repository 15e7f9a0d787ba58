"""How many until it pays: sales against what is fixed, a die against what it saves."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.calc.what_if.break_even import (
    NeverPays,
    break_even,
    leverage,
    tool_break_even,
)
from tests.calc import worked_case

D = Decimal


def test_sales_that_pay_a_fair_day_by_the_worked_case():
    fair = worked_case.CASE["fair"]
    gain = D(str(fair["fd.gain1"]))
    fixed = D(str(fair["fd.stall"])) + D(str(fair["fd.travel"]))
    assert break_even(fixed, gain).count == fair["fd.breakeven"]
    # 15.00 an hour for 11.5 hours on top
    assert break_even(fixed, gain, target=D("172.50")).count == fair["fd.wage_even"]


def test_a_die_of_90_that_saves_two_minutes_by_hand():
    # 2 min x (15.00 + 4.20) / 60 = 0.64, less 0.02 for a pass: 0.62; 90 / 0.62 = 145.16
    found = tool_break_even(
        D("90.00"),
        saved_minutes_each=D(2),
        saved_cost_each=D("-0.02"),
        rates=worked_case.rates(),
    )
    assert found.count == 146
    assert found.gain_each == D("0.62")


def test_a_tool_that_saves_nothing_never_pays():
    rates = worked_case.rates()
    with pytest.raises(NeverPays):
        tool_break_even(D(90), saved_minutes_each=D("0.1"), saved_cost_each=D("-0.05"), rates=rates)


def test_sales_that_leave_nothing_never_pay():
    for gain in (D(0), D(-1)):
        with pytest.raises(NeverPays):
            break_even(D(10), gain)
    with pytest.raises(NeverPays):
        leverage(D(5), D(5))
    assert break_even(D(0), D(1)).count == 0


@given(st.decimals(0, 900, places=2), st.decimals("0.01", 50, places=2))
def test_the_count_is_the_first_that_pays(fixed, gain):
    count = break_even(fixed, gain).count
    assert count * gain >= fixed
    assert count == 0 or (count - 1) * gain < fixed
