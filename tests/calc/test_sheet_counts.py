"""Sheet counts worked out without a plan are those a plan gives, in a fraction of the plans."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.calc.cutting.job import SheetPlan
from catalogue.calc.cutting.planning import CuttingJob, PieceKind, SheetKind, plan_cuts
from catalogue.calc.recipes.parts_list import parts_for
from catalogue.calc.sheets.counts import SheetCounts
from catalogue.calc.sheets.use import sheets_for
from tests.calc import worked_case

SHEET = SheetKind("card", Decimal(12), Decimal(12), Decimal("0.75"))


def job_of(sets, *pieces, sheet=SHEET):
    return CuttingJob(
        (sheet,),
        tuple(
            PieceKind(f"piece {number}", Decimal(width), Decimal(height), count * sets, turn)
            for number, (width, height, count, turn) in enumerate(pieces)
        ),
    )


HANDLES_AND_TAG = [("11", "0.75", 2, False), ("1.5", "2.5", 1, False)]


def test_every_count_of_a_list_is_the_count_of_its_own_plan():
    counts = SheetCounts(plan_cuts)
    counts(job_of(80, *HANDLES_AND_TAG))
    for sets in range(1, 81):
        job = job_of(sets, *HANDLES_AND_TAG)
        counted, planned = counts(job), plan_cuts(job)
        assert planned.proven
        assert counted.proven
        assert counted.sheet_count == planned.sheet_count == counted.lower_bound
        assert counted.cost == planned.cost
    assert counts.planned < 40


def test_the_order_of_asking_does_not_matter():
    upwards, downwards = SheetCounts(plan_cuts), SheetCounts(plan_cuts)
    jobs = [job_of(sets, *HANDLES_AND_TAG) for sets in range(1, 31)]
    up = [upwards(job).sheet_count for job in jobs]
    down = [downwards(job).sheet_count for job in reversed(jobs)]
    assert up == down[::-1]


PIECES = st.lists(
    st.tuples(
        st.integers(2, 24).map(lambda halves: str(Decimal(halves) / 2)),
        st.integers(2, 24).map(lambda halves: str(Decimal(halves) / 2)),
        st.integers(1, 3),
        st.booleans(),
    ),
    min_size=1,
    max_size=3,
)


@settings(deadline=None, max_examples=25)
@given(PIECES, st.lists(st.integers(1, 24), min_size=1, max_size=8))
def test_what_is_proven_by_other_plans_is_what_a_proven_plan_says(pieces, asked):
    counts = SheetCounts(lambda job: plan_cuts(replace(job, time_limit_s=0.3)))
    for sets in asked:
        job = job_of(sets, *pieces)
        counted = counts(job)
        planned = plan_cuts(replace(job, time_limit_s=0.3))
        # a plan that is not proven may be beaten by one put together from others
        assert counted.sheet_count >= planned.lower_bound
        if planned.proven:
            assert counted.sheet_count == planned.sheet_count or not counted.proven


def wasteful(job):
    """A planner that proves nothing: two sheets for every set, one as the bound."""
    sets = job.pieces[0].count
    return SheetPlan(2 * sets, Decimal(2 * sets), Decimal(sets), False, "unsure", 0.0, ())


def test_where_nothing_is_proven_the_planner_is_asked_every_time():
    counts = SheetCounts(wasteful)
    found = [counts(job_of(sets, ("6", "6", 1, True))) for sets in range(1, 11)]
    assert [plan.sheet_count for plan in found] == [2 * sets for sets in range(1, 11)]
    assert not any(plan.proven for plan in found)
    assert counts.planned == 10


def test_several_kinds_of_sheet_or_few_of_one_are_planned_as_they_are():
    few = replace(SHEET, available=3)
    small = replace(SHEET, name="small", width=Decimal(6))
    counts = SheetCounts(plan_cuts)
    for job in (
        job_of(2, ("6", "6", 1, True), sheet=few),
        replace(job_of(2, ("6", "6", 1, True)), sheets=(SHEET, small)),
    ):
        assert counts(job).layouts
        assert counts(job).layouts
    assert counts.planned == 4


@pytest.mark.parametrize("quantity", [12, 60, 250])
def test_the_worked_case_takes_the_sheets_of_its_hand_made_proof(quantity):
    counts = SheetCounts(plan_cuts)
    recipe = worked_case.recipe()
    for asked in (250, 59, quantity):
        uses = sheets_for(parts_for(recipe, asked), gap_mm=recipe.gap_mm, plan_sheets=counts)
    case = worked_case.CASE["cases"][str(quantity)]
    assert {use.role: use.sheets for use in uses} == {role: case[f"sh.{role}"] for role in "PQRST"}
