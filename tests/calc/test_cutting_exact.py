"""Small random jobs against the least cost that a general solver finds with an exact model."""

import random
from decimal import Decimal
from fractions import Fraction

import pytest

from catalogue.calc.cutting.check import check_plan
from catalogue.calc.cutting.planning import NotEnoughSheets, plan_cuts
from tests.calc.cutting_jobs import job, piece, sheet
from tests.calc.exact_cutting import least_cost


def random_job(seed):
    rng = random.Random(seed)
    eighths = lambda low, high: str(Decimal(rng.randint(low, high)) / 8)  # noqa: E731
    kinds_of_sheet = rng.choice([1, 1, 2, 3])
    sheets = [
        sheet(
            f"s{number}",
            eighths(40, 96),
            eighths(40, 96),
            price=rng.choice(["0.30", "0.75", "0.52", "1.20"]),
            trim=rng.choice(["0", "0", "0.25"]),
            available=rng.choice([None, None, None, 2]),
        )
        for number in range(kinds_of_sheet)
    ]
    copies = rng.randint(4, 7)
    pieces = []
    while copies > 0:
        count = rng.randint(1, min(3, copies))
        copies -= count
        pieces.append(
            piece(
                f"p{len(pieces)}",
                eighths(10, 38),
                eighths(10, 38),
                count,
                may_turn=rng.random() < 0.5,
                on="s0" if rng.random() < 0.15 else None,
            )
        )
    return job(
        sheets, pieces, gap=rng.choice(["0", "0", "0.125"]), rounds=rng.choice([1, 2, 3, 3, 3])
    )


@pytest.mark.parametrize("seed", range(60))
def test_a_small_job_costs_what_the_exact_model_says(seed):
    cutting_job = random_job(seed)
    least = least_cost(cutting_job)
    if least is None:
        with pytest.raises(NotEnoughSheets):
            plan_cuts(cutting_job)
        return
    plan = plan_cuts(cutting_job)
    check_plan(plan, cutting_job)
    value = plan.sheet_count if len(cutting_job.sheets) == 1 else plan.cost
    assert Fraction(plan.lower_bound) <= least
    assert Fraction(value) == least


def test_the_exact_model_knows_what_the_rounds_allow():
    """Counted by hand: the corner fills its sheet only in three rounds, four squares in two."""
    corner = [piece("c", "1", "2"), piece("d", "1", "1", 2), piece("e", "2", "1")]
    sheets = [sheet("s", "2", "3")]
    assert [least_cost(job(sheets, corner, rounds=rounds)) for rounds in (1, 2, 3)] == [2, 2, 1]
    assert least_cost(job([sheet("s", "2", "3", available=1)], corner, rounds=2)) is None
    four = [piece("d", "1", "1", 4)]
    assert [least_cost(job([sheet("s", "2", "2")], four, rounds=n)) for n in (1, 2)] == [2, 1]
    # five pieces fill 3 x 3 only as a pinwheel, which no cut from edge to edge parts
    pinwheel = [
        piece("flat", "2", "1", 2),
        piece("tall", "1", "2", 2),
        piece("middle", "1", "1", 1),
    ]
    assert least_cost(job([sheet("s", "3", "3")], pinwheel)) == 2
