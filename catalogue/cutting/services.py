"""Cutting plans, remembered by their content so that a price answers at once."""

from functools import lru_cache

from catalogue.calc.cutting import CuttingJob, CuttingPlan, plan_cuts


@lru_cache(maxsize=4096)
def plan_sheets(job: CuttingJob) -> CuttingPlan:
    """Return the plan for a job; the same job is only ever planned once by this process.

    A job is a value made of numbers only, so nothing that changes in the database can make
    a remembered plan wrong.
    """
    return plan_cuts(job)
