"""A day at a fair, hidden demand, bundles and fairs beside each other, by hand."""

import datetime
import random
from decimal import Decimal
from fractions import Fraction

import pytest

from pricing.calc.fairs.bundles import BadBundle, bundle_of
from pricing.calc.fairs.demand import (
    BadChances,
    chance_of_enough,
    chances_of,
    enough_for,
    mean_of,
    sold_of,
    sold_up_to,
    together,
)
from pricing.calc.fairs.fair_day import (
    DayAtTable,
    DayCosts,
    ItemCost,
    Refund,
    Sale,
    day_of,
    in_equal_parts,
)
from pricing.calc.fairs.season import Again, FairOutcome, season_of
from pricing.calc.fairs.visitors import NobodyYet, hidden_demand
from pricing.calc.fairs.what_to_take import FairItem, FairRates, one_more_of

NO_RATES = FairRates(Decimal(0), Decimal(0), Decimal(0))
CURVE = {10: Decimal("0.2"), 11: Decimal("0.5"), 12: Decimal("0.3")}


def item(price="5.00", cost="2.00"):
    zero = Decimal(0)
    return FairItem("bag", Decimal(price), Decimal(cost), zero, zero, zero, zero, zero)


@pytest.mark.parametrize("seed", range(20))
def test_the_sum_of_days_keeps_means_and_chances(seed):
    chance = random.Random(seed)
    days = [
        chances_of({chance.randint(0, 12): chance.randint(1, 9) for _ in range(4)})
        for _ in range(chance.randint(1, 5))
    ]
    season = together(days)
    assert sum(season.values()) == 1
    assert mean_of(season) == sum(mean_of(day) for day in days)
    for count in range(max(season) + 2):
        assert chance_of_enough(season, enough_for(season, chance_of_enough(season, count))) == (
            chance_of_enough(season, count)
        )
        left = sum(max(count - asked, 0) * each for asked, each in season.items())
        assert count - sold_of(season, count) == left
    assert sold_up_to(season, max(season) + 3) == [
        sold_of(season, count) for count in range(max(season) + 4)
    ]


def test_no_chance_asked_for_needs_nothing():
    assert enough_for(chances_of({3: 1, 5: 1}), Fraction(0)) == 0
    assert enough_for(chances_of({3: 1, 5: 1}), Fraction(1, 2)) == 3
    assert enough_for(chances_of({3: 1, 5: 1}), Fraction(501, 1000)) == 5


@pytest.mark.parametrize("weights", [{}, {3: 0}, {-1: 1}, {3: -1, 4: 2}])
def test_chances_of_nothing_are_refused(weights):
    with pytest.raises(BadChances):
        chances_of(weights)


def test_a_damaged_item_is_refunded_and_its_cost_stays():
    costs = {"bag": ItemCost(Decimal(2), Decimal("0.10"))}
    day = day_of(
        DayAtTable(
            sales=[
                Sale(True, {"bag": 1}, Decimal(5), times=3),
                Sale(False, {"bag": 2}, Decimal(10)),
            ],
            refunds=[Refund(True, "bag", Decimal(5))],
            deposits_in_cash=[Decimal(20)],
            paid_out=[Decimal(6)],
            float_coins={Decimal(1): 30},
            counted={Decimal(50): 1, Decimal("0.50"): 9},
            costs=DayCosts(stall=Decimal(3), hours=Decimal(2)),
        ),
        costs,
        FairRates(Decimal("0.2"), Decimal("0.02"), Decimal(0)),
    )
    assert (day.card, day.cash, day.takings) == (10, 10, 20)
    # the fee of the refunded payment is not paid back: 3 x 0.10
    assert day.fees == Decimal("0.30")
    assert day.tax == Decimal("3.33")
    assert (day.cost_of_items, day.bags, day.items_sold) == (10, Decimal("0.50"), 4)
    # 30 + 10 in cash + 20 deposit - 6 paid out
    assert (day.till.expected, day.till.counted) == (54, Decimal("54.50"))
    assert (day.till.difference, day.till.to_bank) == (Decimal("0.50"), Decimal("24.50"))
    # 20 - 3.33 - 0.30 - 10 - 0.50 - 3 + 0.50
    assert day.profit == Decimal("3.37")
    season = season_of([day, day])
    assert season.profit == 2 * day.profit
    assert season.items_sold == 8


