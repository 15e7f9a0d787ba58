"""What to buy now: weeks of use, season, when, how much.

Reorder point and order size are tested against the worked year (`test_supplies_result.py`); here
is what stands around them. z: standard normal quantiles, NIST/SEMATECH e-Handbook of Statistical
Methods, 1.3.6.7.1.
"""

import datetime
from decimal import Decimal as D

import pytest

from catalogue.calc.recipes.recipe import PackOffer
from catalogue.calc.supplies.to_buy import (
    BuyingRules,
    Lead,
    Position,
    to_buy,
    use_ahead,
    weekly_use,
    z_of,
)

ON = datetime.date(2026, 11, 30)
RULES = BuyingRules(D("0.95"), D(5), D("0.2"))
# weeks of the worked year's reorder case: mean 6, standard deviation 3.464102
WEEKS = (D(3), D(6), D(9), D(2), D(10), D(6))
PADS = (PackOffer("pad of 10", D(10), D(6)), PackOffer("pad of 50", D(50), D(25)))


@pytest.mark.parametrize(
    ("chance", "z"), [("0.8", "0.842"), ("0.9", "1.282"), ("0.95", "1.645"), ("0.99", "2.326")]
)
def test_the_chance_she_picks_is_a_standard_score(chance, z):
    assert round(z_of(D(chance)), 3) == D(z)


def test_nothing_is_certain():
    assert z_of(D(1)) == z_of(D("0.9999"))
    assert z_of(D(0)) == 0


def test_weeks_end_on_the_day_before_and_a_count_that_finds_more_takes_off():
    day = datetime.timedelta(days=1)
    used = [
        (ON, D(100)),  # today is no whole week yet
        (ON - day, D(4)),
        (ON - 7 * day, D(1)),
        (ON - 8 * day, D(2)),
        (ON - 9 * day, D(-5)),
        (ON - 28 * day, D(7)),
        (ON - 29 * day, D(9)),  # before the first whole week
    ]
    assert weekly_use(used, ON - 30 * day, ON) == (D(7), D(0), D(0), D(5))


def test_the_same_weeks_a_year_ago_say_the_season():
    before, then, rest = [D(2)] * 26, [D(5)] * 8, [D(2)] * 44
    use = use_ahead([*before, *then, *rest])
    assert use is not None
    assert use.season == D("2.5")
    assert use.mean == 5  # 2 a week lately x 2.5
    assert use.year_use == 5 * 8 + 2 * 44  # a season is no whole year


def test_a_season_of_one_odd_week_is_kept_within_bounds():
    use = use_ahead([*[D(1)] * 26, *[D(90)] * 8, *[D(1)] * 44])
    assert use is not None
    assert use.season == 3
    use = use_ahead([*[D(90)] * 26, *[D(1)] * 8, *[D(1)] * 44])
    assert use is not None
    assert round(use.season or D(0), 4) == D("0.3333")


def test_less_than_a_year_and_a_half_has_no_season_and_six_weeks_are_the_least():
    use = use_ahead([D(1)] * 77)
    assert use is not None
    assert use.season is None
    assert use_ahead([D(1)] * 5) is None
    assert use_ahead([D(0)] * 26) is None


def test_stock_at_its_point_is_bought_and_one_more_waits():
    use = use_ahead(WEEKS)
    low = to_buy(Position(D(21)), use, Lead(14), PADS, RULES)
    # 6 x 2 + 1.645 x 3.162 x root of 2 = 19.4, up
    assert low.point is not None
    assert low.point.point == 20
    assert to_buy(Position(D(20)), use, Lead(14), PADS, RULES).amount > 0
    assert low.amount == 0


def test_a_lead_that_varies_needs_a_larger_cushion():
    use = use_ahead(WEEKS)
    sure, unsure = (to_buy(Position(D(99)), use, Lead(14, days), PADS, RULES) for days in (0, 7))
    assert sure.point is not None
    assert unsure.point is not None
    # root of (2 x 10 + (6 x 1) squared) = 7.483; x 1.644854 = 12.309; + 12, up
    assert unsure.point.point == 25
    assert sure.point.point < unsure.point.point


def test_what_orders_and_fairs_claim_counts_and_what_is_coming_does_not_want_buying_again():
    use = use_ahead(WEEKS)
    there = Position(D(100), reserved=D(70), for_fairs=D(15))
    assert to_buy(there, use, Lead(14), PADS, RULES).amount > 0
    coming = Position(D(100), reserved=D(70), for_fairs=D(15), coming=D(50))
    assert to_buy(coming, use, Lead(14), PADS, RULES).amount == 0


def test_a_need_without_any_known_use_is_bought_and_no_more():
    found = to_buy(Position(D(3), reserved=D(10)), None, Lead(4), PADS, RULES)
    assert (found.amount, found.point, found.size) == (D(7), None, None)
    assert to_buy(Position(D(3)), None, Lead(4), PADS, RULES).amount == 0


def test_her_own_level_holds_without_use():
    found = to_buy(Position(D(3), level=D(8)), None, Lead(4), PADS, RULES)
    assert found.amount == 5
    at_level = to_buy(Position(D(8), level=D(8)), None, Lead(4), PADS, RULES)
    assert at_level.amount == 10  # a pack of the smallest


def test_the_larger_pack_is_a_price_break():
    found = to_buy(Position(D(0)), use_ahead(WEEKS), Lead(14), PADS, RULES)
    # by hand: 312 a year; 10 packs of 10 at 0.5: 156 + 5 x 3.12 + 0.2 x 0.5 x 50 = 176.6;
    # 180 at 0.5: 156 + 8.67 + 9 = 173.67 is least of the tens beside 170 (173.68) and 190 (173.71)
    assert found.size is not None
    assert found.size.quantity == 180
    assert round(found.size.year_cost, 2) == D("173.67")
    assert found.amount == 180
