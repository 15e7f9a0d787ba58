"""Offcuts that cost nothing and are few do not weaken what is known about the sheets to be paid."""

from decimal import Decimal

import pytest

from catalogue.calc.cutting.bounds import best_simple_bound, next_reachable_cost, worth_bound
from catalogue.calc.cutting.check import check_plan
from catalogue.calc.cutting.integers import split_into_problems
from catalogue.calc.cutting.planning import plan_cuts
from tests.calc.cutting_jobs import job, piece, sheet

SMALL, LARGE = sheet("small", "12", "12", "0.75"), sheet("large", "24", "12", "1.20")


def offcut(width, height, available=1):
    return sheet("offcut", width, height, "0", available)


def problem_of(sheets, pieces):
    (problem,) = split_into_problems(job(sheets, pieces))
    return problem


@pytest.mark.parametrize(("least", "reached"), [(0, 0), (1, 5), (5, 5), (6, 8), (9, 10), (14, 15)])
def test_a_bound_is_rounded_up_to_a_sum_of_the_prices_that_are_paid(least, reached):
    """Prices are 5 and 8 times 0.15; 13 and 15 are sums of them, 14 is none."""
    problem = problem_of([SMALL, LARGE, offcut("8", "8")], [piece("a", "7", "7", 3)])
    assert next_reachable_cost(problem, least) == reached


def test_sheets_that_all_cost_nothing_have_no_sum_to_round_to():
    problem = problem_of([offcut("8", "8"), sheet("more", "9", "9", "0")], [piece("a", "7", "7")])
    assert next_reachable_cost(problem, 0) == 0


def test_the_area_an_offcut_cannot_take_has_to_be_paid():
    """288 square inches, 96 of them free: 192 / 144 x 0.75 = 1.00, and 1.20 is the next sum."""
    problem = problem_of([SMALL, LARGE, offcut("8", "12")], [piece("a", "6", "4", 12)])
    bound = best_simple_bound(problem)
    assert bound.value * problem.price_unit == Decimal("1.20")


def test_a_worth_a_little_above_the_scarcity_of_a_free_sheet_still_gives_a_bound():
    """Rounding leaves the offcut worth one part more than its scarcity; two of three are paid."""
    problem = problem_of([SMALL, offcut("8", "8")], [piece("a", "7", "7", 3)])
    bound = worth_bound(problem, [1000], [0, 999], [1000, 1000], 1)
    assert bound.value == 2


@pytest.mark.parametrize(
    ("sheets", "pieces", "cost"),
    [
        # two of three are left to be paid, and a large sheet takes both
        ([SMALL, LARGE, offcut("8", "8")], [piece("a", "7", "7", 3)], "1.20"),
        # the offcuts take four; six are left: a large sheet takes three
        ([SMALL, LARGE, offcut("8", "8", 4)], [piece("a", "7", "7", 10)], "2.40"),
        # 63 bodies, 2 on a sheet, but one on each offcut: 61 / 2 = 30.5
        ([SMALL, offcut("9", "6", 2)], [piece("body", "8.5", "5.5", 63)], "23.25"),
        # everything fits on the offcut
        ([SMALL, LARGE, offcut("9", "6")], [piece("body", "8.5", "5.5")], "0"),
    ],
)
def test_jobs_with_free_offcuts_are_proven(sheets, pieces, cost):
    cutting_job = job(sheets, pieces)
    plan = plan_cuts(cutting_job)
    check_plan(plan, cutting_job)
    assert plan.cost == Decimal(cost)
    assert plan.proven
