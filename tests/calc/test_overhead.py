"""Hourly overhead, against sums worked by hand and one published example."""

from decimal import Decimal

import pytest

from maker.calc.overhead import (
    NoHours,
    OverheadCost,
    WritingOff,
    rate_over_month,
    rate_over_year,
    yearly_total,
)

D = Decimal
RENT = OverheadCost(D("65"), is_yearly=False)
POWER = OverheadCost(D("18.50"), is_yearly=False)
INSURANCE = OverheadCost(D("138"), is_yearly=True)
WRITING = WritingOff("EUR", "en_GB")


def test_monthly_costs_count_twelve_times_in_a_year() -> None:
    # by hand: (65 + 18.50) x 12 = 1002; 1002 + 138 = 1140
    assert yearly_total([RENT, POWER, INSURANCE]) == D("1140")


def test_yearly_basis_worked_by_hand() -> None:
    # 1140 / 600 = 1.90
    rate, how = rate_over_year([RENT, POWER, INSURANCE], D("600"), WRITING)
    assert rate == D("1.90")
    assert how == "€1,140.00 of overhead per year ÷ 600 hands-on hours per year"


def test_monthly_basis_worked_by_hand() -> None:
    # 1140 / 12 = 95 a month; 95 / 50 = 1.90
    rate, how = rate_over_month([RENT, POWER, INSURANCE], D("50"), WRITING)
    assert rate == D("1.90")
    assert how == "€95.00 of overhead per month ÷ 50 planned hours per month"


def test_published_example() -> None:
    # Budgeted overhead of 2,500,000 over 1,250,000 budgeted labour hours is 2 an hour. Source:
    # OpenStax (Franklin, Graybeal, Cooper), Principles of Accounting, Volume 2: Managerial
    # Accounting, 2019, section 6.1
    rate, _ = rate_over_year([OverheadCost(D(2_500_000), True)], D(1_250_000), WRITING)
    assert rate == 2


def test_the_rate_is_not_rounded() -> None:
    # 100 / 12 a month over 7 hours = 100 / 84 = 1.190476 190476 ... (period of six digits)
    rate, _ = rate_over_month([OverheadCost(D(100), True)], D(7), WRITING)
    assert str(rate).startswith("1." + "190476" * 6)
    assert len(rate.as_tuple().digits) >= 28


@pytest.mark.parametrize("share", [rate_over_year, rate_over_month])
def test_no_hours_is_refused_with_a_remedy(share) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(NoHours, match=r"be shared over 0 hours\. Enter your"):
        share([RENT], D(0), WRITING)


@pytest.mark.parametrize("share", [rate_over_year, rate_over_month])
def test_nothing_to_share_needs_no_hours(share) -> None:  # type: ignore[no-untyped-def]
    assert share([], D(0), WRITING) == (D(0), "no overhead entered")


def test_the_explanation_is_written_as_the_workshop_writes() -> None:
    _, how = rate_over_year([RENT], D("487.5"), WritingOff("JPY", "de_DE"))
    assert how == "780\N{NO-BREAK SPACE}¥ of overhead per year ÷ 487,5 hands-on hours per year"
