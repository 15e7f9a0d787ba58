"""How sure a price is: the figures worked out by hand, and many jobs thrown by dice."""

import random
from dataclasses import replace
from decimal import Decimal
from functools import cache, lru_cache
from statistics import NormalDist, fmean, quantiles, stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.cutting.planning import plan_cuts
from catalogue.calc.recipes.recipe import Basis, RecipeStep
from pricing.calc.certainty.cost_range import (
    NoSuchChance,
    chance_of_wage,
    cost_range_of,
    price_for_chance,
)
from pricing.calc.certainty.pert import BadEstimate, expected, spread, three_points
from pricing.calc.costing.cost import cost_of
from pricing.calc.costing.rates import Ask
from pricing.calc.price.price import price_at, price_for
from pricing.calc.price.terms import terms_for
from tests.calc import small_recipe, worked_case

D = Decimal
plan_once = lru_cache(maxsize=None)(plan_cuts)
RANGE_60 = worked_case.CASE["band_60"]
# low and high minutes of the four steps made by hand, beside the likely ones of the case
LOW_AND_HIGH = {
    "score": ("1.2", "2.4"),
    "body": ("4.2", "6.6"),
    "pocket": ("2.8", "5.2"),
    "finish": ("4.8", "9.0"),
}


def estimated(recipe, estimates=LOW_AND_HIGH):
    steps = tuple(
        replace(
            step,
            minutes_low=D(estimates[step.name][0]),
            minutes_high=D(estimates[step.name][1]),
        )
        if step.name in estimates
        else step
        for step in recipe.steps
    )
    return replace(recipe, steps=steps)


@cache
def sixty():
    ask, rates, channel = Ask(60), worked_case.rates(), worked_case.channel()
    job = cost_of(estimated(worked_case.recipe()), ask, rates, plan_once)
    price = price_for(job, ask, channel, rates)
    return job, price, cost_range_of(job, price, rates)


@pytest.mark.parametrize("key", RANGE_60)
def test_every_figure_of_the_range_worked_out_by_hand(key):
    _, _, cost_range = sixty()
    # a root, and thirds that never end, may differ in the last of 34 digits
    assert abs(cost_range.line.find(key).number - D(RANGE_60[key])) < D("1e-25")


def test_the_figures_and_the_explanation_agree():
    _, price, cost_range = sixty()
    assert cost_range.cost_low == cost_range.line.find("b.lo").number
    assert cost_range.cost_expected == cost_range.line.find("b.cost").number
    assert round(cost_range.price_expected, 4) == cost_range.line.find("b.unit.mid").number
    assert round(cost_range.margin_bad, 4) == cost_range.line.find("b.margin.hi").number
    # the low and high values change nothing about the likely price
    assert price.price_each == D("10.55")


# Source: "Three-point (PERT) estimation with variance", documentation of the diagram tool Schematex
def test_published_three_point_estimate():
    points = three_points(D(8), D(5), D(14))
    assert expected(points) == D("8.5")
    assert spread(points) == D("1.5")


def test_a_step_without_low_and_high_has_no_spread():
    ask, rates, channel = Ask(60), worked_case.rates(), worked_case.channel()
    job = cost_of(worked_case.recipe(), ask, rates, plan_once)
    price = price_for(job, ask, channel, rates)
    cost_range = cost_range_of(job, price, rates)
    assert cost_range.is_certain
    assert cost_range.steps == ()
    assert cost_range.cost_low == cost_range.cost_expected == cost_range.cost_high == job.cost
    assert chance_of_wage(cost_range, price) == 1
    below = price_at(price.floor_each - D("0.05"), job, ask, channel, rates)
    assert chance_of_wage(cost_range, below) == 0


@pytest.mark.parametrize(("low", "high"), [("1.7", "2"), ("1", "1.5")])
def test_points_out_of_order_are_refused(low, high):
    with pytest.raises(BadEstimate):
        three_points(D("1.6"), D(low), D(high))


def test_one_side_may_be_left_open():
    points = three_points(D(4), None, D(10))
    assert (points.low, expected(points), spread(points)) == (4, 5, 1)


