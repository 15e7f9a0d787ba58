"""Cutting lengths from reels: published examples with one length, and bounds checked by hand."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.calc.cutting.check import check_plan
from catalogue.calc.cutting.planning import plan_cuts
from tests.calc.cutting_jobs import job, piece, sheet


def reel_job(length, wanted, *, time_limit_s=5.0):
    pieces = [piece(f"{long} long", str(long), "1", count) for long, count in wanted.items()]
    return job([sheet("reel", str(length), "1")], pieces, time_limit_s=time_limit_s)


# The example of the English Wikipedia's article "Cutting-stock problem" (data and optimum as told
# there, read November 2026): rolls 5600 mm wide, 73 of them, and no fewer.
PAPER_ROLLS = {
    1380: 22,
    1520: 25,
    1560: 12,
    1710: 14,
    1820: 18,
    1880: 18,
    1930: 20,
    2000: 10,
    2050: 12,
    2100: 14,
    2140: 16,
    2150: 18,
    2200: 20,
}

# V. Chvatal, Linear Programming (1983), chapter 13, as printed in the JuMP notebook on cutting
# stock and in the GAMS model library (cutstock): rolls 100 inches wide. That fewer than 453 cannot
# do is shown by hand: count 45 and 36 as a half, 31 as a quarter, 14 as nothing.
INCH_ROLLS = {45: 97, 36: 610, 31: 395, 14: 211}


@pytest.mark.parametrize(
    ("length", "wanted", "fewest"), [(5600, PAPER_ROLLS, 73), (100, INCH_ROLLS, 453)]
)
def test_published_examples(length, wanted, fewest):
    cutting_job = reel_job(length, wanted)
    plan = plan_cuts(cutting_job)
    check_plan(plan, cutting_job)
    assert (plan.sheet_count, plan.lower_bound, plan.proven) == (fewest, fewest, True)


def test_the_hand_made_bound_of_the_inch_rolls_holds():
    shares = {45: Fraction(1, 2), 36: Fraction(1, 2), 31: Fraction(1, 4), 14: Fraction(0)}
    most = max(
        a * shares[45] + b * shares[36] + c * shares[31]
        for a in range(3)
        for b in range(3)
        for c in range(4)
        if 45 * a + 36 * b + 31 * c <= 100
    )
    assert most == 1
    assert sum(count * shares[long] for long, count in INCH_ROLLS.items()) == Fraction("452.25")


def test_the_end_lost_on_a_reel_is_its_trim():
    """1000 with 50 lost at each end leaves 900: three of 300 go in, without a gap."""
    reel = sheet("reel", "1000", "101", trim="50")
    plan = plan_cuts(job([reel], [piece("ribbon", "300", "1", 9)]))
    assert plan.sheet_count == 3
    with_gap = plan_cuts(job([reel], [piece("ribbon", "300", "1", 9)], gap="1"))
    assert with_gap.sheet_count == 5


def fewest_by_trying(length, sizes):
    """Return the fewest reels for a few pieces, by trying to put each into every open reel."""
    best = len(sizes)

    def put(at, free):
        nonlocal best
        if len(free) >= best:
            return
        if at == len(sizes):
            best = len(free)
            return
        for reel in sorted(set(free)):
            if reel >= sizes[at]:
                rest = list(free)
                rest.remove(reel)
                put(at + 1, [*rest, reel - sizes[at]])
        put(at + 1, [*free, length - sizes[at]])

    put(0, [])
    return best


@settings(max_examples=60, deadline=None)
@given(
    st.integers(8, 30),
    st.dictionaries(st.integers(2, 15), st.integers(1, 3), min_size=1, max_size=4),
)
def test_a_few_lengths_take_as_few_reels_as_trying_finds(length, wanted):
    wanted = {min(long, length): count for long, count in wanted.items()}
    cutting_job = reel_job(length, wanted)
    plan = plan_cuts(cutting_job)
    check_plan(plan, cutting_job)
    sizes = sorted((long for long, count in wanted.items() for _ in range(count)), reverse=True)
    assert plan.sheet_count == fewest_by_trying(length, sizes)
    assert plan.lower_bound <= plan.sheet_count


@pytest.mark.parametrize("times", [10, 250])
def test_many_lengths_of_ribbon_are_proven_whatever_the_number(times):
    wanted = {25: 4 * times, 40: 3 * times, 62: 2 * times, 110: times}
    plan = plan_cuts(reel_job(500, wanted))
    total = sum(long * count for long, count in wanted.items())
    assert plan.proven
    assert plan.sheet_count >= -(-total // 500)
    assert plan.cost == Decimal(plan.sheet_count)
