"""Jobs of many odd sizes are planned in coarse units: valid, and no worse than rows of pieces."""

from decimal import Decimal

import pytest

from catalogue.calc.cutting.check import check_plan
from catalogue.calc.cutting.coarse import coarsened
from catalogue.calc.cutting.integers import split_into_problems
from catalogue.calc.cutting.planning import plan_cuts
from tests.calc.cutting_jobs import job, piece, sheet


def odd_job(rounds):
    pieces = [
        piece(
            f"p{n}",
            Decimal(10_007 + 3_571 * n % 90_001) / 10_000,
            Decimal(20_011 + 7_919 * n % 70_003) / 10_000,
            200,
        )
        for n in range(40)
    ]
    return job([sheet(width="17", height="19")], pieces, rounds=rounds, time_limit_s=0.3)


def test_coarse_pieces_are_never_smaller_and_coarse_sheets_never_larger():
    (problem,) = split_into_problems(odd_job(3))
    coarse = coarsened(problem)
    wide = Decimal(problem.sheets[0].width) / coarse.sheets[0].width
    high = Decimal(problem.sheets[0].height) / coarse.sheets[0].height
    assert coarse.sheets[0].width <= 300
    for fine, rough in zip(problem.variants, coarse.variants, strict=True):
        assert rough.width * wide >= fine.width
        assert rough.height * high >= fine.height
        assert (rough.width - 1) * wide < fine.width
        assert (rough.height - 1) * high < fine.height


def test_a_piece_as_large_as_its_sheet_keeps_its_place():
    pieces = [piece("whole", "17", "19"), piece("p", "3.0001", "5.0003", 9)]
    (problem,) = split_into_problems(job([sheet(width="17", height="19")], pieces))
    coarse = coarsened(problem)
    assert coarse.sheets[0].variants == problem.sheets[0].variants


def test_a_piece_that_would_fit_nowhere_when_larger_stops_it():
    sheets = [sheet("a", "17", "19"), sheet("b", "10.0001", "10.0001")]
    pieces = [piece("p", "10.0001", "10.0001", on="b"), piece("q", "3", "3", 5)]
    (problem,) = split_into_problems(job(sheets, pieces))
    assert coarsened(problem) is None


@pytest.mark.parametrize("rounds", [1, 3, None])
def test_a_job_of_many_odd_sizes_gets_a_valid_plan(rounds):
    cutting_job = odd_job(rounds)
    plan = plan_cuts(cutting_job)
    check_plan(plan, cutting_job)
    assert plan.lower_bound <= plan.sheet_count