def test_the_spread_grows_with_the_pieces_and_is_not_averaged_out():
    rates, channel = small_recipe.rates(), small_recipe.channel()
    folded = small_recipe.recipe(
        steps=(
            RecipeStep("set up", Basis.JOB, D(10), minutes_low=D(4), minutes_high=D(22)),
            RecipeStep("fold", Basis.MADE, D(3), minutes_low=D(2), minutes_high=D(5)),
        )
    )

    def cost_range(quantity):
        job = cost_of(folded, Ask(quantity), rates, small_recipe.sheet_for_each_piece)
        return cost_range_of(job, price_for(job, Ask(quantity), channel, rates), rates)

    # by hand: folding (5 - 2) / 6 = 0.5 min a piece, setting up (22 - 4) / 6 = 3 min a job
    ten, thousand = cost_range(10), cost_range(1000)
    assert [(step.name, step.job_spread) for step in ten.steps] == [("fold", 5), ("set up", 3)]
    told = [ten.line.find(f"b.{step}.sd") for step in ("fold", "set up")]
    assert [(line.number, str(line.how)) for line in told] == [
        (D("0.5"), "(5 - 2) / 6"),
        (D(3), "(22 - 4) / 6"),
    ]
    assert ten.spread_minutes**2 == pytest.approx(D(34), abs=D("1e-20"))
    assert ten.steps[0].doubt_share == pytest.approx(D(25) / 34, abs=D("1e-20"))
    assert thousand.steps[0].job_spread == 500
    # expected: 10 x (2 + 12 + 5) / 6 - 30, and (4 + 40 + 22) / 6 - 10
    assert ten.extra_minutes == pytest.approx(D(10) / 6 + 1, abs=D("1e-25"))


def thrown(estimate_of, *, times=40_000, seed=20):
    """Throw the minutes of the four steps, the same for all 63 bags, and cost each job."""
    job, _, cost_range = sixty()
    dice = random.Random(seed)
    factor, rate = 63 * 0.7359, 0.32
    known = float(job.cost) - factor * 16.1 * rate
    costs = []
    for _ in range(times):
        minutes = sum(
            estimate_of(dice, float(low), float(likely), float(high))
            for (low, high), likely in zip(
                LOW_AND_HIGH.values(), (D("1.6"), D("5.0"), D("3.5"), D("6.0")), strict=True
            )
        )
        costs.append(known + factor * minutes * rate)
    return cost_range, costs


def by_normal(dice, low, likely, high):
    return dice.gauss((low + 4 * likely + high) / 6, (high - low) / 6)


def by_beta(dice, low, likely, high):
    # the beta distribution of PERT: its mean is (low + 4 likely + high) / 6
    width = high - low
    return low + width * dice.betavariate(
        1 + 4 * (likely - low) / width, 1 + 4 * (high - likely) / width
    )


def test_a_simulation_with_the_assumed_spreads_gives_the_range():
    cost_range, costs = thrown(by_normal)
    tenths = quantiles(costs, n=10)
    assert fmean(costs) == pytest.approx(float(cost_range.cost_expected), rel=0.001)
    assert stdev(costs) == pytest.approx(float(cost_range.cost_spread), rel=0.01)
    assert tenths[0] == pytest.approx(float(cost_range.cost_low), rel=0.002)
    assert tenths[8] == pytest.approx(float(cost_range.cost_high), rel=0.002)


def test_a_simulation_with_beta_distributions_is_near_the_range():
    cost_range, costs = thrown(by_beta)
    tenths = quantiles(costs, n=10)
    assert fmean(costs) == pytest.approx(float(cost_range.cost_expected), rel=0.001)
    # the convention's spread is another than the beta distribution's own: 1 % of the cost
    assert tenths[0] == pytest.approx(float(cost_range.cost_low), rel=0.01)
    assert tenths[8] == pytest.approx(float(cost_range.cost_high), rel=0.01)