def test_a_stall_that_keeps_a_share_keeps_it_of_takings_without_tax():
    def figures(commission):
        return day_of(
            DayAtTable(
                sales=[Sale(False, {"bag": 2}, Decimal("12.01"))],
                float_coins={},
                counted={Decimal("12.01"): 1},
                costs=DayCosts(),
            ),
            {"bag": ItemCost(Decimal(2), Decimal(0))},
            FairRates(Decimal("0.2"), Decimal(0), Decimal(0), Decimal(commission)),
        )

    day, without = figures("0.25"), figures("0")
    # 12.01 has 2.00 tax in it; a quarter of 10.01 is 2.5025
    assert (day.tax, day.commission, without.commission) == (2, Decimal("2.50"), 0)
    assert without.profit - day.profit == Decimal("2.50")
    season = season_of([day, day])
    assert (season.commission, season.unexplained) == (5, 0)
    assert season.gain_each == day.left_before_fixed / 2


def test_one_more_and_a_bundle_leave_their_share_to_the_stall():
    rates = FairRates(Decimal("0.25"), Decimal(0), Decimal(0), Decimal("0.2"))
    # 5.00 is 4.00 without tax, of which 0.80 is the stall's; cost and bag are 2.00
    assert one_more_of(item(), rates).gain == Decimal("1.20")
    bundle = bundle_of([(item(), 2)], rates, keep=Decimal(0), step=Decimal("0.01"))
    # 4.00 / 0.8 x 1.25
    assert (bundle.lowest, bundle.gain) == (Decimal("6.25"), 0)


def test_what_selling_out_hid():
    found = hidden_demand(7, CURVE, datetime.time(11, 30))
    # 0.2 and half of 0.5 had come: 7 / 0.45 = 15.6, so 8 more
    assert found.share_gone == Fraction(9, 20)
    assert found.missed == 8
    assert hidden_demand(7, CURVE, datetime.time(23, 0)).missed == 0


def test_nothing_can_be_said_when_nobody_had_come():
    with pytest.raises(NobodyYet):
        hidden_demand(7, CURVE, datetime.time(9, 59))


def test_a_bundle_keeps_its_share_above_the_lowest_price():
    bundle = bundle_of([(item(), 2)], NO_RATES, keep=Decimal("0.5"), step=Decimal("0.50"))
    # lowest 4.00, full 10.00: half of the difference kept
    assert (bundle.lowest, bundle.full, bundle.price) == (4, 10, 7)
    assert (bundle.saving, bundle.gain, bundle.gain_apart) == (Decimal("0.3"), 3, 6)


def test_a_fee_that_takes_everything_leaves_no_price():
    with pytest.raises(BadBundle):
        bundle_of(
            [(item(), 1)],
            FairRates(Decimal(0), Decimal(1), Decimal(0)),
            keep=Decimal(1),
            step=Decimal(0),
        )


@pytest.mark.parametrize(
    ("total", "count", "parts"),
    [
        ("130.00", 3, ("43.33", "43.33", "43.34")),
        ("10.00", 1, ("10.00",)),
        ("0.01", 2, ("0.00", "0.01")),
        ("5.00", 0, ()),
    ],
)
def test_the_last_day_takes_the_odd_cents(total, count, parts):
    assert list(in_equal_parts(Decimal(total), count)) == [Decimal(part) for part in parts]


@pytest.mark.parametrize(
    ("profit", "orders", "hidden", "again"),
    [
        ("100", "40", "0", Again.YES),  # 14 an hour, exactly the wage
        ("100", "39.90", "0.10", Again.WITH_STOCK),
        ("0", "0", "0", Again.WITH_CHANGE),
        ("-5", "4", "0", Again.NO),
    ],
)
def test_again_is_decided_by_the_hour(profit, orders, hidden, again):
    outcome = FairOutcome(
        "fair",
        takings=Decimal(500),
        profit=Decimal(profit),
        hours=Decimal(10),
        fixed=Decimal(50),
        hidden=Decimal(hidden),
        orders=Decimal(orders),
        metres=Decimal(2),
    )
    assert outcome.again(Decimal(14)) is again
