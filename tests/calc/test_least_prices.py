"""The least price for a profit or a chance is the least: every lower step is tried and too low."""

from dataclasses import replace
from decimal import Decimal

import pytest

from pricing.calc.certainty.cost_range import chance_of_wage, cost_range_of, price_for_chance
from pricing.calc.costing.rates import Ask, ChannelRates, TierRates
from pricing.calc.price.channel_comparison import for_same_profit
from pricing.calc.price.price import price_at, price_for
from tests.calc.kept_prices import priced
from tests.calc.small_recipe import rates, recipe, sheet_for_each_piece

D = Decimal


def sold(digits, payments, commission):
    coin = D(1).scaleb(-digits)
    tier = TierRates(fee_share=D("0.0175"), fixed_fee=20 * coin, payments_per_sale=payments)
    return ChannelRates("any", (tier,), commission_share=D(commission))


def made(quantity, digits, low=None, high=None):
    set_up, fold = recipe().steps
    fold = replace(fold, minutes_low=low, minutes_high=high)
    hour = rates(currency_digits=digits, tax_rate=D("0.19"))
    if digits == 0:
        hour = replace(hour, wage_per_hour=D(1200), overhead_per_hour=D(600))
    options = {"channel": sold(digits, 1, "0"), "rates": hour, "planner": sheet_for_each_piece}
    return priced(quantity, recipe=recipe(steps=(set_up, fold)), **options)[0], hour


@pytest.mark.parametrize("digits", [0, 2])
@pytest.mark.parametrize("payments", [1, 3])
@pytest.mark.parametrize("commission", ["0", "0.3"])
def test_no_lower_step_leaves_the_profit(digits, payments, commission):
    channel = sold(digits, payments, commission)
    for quantity in (1, 3, 12):
        job, hour = made(quantity, digits)
        job_of = {Ask(quantity, bought_at_once=quantity): job}.__getitem__
        for tenths in range(0, 40, 5):
            profit = D(tenths) / 10 * (100 if digits == 0 else 1)
            (found,) = for_same_profit(profit, job_of, Ask(quantity), [channel], hour).results
            least = _least(lambda price, profit=profit: price.profit >= profit, job, channel, hour)
            assert found.price.price_each == least


def test_no_lower_step_reaches_the_chance():
    channel = sold(2, 2, "0")
    for quantity in (1, 3, 7, 12):
        job, hour = made(quantity, 2, D(2), D(5))
        cost_range = cost_range_of(job, price_for(job, Ask(quantity), channel, hour), hour)
        for chance in ("0.5", "0.8", "0.9", "0.95", "0.99"):
            price = price_for_chance(D(chance), cost_range, job, Ask(quantity), channel, hour)
            assert chance_of_wage(cost_range, price) >= D(chance)
            lower = price_at(price.price_each - D("0.01"), job, Ask(quantity), channel, hour)
            # four decimals of a chance may round up to the one wanted
            assert chance_of_wage(cost_range, lower) <= D(chance)


def _least(is_enough, job, channel, hour):
    """Walk up all steps from well below: fifteen coins a piece are more than rounding takes."""
    coin = D(1).scaleb(-hour.currency_digits)
    (near,) = for_same_profit(D(0), lambda _: job, Ask(job.quantity), [channel], hour).results
    each = max(near.price.price_each - 15 * coin, D(0))
    while not is_enough(price_at(each, job, Ask(job.quantity), channel, hour)):
        each += coin
    return each
