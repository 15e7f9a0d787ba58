"""The learning factor: rounding, floor, reference batch, and the two curves against long sums."""

from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.recipes.recipe import Learning
from pricing.calc.costing.learning import (
    ImpossibleLearning,
    average_factor,
    learning_factor,
    total_factor,
)

D = Decimal
BOTH = [Learning.CUMULATIVE, Learning.PER_UNIT]


def factor(made, model, *, rate="0.8", floor="0", **batches):
    return learning_factor(made, model=model, rate=D(rate), floor=D(floor), **batches).factor


def test_two_pieces_at_80_percent_by_hand():
    assert factor(2, Learning.CUMULATIVE) == D("0.8")
    assert factor(2, Learning.PER_UNIT) == D("0.9")  # (1 + 0.8) / 2
    assert factor(2, Learning.NONE) == 1


def test_it_is_rounded_to_four_decimals_before_the_floor_holds():
    # 13 ^ (ln 0.95 / ln 2) = 0.827118...
    assert factor(13, Learning.CUMULATIVE, rate="0.95") == D("0.8271")
    assert factor(13, Learning.CUMULATIVE, rate="0.95", floor="0.83") == D("0.83")


@pytest.mark.parametrize("model", BOTH)
def test_a_batch_as_large_as_the_timed_one_takes_the_timed_minutes(model):
    assert factor(24, model, reference=24) == 1
    assert factor(12, model, reference=24) > 1
    assert factor(48, model, reference=24) < 1
    assert factor(1, model, reference=24, floor="1") > 1


def test_doubling_the_timed_batch_gives_the_rate_on_wrights_curve():
    assert factor(48, Learning.CUMULATIVE, rate="0.9", reference=24) == D("0.9")


@pytest.mark.parametrize("rate", ["0.5", "0.7", "0.95", "1"])
@pytest.mark.parametrize("count", [1, 2, 39, 40, 41, 45, 100, 2500])
def test_the_sum_of_powers_is_that_of_adding_one_by_one(rate, count):
    with localcontext(prec=50):
        exponent = D(rate).ln() / D(2).ln()
        added = sum(D(n) ** exponent for n in range(1, count + 1))
        assert abs(total_factor(count, D(rate), Learning.PER_UNIT) - added) < D("1e-8")


@pytest.mark.parametrize("model", BOTH)
@given(st.integers(1, 100_000), st.decimals("0.5", 1, places=4))
def test_more_pieces_never_take_longer_each_nor_less_together(model, count, rate):
    less, more = average_factor(count + 1, rate, model), average_factor(count, rate, model)
    assert 0 < less <= more <= 1
    # at 50 % the total of Wright stays the same, but for the last of 34 digits
    grown = total_factor(count + 1, rate, model) - total_factor(count, rate, model)
    assert grown > D("-1e-25")


@pytest.mark.parametrize(
    "numbers",
    [
        {"rate": "0"},
        {"rate": "1.01"},
        {"floor": "-0.1"},
        {"floor": "1.1"},
        {"reference": 0},
        {"made_before": -1},
    ],
)
def test_rates_and_floors_that_cannot_be_meant_are_refused(numbers):
    with pytest.raises(ImpossibleLearning):
        factor(2, Learning.CUMULATIVE, **numbers)


def test_experience_carries_over_by_hand():
    # 80 %: on Wright's curve the first two take 2 x 0.8 = 1.6, the first four 4 x 0.64 = 2.56
    assert factor(2, Learning.CUMULATIVE, made_before=2) == D("0.48")  # 0.96 / 2
    # on the per-unit curve the third takes 3 ^ b = 0.702104 and the fourth 0.64
    assert factor(2, Learning.PER_UNIT, made_before=2) == D("0.6711")
    assert factor(2, Learning.CUMULATIVE, made_before=2, floor="0.7") == D("0.7")
    assert factor(2, Learning.NONE, made_before=500) == 1


@pytest.mark.parametrize("model", BOTH)
@given(
    st.integers(1, 500), st.integers(0, 5000), st.integers(1, 60), st.decimals("0.6", 1, places=3)
)
def test_batches_made_one_after_another_add_up_to_all_at_once(model, made, before, more, rate):
    def minutes(count, experience):
        found = learning_factor(
            count, model=model, rate=rate, floor=D(0), made_before=experience, reference=12
        )
        return found.raw * count

    together = minutes(made, before) + minutes(more, before + made)
    assert abs(together - minutes(made + more, before)) < D("1e-20")
    # who has made some is never slower
    assert minutes(made, before) <= minutes(made, 0) + D("1e-20")
