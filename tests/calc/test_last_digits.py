"""Sums with thirds in them: their last of 34 digits must not cost a price step, a piece or a flag.

Expected figures are worked out in fractions here, apart from the code they check.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maker.calc.money import up_to_step, whole_up
from pricing.calc.changes.repricing import reprice
from pricing.calc.costing.rates import Ask, ChannelRates, TierRates, WorkshopRates
from pricing.calc.price.price import price_at, price_for
from pricing.calc.what_if.break_even import tool_break_even
from tests.calc.kept_prices import small
from tests.calc.small_recipe import rates, recipe

D = Decimal


@dataclass(frozen=True)
class Job:
    quantity: int
    cost: Decimal
    minutes: Decimal = Decimal(60)
    labour_cost: Decimal = Decimal(12)


def up(number):
    return -(-number.numerator // number.denominator)


def selling(margin, step, *, commission="0", fixed="0"):
    tier = TierRates(margin=D(margin), price_step=D(step), fixed_fee=D(fixed))
    return ChannelRates("any", (tier,), commission_share=D(commission))


TAXED = WorkshopRates(D(12), D(3), tax_rate=D("0.19"))


@pytest.mark.parametrize(
    ("number", "whole"),
    [
        ("602.0000000000000000000000000001", 602),
        ("602", 602),
        ("601.9999999999999999999999999999", 602),
        ("602.000000000001", 603),
        ("-0.5", 0),
    ],
)
def test_a_hair_more_than_whole_is_whole(number, whole):
    assert whole_up(D(number)) == whole
    assert up_to_step(D(number) / 20, D("0.05")) == whole * D("0.05")


@given(
    cost=st.integers(1, 40_000),
    margin=st.sampled_from(["0", "0.2", "0.25", "0.3", "0.4"]),
    commission=st.sampled_from(["0", "0.3"]),
    tax=st.sampled_from(["0", "0.07", "0.19", "0.2", "0.25"]),
    step=st.sampled_from(["0.01", "0.05", "0.50"]),
    quantity=st.sampled_from([1, 3, 6, 7, 9, 12]),
)
def test_the_price_is_the_next_step_by_fractions(cost, margin, commission, tax, step, quantity):
    channel = selling(margin, step, commission=commission)
    found = price_for(
        Job(quantity, D(cost) / 100),
        Ask(quantity),
        channel,
        WorkshopRates(D(12), D(3), tax_rate=D(tax)),
    )
    kept = 1 - Fraction(margin) - Fraction(commission)
    exact = Fraction(cost, 100) / kept * (1 + Fraction(tax)) / quantity
    # without a margin, rounding to whole cents may ask for a step more; see test_buyers.py
    least = max(exact, Fraction(found.floor_each))
    assert Fraction(found.price_each) == up(least / Fraction(step)) * Fraction(step)


def on_the_step(margin, step):
    """Yield costs whose exact price is a whole number of steps, and that price."""
    kept = 1 - Fraction(margin)
    for cents in range(1, 3000):
        for quantity in (1, 3, 7):
            exact = Fraction(cents, 10) / kept * Fraction("1.19") / quantity
            if (exact / Fraction(step)).denominator == 1:
                yield quantity, D(cents) / 10, exact


def test_a_price_that_is_a_whole_step_by_hand_is_not_one_step_more():
    tried = 0
    for margin, step in (("0.3", "0.01"), ("0.4", "0.05"), ("0.2", "0.01")):
        for quantity, cost, exact in on_the_step(margin, step):
            found = price_for(Job(quantity, cost), Ask(quantity), selling(margin, step), TAXED)
            assert Fraction(found.price_each) == exact, (margin, step, quantity, cost)
            tried += 1
    assert tried > 300


def test_a_price_at_the_floor_is_not_below_it():
    # a commission of 30 % leaves 0.7: thirds of sevenths on the way to whole cents
    channel = selling("0", "0.01", commission="0.3")
    tried = 0
    for quantity, cost, exact in on_the_step("0.3", "0.01"):
        at_floor = price_for(Job(quantity, cost), Ask(quantity), channel, TAXED)
        assert Fraction(at_floor.price_each) == exact
        assert not at_floor.is_below_floor
        each = at_floor.floor_each - D("0.01")
        assert price_at(each, Job(quantity, cost), Ask(quantity), channel, TAXED).is_below_floor
        tried += 1
    assert tried > 100


# 20.00 + 3.00 an hour are 23/60 a minute
DEAR = rates(wage_per_hour=D(20), overhead_per_hour=D(3))


def test_minutes_saved_pay_a_tool_after_just_as_many_pieces():
    for tenths in range(1, 60):
        for pieces in (6, 60, 210):
            saved = Fraction(tenths, 10) * Fraction(23, 60) * pieces
            if (saved * 100).denominator == 1:
                price = D(saved.numerator) / D(saved.denominator)
                found = tool_break_even(price, saved_minutes_each=D(tenths) / 10, rates=DEAR)
                assert found.count == pieces


@pytest.mark.parametrize("quantity", [1, 7, 9, 14, 17, 19, 21, 30])
@pytest.mark.parametrize("threshold", ["0.05", "0.1", "0.07"])
def test_a_cost_dearer_by_just_the_threshold_is_not_off(quantity, threshold):
    more = 1 + D(threshold)
    hour = rates()
    dearer_hour = rates(
        wage_per_hour=hour.wage_per_hour * more, overhead_per_hour=hour.overhead_per_hour * more
    )
    # nothing but time, shared over 3, 7, 9 ... pieces
    only_time = recipe(pieces=(), fixings=())
    then = small(quantity, recipe=only_time)
    now = small(quantity, recipe=only_time, rates=dearer_hour)
    assert Fraction(dearer_hour.wage_per_hour) == Fraction(hour.wage_per_hour) * Fraction(more)
    assert reprice(then, now, threshold=D(threshold)).triggers == ()
    assert reprice(then, now, threshold=D(threshold) - D("1e-12")).triggers
