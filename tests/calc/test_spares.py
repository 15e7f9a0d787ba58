"""Spares against rejects: published binomial and negative binomial values, and a count by hand."""

import random
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.calc.certainty.spares import (
    MOST_PIECES,
    BadRejects,
    chance_of_enough,
    spare_chance,
    spares_for,
)


def test_at_most_four_defects_in_a_hundred():
    # OpenStax (Illowsky, Dean), Introductory Statistics, "Poisson Distribution": binomial with
    # n = 100, p = 0.03: P(X <= 4) = 0.8179
    assert chance_of_enough(96, 100, 0.03) == pytest.approx(0.8179, abs=5e-5)


def test_a_sale_on_the_tenth_visit_and_by_the_eighth():
    # Boost C++ Math documentation, negative binomial example 1: 5 sales at 0.4 a visit: finished
    # exactly on visit 10: 0.1003290624; by visit 8: 0.1736704
    by = {visits: chance_of_enough(5, visits, 0.6) for visits in (8, 9, 10)}
    assert by[8] == pytest.approx(0.1736704, abs=1e-10)
    assert by[10] - by[9] == pytest.approx(0.1003290624, abs=1e-10)


def test_two_good_ones_by_hand():
    # half are spoiled: both of two 1/4, two of three 1/2, two of four 11/16
    assert [chance_of_enough(2, made, 0.5) for made in (1, 2, 3, 4)] == [0, 0.25, 0.5, 0.6875]
    assert spares_for(2, 0.5, 0.5) == 1
    assert spares_for(2, 0.5, 0.51) == 2


def test_it_is_what_batches_really_do():
    lots, batches, enough = random.Random(7), 20_000, 0
    for _ in range(batches):
        good = sum(lots.random() >= 0.04 for _ in range(63))
        enough += good >= 60
    assert chance_of_enough(60, 63, 0.04) == pytest.approx(enough / batches, abs=0.01)


@given(
    good=st.integers(1, 2_000),
    share=st.floats(0, 0.5),
    wanted=st.floats(0.05, 0.99),
)
def test_the_fewest_spares_reach_the_chance_and_one_less_does_not(good, share, wanted):
    found = spare_chance(good, 0, share, wanted)
    assert chance_of_enough(good, good + found.spares_wanted, share) >= wanted - 1e-9
    if found.spares_wanted:
        assert chance_of_enough(good, good + found.spares_wanted - 1, share) < wanted + 1e-9


def test_a_huge_batch_is_answered():
    # about normal: 41,680 rejects with a spread of 200, and 42,000 are 1.6 spreads above that:
    # 0.945 of the standard normal distribution lies below that
    below = NormalDist(41_680, 200).cdf(42_000)
    assert chance_of_enough(1_000_000, 1_042_000, 0.04) == pytest.approx(below, abs=0.002)


@pytest.mark.parametrize(
    ("good", "share", "wanted"),
    [(0, 0.1, 0.9), (10_000_001, 0, 0.9), (5, 1, 0.9), (5, -0.1, 0.9), (5, 0.1, 1)],
)
def test_what_cannot_be_is_refused(good, share, wanted):
    with pytest.raises(BadRejects):
        spares_for(good, share, wanted)


def test_any_chance_is_reached_without_spares_and_a_certain_one_never():
    assert spares_for(5, 0.3, 0) == 0
    for wanted in (-0.01, 1):
        with pytest.raises(BadRejects, match="below 100"):
            spares_for(5, 0.3, wanted)


def test_without_rejects_as_many_as_are_wanted_are_certain():
    assert chance_of_enough(5, 5, 0.0) == chance_of_enough(5, 9, 0.0) == 1.0
    found = spare_chance(2, 1, 0.5, 0.51)
    # by hand, as above: two of three 1/2; two of four 11/16
    assert (found.spares, found.chance, found.wanted, found.spares_wanted) == (1, 0.5, 0.51, 2)


def test_the_largest_batch_without_rejects_needs_no_spares():
    assert spares_for(MOST_PIECES, 0, 0.9) == 0
