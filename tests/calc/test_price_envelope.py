"""The published list: never dearer each, always more in all, and the greatest list that is so."""

from decimal import Decimal
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.calc.quantities.envelope import QuantityPrice, UnorderedQuantities, lower_envelope

D = Decimal
STEP = D("0.05")


def listed(*prices, first=1, step=STEP):
    return [QuantityPrice(first + place, D(price), step) for place, price in enumerate(prices)]


def published(lines, **options):
    return [line.price_each for line in lower_envelope(lines, **options)]


def test_seven_at_16_90_are_published_at_the_price_of_six():
    six, seven, eight = lower_envelope(listed("16.75", "16.90", "15.90", first=6))
    assert (six.price_each, six.held_down_by) == (D("16.75"), None)
    assert (seven.price_each, seven.held_down_by) == (D("16.75"), 6)
    assert eight.price_each == D("15.90")


def test_56_are_published_below_60_because_60_cost_less():
    # 56 at 11.45 are 641.20, 60 at 10.55 are 633.00: by hand, from 60 downwards,
    # 59 x 10.70 = 631.30, 58 x 10.85 = 629.30, 57 x 11.00 = 627.00, 56 x 11.15 = 624.40
    found = published(listed("11.45", "11.40", "11.45", "11.35", "10.55", first=56))
    assert found == [D("11.15"), D("11.00"), D("10.85"), D("10.70"), D("10.55")]


def test_a_smooth_list_is_published_as_it_is():
    smooth = listed("10.00", "9.00", "8.50", "8.50")
    assert all(line.held_down_by is None for line in lower_envelope(smooth))


def test_a_coarse_step_falls_back_to_the_price_of_the_larger_quantity():
    # six cost 43.80, so five may cost 8.75 each; no multiple of 5 lies between 7.30 and that
    lines = [QuantityPrice(5, D("10.00"), D("5.00")), QuantityPrice(6, D("7.30"), D("0.05"))]
    assert published(lines) == [D("7.30"), D("7.30")]


def test_a_currency_without_decimals_rises_by_one_whole_unit():
    lines = listed("800", "500", "400", step=D(1))
    # 3 x 400 = 1200; 2 x 500 = 1000; 1 x 800
    assert published(lines, digits=0) == [800, 500, 400]
    assert published(listed("800", "400", step=D(1)), digits=0) == [799, 400]


def test_quantities_must_rise():
    with pytest.raises(UnorderedQuantities):
        lower_envelope([QuantityPrice(2, D(1), STEP), QuantityPrice(2, D(1), STEP)])


PRICES = st.lists(st.integers(1, 400).map(lambda steps: steps * STEP), min_size=1, max_size=40)


@given(PRICES, st.integers(1, 60))
def test_no_more_each_always_more_in_all_and_never_above_the_worked_out_price(prices, first):
    lines = [QuantityPrice(first + place, price, STEP) for place, price in enumerate(prices)]
    found = lower_envelope(lines)
    for low, high in pairwise(found):
        assert low.price_each >= high.price_each
        assert low.quantity * low.price_each < high.quantity * high.price_each
    for line, given_line in zip(found, lines, strict=True):
        assert 0 < line.price_each <= given_line.price_each
        assert line.price_each % STEP == 0
        assert (line.held_down_by is None) == (line.price_each == given_line.price_each)


@given(st.lists(st.integers(1, 6), min_size=2, max_size=4))
def test_no_other_list_is_higher_anywhere(steps):
    # every list under the worked-out prices that keeps both rules, tried one by one
    lines = [QuantityPrice(place, D(step), D(1)) for place, step in enumerate(steps, 1)]
    allowed = [
        prices
        for prices in product(*(range(1, step + 1) for step in steps))
        if all(low >= high for low, high in pairwise(prices))
        and all(
            place * low < (place + 1) * high
            for place, (low, high) in enumerate(pairwise(prices), 1)
        )
    ]
    highest = [max(column) for column in zip(*allowed, strict=True)]
    assert published(lines) == highest


# a step below the smallest coin, as for tags by the hundred, beside coarser ones
STEPS = st.sampled_from([D("0.005"), D("0.01"), D("0.05"), D(1)])
STEPPED = st.lists(st.tuples(st.integers(20, 400), STEPS), min_size=2, max_size=12)


@given(STEPPED)
def test_lists_with_different_steps_keep_both_rules(stepped):
    lines = [QuantityPrice(place, n * step, step) for place, (n, step) in enumerate(stepped, 1)]
    found = lower_envelope(lines)
    for low, high in pairwise(found):
        assert low.price_each >= high.price_each
        assert low.quantity * low.price_each < high.quantity * high.price_each
    for line, given_line in zip(found, lines, strict=True):
        assert line.price_each <= given_line.price_each


def test_a_lowered_price_keeps_the_decimals_of_its_step():
    # two cost 9.96, so one may cost 9.95; rounded to the decimals of 10 it would be 10 again
    lines = [QuantityPrice(1, D(10), D("0.05")), QuantityPrice(2, D("4.98"), D("0.01"))]
    assert published(lines) == [D("9.95"), D("4.98")]
    assert str(published(listed("10.00", "5.00", step=D(1)))[0]) == "9.00"
