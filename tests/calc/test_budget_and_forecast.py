"""Budgets carried on, what a month comes to, and what supplies cost beside a year ago.

`carried_over` and the indices are tested against the worked year (`test_supplies_result.py`).
"""

import datetime
from decimal import Decimal as D

import pytest

from pricing.calc.spending.budget import carrying_since, standings
from pricing.calc.spending.forecast import month_forecast, quantile
from pricing.calc.spending.price_index import Bought, price_change
from pricing.calc.spending.spend import BudgetStep, Period, periods


def month(number, year=2026):
    return datetime.date(year, number, 1)


SPENT = {month(1): D("64.12"), month(2): D("23.05"), month(3): D("54.41"), month(4): D("34.76")}
PAPER = BudgetStep("paper", month(1), D(52), carries=True)


def standing(steps, of):
    (one,) = standings(steps, of, lambda category, day: SPENT.get(day, D(0)))
    return one


def test_what_earlier_months_left_is_there_in_a_month():
    # the worked year, bu.paper.2026-04: available 66.42, left 31.66
    april = standing([PAPER], month(4))
    assert (april.budget + april.carried_in, april.left) == (D("66.42"), D("31.66"))


def test_without_carry_over_each_month_begins_anew():
    april = standing([BudgetStep("paper", month(1), D(52))], month(4))
    assert (april.carried_in, april.left, april.carries) == (0, D("17.24"), False)


def test_a_changed_budget_carries_on_and_a_break_begins_anew():
    more = BudgetStep("paper", month(3), D(60), carries=True)
    # after February 16.83 are left; March: 60 + 16.83 - 54.41 = 22.42
    assert standing([PAPER, more], month(4)).carried_in == D("22.42")
    off = BudgetStep("paper", month(3), D(52))
    on = BudgetStep("paper", month(4), D(52), carries=True)
    assert standing([PAPER, off, on], month(4)).carried_in == 0
    assert carrying_since([PAPER, off, on], "paper", month(4)) == month(4)
    assert not standings([PAPER, BudgetStep("paper", month(2), None)], month(3), lambda *_: D(0))


@pytest.mark.parametrize(("share", "value"), [("0.1", "1.5"), ("0.5", "3.5"), ("0.9", "5.5")])
def test_quantiles_of_type_seven(share, value):
    # h = (n - 1) p, between the values around it: 0.5, 2.5, 4.5 of 1..6
    assert quantile([D(6), D(1), D(4), D(3), D(5), D(2)], D(share)) == D(value)


def test_a_month_comes_to_what_was_spent_and_what_others_spent_after_its_date():
    found = month_forecast(D(20), D(0), [D(n) for n in range(1, 7)])
    assert found is not None
    assert (found.low, found.likely, found.high) == (D("21.5"), D("23.5"), D("25.5"))
    committed = month_forecast(D(20), D(5), [D(n) for n in range(1, 7)])
    assert committed is not None
    assert (committed.low, committed.likely, committed.high) == (25, 25, D("25.5"))
    assert month_forecast(D(20), D(0), [D(1)] * 5) is None


def test_only_what_was_bought_both_times_is_compared():
    then = {"card": Bought(D(100), D(50)), "old": Bought(D(1), D(9))}
    now = {
        "card": Bought(D(50), D(30)),  # 0.50 -> 0.60
        "dots": Bought(D(10), D(10)),
        "ribbon": Bought(D(20), D(4)),
    }
    then["ribbon"] = Bought(D(20), D(4))
    groups = {"card": "paper", "dots": "fixings", "ribbon": "fixings", "old": "paper"}
    change = price_change(then, now, groups)
    assert change is not None
    # Laspeyres 64/54, Paasche 34/29: root of 1.185185 x 1.172414 = 1.178782
    assert round(change.share, 6) == D("0.178782")
    assert round(change.covered, 6) == D("0.772727")  # 34 of 44
    assert change.by_group[0] == ("paper", D("7.5"))  # 0.10 x 75
    assert price_change({}, now, groups) is None


def test_months_make_quarters_and_years():
    assert periods(month(2), month(8), each=3) == (
        Period(month(2), month(3)),
        Period(month(4), month(6)),
        Period(month(7), month(8)),
    )
    assert periods(month(11, 2025), month(2), each=12) == (
        Period(month(11, 2025), month(12, 2025)),
        Period(month(1), month(2)),
    )
