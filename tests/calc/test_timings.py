"""Timed runs: minutes of one piece, the smoothed standard, and when there are enough of them."""

import random
from decimal import Decimal
from statistics import NormalDist, fmean, pstdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.calc.recipes.recipe import Learning
from pricing.calc.costing.learning import learning_factor
from pricing.calc.price.ingredients import Work
from pricing.calc.times.timings import (
    Z_95,
    BadTiming,
    Run,
    believed_change,
    runs_needed,
    smoothed,
    time_step,
    timing_drift,
)
from pricing.calc.times.variances import variance_of

D = Decimal


def test_95_of_100_lie_within_the_usual_spreads():
    assert round(D(NormalDist().inv_cdf(0.975)), 2) == Z_95


def runs(*pairs):
    return [Run(count, D(minutes)) for count, minutes in pairs]


def test_three_batches_by_hand():
    # 6.0 min; 12 in 84 = 7.0, 10 in 65 = 6.5, 20 in 150 = 7.5
    found = time_step("finish", D("6.0"), runs((12, 84), (10, 65), (20, 150)))
    # 6 + 0.3 x 1 = 6.3; + 0.3 x 0.2 = 6.36; + 0.3 x 1.14 = 6.702
    assert found.likely == D("6.702")
    assert (found.low, found.high) == (D("6.5"), D("7.5"))
    assert found.average == 7
    assert found.spread == D("0.5")
    assert found.change == D("0.117")
    assert found.is_believed
    # (1.96 x 0.5 / (0.05 x 7))^2 = 7.84
    assert found.runs_needed == 8
    assert len(found.line.lines) == 3


def test_runs_of_fewer_than_five_pieces_are_ignored():
    found = time_step("fold", D(3), runs((4, 40), (5, 20)))
    assert [run.count for run in found.used] == [5]
    assert [run.count for run in found.ignored] == [4]
    assert found.average == 4
    # work that is not done by the piece is timed one by one
    assert len(time_step("set up", D(15), runs((1, 20), (1, 12)), least=1).used) == 2


def test_two_batches_are_no_trend():
    found = time_step("fold", D(3), runs((10, 40), (10, 42)))
    assert not found.is_believed
    assert "at least 3 batches are needed" in str(found.line.how)


def test_nothing_timed_leaves_the_standard():
    found = time_step("fold", D(3), [])
    assert (found.low, found.likely, found.high, found.change) == (3, 3, 3, 0)
    assert found.average is found.spread is found.runs_needed is None
    assert not found.is_believed


def test_a_step_without_minutes_takes_the_first_batch_as_it_is():
    assert time_step("new", D(0), runs((10, 20), (10, 30))).likely == D("2.3")
    assert smoothed(D(0), D(2)) == 2


def test_a_batch_that_learns_is_laid_beside_the_first_piece():
    # 63 bags at 95 % take 0.7359 of the first one's minutes: exactly as the recipe expects
    factor = learning_factor(63, model=Learning.CUMULATIVE, rate=D("0.95"), floor=D("0.7")).factor
    as_planned = Run(63, 63 * 6 * factor, factor)
    found = time_step("finish", D(6), [as_planned] * 3)
    assert found.likely == 6
    assert found.change == 0


@pytest.mark.parametrize("bad", [Run(0, D(1)), Run(5, D(-1)), Run(5, D(1), D(0))])
def test_runs_that_cannot_be_are_refused(bad):
    with pytest.raises(BadTiming):
        time_step("fold", D(3), [bad])


@given(
    st.decimals("0.1", 60, places=2),
    st.lists(st.tuples(st.integers(5, 99), st.decimals(1, 900, places=1)), max_size=12),
)
def test_the_standard_stays_between_what_it_was_and_what_was_timed(standard, timed):
    found = time_step("fold", standard, [Run(count, minutes) for count, minutes in timed])
    each = [minutes / count for count, minutes in timed]
    hair = D("1e-20")
    assert min([standard, *each]) - hair <= found.likely <= max([standard, *each]) + hair
    assert found.low <= found.likely <= found.high


@given(st.decimals("0.5", 20, places=2), st.decimals("0.5", 20, places=2))
def test_the_same_minutes_again_and_again_become_the_standard(standard, timed):
    found = time_step("fold", standard, [Run(10, timed * 10)] * 60)
    # 0.7 ^ 60 of the difference is left
    assert abs(found.likely - timed) < D("1e-7")


def test_enough_runs_by_the_advice_give_an_average_good_to_five_percent():
    # thrown: runs of 8 minutes with a spread of 1.5; nineteen averages in twenty are within 5 %
    dice = random.Random(5)
    n = runs_needed([D("6.5"), D("9.5"), D("8")])
    assert n == 55  # (1.96 x 1.5 / (0.05 x 8))^2 = 54.02
    averages = [fmean(dice.gauss(8, 1.5) for _ in range(n)) for _ in range(4000)]
    assert sum(abs(x - 8) <= 0.4 for x in averages) / 4000 == pytest.approx(0.95, abs=0.015)
    assert pstdev(averages) == pytest.approx(1.5 / n**0.5, rel=0.05)


def test_equal_runs_need_no_more_and_one_run_says_nothing():
    assert runs_needed([D(4), D(4)]) == 1
    for timed in ([D(4)], [D(0), D(0)]):
        with pytest.raises(BadTiming):
            runs_needed(timed)


def test_the_minutes_of_a_job_move_by_the_weight_of_the_steps():
    work = [Work("fold", D(30)), Work("finish", D(60)), Work("pack", D(10))]
    # finish 20 % slower: 12 of 100 minutes; fold 10 % faster: 3
    assert timing_drift(work, {"finish": D("0.2"), "fold": D("-0.1")}) == D("0.09")
    assert timing_drift([], {"fold": D(1)}) == 0


def test_the_edges_of_what_timings_take():
    two = time_step("fold", D(3), runs((5, 15), (5, 20)))
    assert two.runs_needed is not None
    # 3 and 4 min: half a minute from their average on both sides, over n - 1
    assert round(two.spread, 6) == D("0.707107")
    assert time_step("press", D(3), runs((5, "0"), (5, "0.5"))).average == D("0.05")
    with pytest.raises(BadTiming):
        runs_needed([D(3), D(4)], accuracy=D(0))


def test_what_was_dearer_by_price_and_by_amount_is_all_that_was_dearer():
    found = variance_of(
        "card",
        planned_amount=D(10),
        planned_price=D("2.00"),
        actual_amount=D(12),
        actual_price=D("2.50"),
    )
    # (2.50 - 2.00) x 12 and (12 - 10) x 2.00; 30.00 instead of 20.00
    assert (found.by_price, found.by_amount, found.total) == (6, 4, 10)
    assert found.line.number == 10


@given(
    st.decimals("0", "60", places=4),
    st.lists(
        st.builds(
            Run,
            st.integers(1, 40),
            st.decimals("0.01", "600", places=2),
            st.decimals("0.2", "1", places=4),
        ),
        max_size=7,
    ),
    st.sampled_from([1, 5]),
)
def test_what_is_believed_of_a_list_is_what_a_step_says(standard, timed, least):
    found = time_step("fold", standard, timed, least=least)
    change = believed_change(standard, timed, least=least)
    assert change == (found.change if found.is_believed else None)