@pytest.mark.parametrize("each", ["8.00", "8.10", "8.30", "8.50"])
def test_the_chance_that_she_earns_her_wage_is_what_simulated_jobs_say(each):
    job, _, cost_range = sixty()
    price = price_at(D(each), job, Ask(60), worked_case.channel(), worked_case.rates())
    _, costs = thrown(by_normal)
    paid = sum(cost <= float(price.net - price.fees) for cost in costs) / len(costs)
    assert float(chance_of_wage(cost_range, price)) == pytest.approx(paid, abs=0.01)


def test_at_the_expected_cost_it_is_even_odds():
    job, _, cost_range = sixty()
    channel, rates = worked_case.channel(), worked_case.rates()
    even = price_for_chance(D("0.5"), cost_range, job, Ask(60), channel, rates)
    # (393.671324 + 0.40) / 0.979 x 1.20 / 60 = 8.0504..., up to the next 0.05
    assert even.price_each == D("8.10")


@pytest.mark.parametrize("chance", ["0.01", "0.25", "0.5", "0.8", "0.9", "0.99"])
def test_the_price_for_a_chance_reaches_it_and_one_step_less_does_not(chance):
    job, _, cost_range = sixty()
    channel, rates = worked_case.channel(), worked_case.rates()
    price = price_for_chance(D(chance), cost_range, job, Ask(60), channel, rates)
    assert chance_of_wage(cost_range, price) >= D(chance)
    less = price_at(price.price_each - D("0.05"), job, Ask(60), channel, rates)
    assert chance_of_wage(cost_range, less) < D(chance)


@pytest.mark.parametrize("chance", ["0", "1", "-0.1", "1.5"])
def test_certainty_has_no_price(chance):
    job, _, cost_range = sixty()
    with pytest.raises(NoSuchChance):
        price_for_chance(
            D(chance), cost_range, job, Ask(60), worked_case.channel(), worked_case.rates()
        )


def test_one_case_in_ten_is_the_tenth_of_the_normal_distribution():
    assert NormalDist().inv_cdf(0.9) == pytest.approx(1.2816, abs=0.00005)


POINTS = st.tuples(st.integers(0, 100), st.integers(0, 100), st.integers(0, 100)).map(sorted)


@given(st.lists(POINTS, min_size=1, max_size=4), st.integers(1, 200))
def test_expected_and_range_lie_between_all_low_and_all_high(estimates, quantity):
    rates, channel = small_recipe.rates(), small_recipe.channel()

    def costed(place):
        steps = tuple(
            RecipeStep(f"step {number}", Basis.MADE, D(points[place]))
            for number, points in enumerate(estimates)
        )
        made_from = small_recipe.recipe(steps=steps)
        return cost_of(made_from, Ask(quantity), rates, small_recipe.sheet_for_each_piece)

    steps = tuple(
        RecipeStep(f"step {n}", Basis.MADE, D(likely), minutes_low=D(low), minutes_high=D(high))
        for n, (low, likely, high) in enumerate(estimates)
    )
    job = cost_of(
        small_recipe.recipe(steps=steps), Ask(quantity), rates, small_recipe.sheet_for_each_piece
    )
    terms = terms_for(Ask(quantity), channel, rates)
    cost_range = cost_range_of(job, price_for(job, Ask(quantity), channel, rates), rates)
    hair = D("1e-20")
    assert costed(0).cost - hair <= cost_range.cost_expected <= costed(2).cost + hair
    assert cost_range.cost_low <= cost_range.cost_expected <= cost_range.cost_high
    assert abs(terms.shown_each(cost_range.cost_low, quantity) - cost_range.price_low) < hair
    assert abs(sum(step.doubt_share for step in cost_range.steps) - bool(cost_range.steps)) < hair


def test_margins_and_prices_of_the_range_in_their_order():
    _, price, cost_range = sixty()
    # 633.00 / 1.2 = 527.50 net; fees of 254.00 and 379.00: 4.65 + 6.83
    assert (price.net, price.fees) == (D("527.50"), D("11.48"))
    # (527.50 - 11.48 - 393.671324) / 527.50
    assert round(cost_range.margin_expected, 6) == D("0.231941")
    assert cost_range.margin_bad < cost_range.margin_expected
    assert cost_range.price_low < cost_range.price_expected < cost_range.price_high
