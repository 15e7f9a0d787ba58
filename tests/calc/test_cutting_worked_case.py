"""The sheet counts of one favour bag, from a single bag to 260, with their proofs.

The bag and its sizes are invented. The counts are proved by hand: bodies can only be stacked two to
a sheet; pockets lie 2 x 3; handles and rows of tags add up in height; squares lie 6 x 6 and 5 x 3.
"""

from decimal import Decimal

import pytest

from catalogue.calc.cutting.check import check_plan
from catalogue.calc.cutting.planning import plan_cuts
from tests.calc.cutting_jobs import job, piece, sheet
from tests.work import work_of

COUNTS = {
    1: (1, 1, 1, 1, 1),
    13: (7, 3, 3, 1, 1),
    63: (32, 11, 10, 4, 5),
    260: (130, 44, 40, 15, 18),
}
PATTERNED, KRAFT, STRIPED, MIRROR, FOAM = range(5)


def bag_sheets():
    return [
        sheet("patterned"),
        sheet("kraft"),
        sheet("striped"),
        sheet("mirror"),
        sheet("foam", "9", "6"),
    ]


def bag_pieces(bags):
    return [
        piece("body", "8.5", "5.5", bags, on="patterned"),
        piece("lid", "2.5", "3.5", bags, on="patterned"),
        piece("panel", "1.75", "1.75", bags, on="patterned"),
        piece("pocket", "5.5", "3.5", bags, on="kraft"),
        piece("flap", "2", "1", bags, on="kraft"),
        piece("handle", "11", "0.75", 2 * bags, on="striped"),
        piece("tag", "1.5", "2.5", bags, on="striped"),
        piece("badge", "1.75", "1.75", 2 * bags, may_turn=True, on="mirror"),
        piece("core", "1.75", "1.75", bags, may_turn=True, on="foam"),
    ]


def job_for(bags, which):
    chosen = bag_sheets()[which]
    return job([chosen], [piece for piece in bag_pieces(bags) if piece.sheet == chosen.name])


@pytest.mark.parametrize("bags", COUNTS)
@pytest.mark.parametrize("which", [PATTERNED, KRAFT, STRIPED, MIRROR, FOAM])
def test_each_material_takes_the_fewest_sheets_and_says_why(bags, which):
    cutting_job = job_for(bags, which)
    plan = plan_cuts(cutting_job)
    check_plan(plan, cutting_job)
    assert plan.sheet_count == COUNTS[bags][which]
    assert plan.lower_bound == plan.sheet_count
    assert plan.proven


@pytest.mark.parametrize("bags", COUNTS)
def test_all_materials_in_one_job_are_planned_apart(bags):
    cutting_job = job(bag_sheets(), bag_pieces(bags))
    plan = plan_cuts(cutting_job)
    check_plan(plan, cutting_job)
    assert tuple(plan.sheets_of(kind.name) for kind in bag_sheets()) == COUNTS[bags]
    assert plan.proven


def test_the_reason_for_bodies_is_that_they_can_only_be_stacked():
    reason = plan_cuts(job_for(63, PATTERNED)).reason
    assert "more than half as wide as the sheet" in reason
    assert "at most 2 fit on a sheet" in reason


def test_the_reason_for_handles_and_tags_is_their_height_in_rows():
    reason = plan_cuts(job_for(63, STRIPED)).reason
    assert "add up to 114.5 of height" in reason
    assert "114.5 / 12 = 9.54" in reason


def test_the_work_does_not_grow_with_the_number_of_bags():
    plans = []
    small, large = (
        work_of(lambda bags=bags: plans.append(plan_cuts(job(bag_sheets(), bag_pieces(bags)))))
        for bags in (63, 260 * 50)
    )
    assert all(plan.proven for plan in plans)
    assert large.calls < 2 * small.calls
    assert large.peak_bytes < 2 * small.peak_bytes


def test_equal_plans_are_told_with_few_layouts():
    """260 bags: two bodies, lids and panels on every sheet, as one would plan it by hand."""
    (layout,) = plan_cuts(job_for(260, PATTERNED)).layouts
    assert layout.times == 130
    assert layout.slack >= Decimal("0.5")


def test_what_is_too_many_is_left_off_one_sheet():
    plan = plan_cuts(job_for(260, MIRROR))
    assert [(layout.times, len(layout.placements)) for layout in plan.layouts] == [
        (14, 36),
        (1, 16),
    ]
    assert max(offcut.height for offcut in plan.layouts[1].offcuts) > 5
