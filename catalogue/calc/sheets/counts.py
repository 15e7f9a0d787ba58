"""Sheet counts for many sizes of one job, planning only where two bounds leave a doubt.

A list of prices asks how many sheets 1, 2, 3 ... sets of the same pieces take. Most answers
follow from a few plans, because plans of whole sheets add up:

* from above: the sheets of `a` sets and those of `b` sets together hold `a + b` sets, and a plan
  for more sets holds fewer;
* from below: if no plan for M sets takes fewer than k sheets and M - m sets fit on u, then no plan
  for m sets takes fewer than k - u, and more sets never take fewer sheets.

Where the two meet, the count is the fewest possible and no plan is made. Elsewhere the planner is
asked, and its own count stands, proven or not.
"""

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from math import gcd

from catalogue.calc.cutting.job import CuttingJob, SheetPlan
from catalogue.calc.sheets.use import PlanSheets

# beyond so many sets the table of bounds takes longer than it saves
_MOST_SETS = 100_000


@dataclass(slots=True)
class _Family:
    """What is known of the sheets for 0, 1, 2 ... sets of the same pieces."""

    at_most: list[int]
    planned: dict[int, SheetPlan]
    thrifty: int = 0  # the planned size that wastes least, the smallest of equal ones

    def learn(self, sets: int, plan: SheetPlan) -> None:
        """Take in a plan: repeat it, add it to what is known, and use it for fewer sets."""
        most = self.at_most
        while len(most) <= sets:
            most.append(most[-1] + plan.sheet_count)
        for size in range(sets, len(most)):
            with_plan = most[size - sets] + plan.sheet_count
            if with_plan < most[size]:
                most[size] = with_plan
        fewest = most[-1]
        for size in range(len(most) - 2, 0, -1):
            if most[size] > fewest:
                most[size] = fewest
            fewest = most[size]
        self.planned[sets] = plan
        self.thrifty = min(self.thrifty or sets, sets, key=self._waste)

    def _waste(self, size: int) -> tuple[Fraction, int]:
        return Fraction(self.planned[size].sheet_count, size), size

    def fewest(self, sets: int) -> tuple[int, str]:
        """Return a count no plan for so many sets is below, and why."""
        best, reason = 0, ""
        for size, plan in self.planned.items():
            bound = int(plan.lower_bound)
            if size <= sets:
                if bound > best:
                    best = bound
                    reason = f"{size} of {sets} sets need {bound} already"
            elif bound - self.at_most[size - sets] > best:
                rest = self.at_most[size - sets]
                best = bound - rest
                reason = f"{size} sets need {bound}, {size - sets} of them fit on {rest}"
        return best, reason

    def answer(self, sets: int, price: Decimal) -> SheetPlan | None:
        """Return the plan made for so many sets, or their count where the bounds meet."""
        if sets in self.planned:
            return self.planned[sets]
        if sets >= len(self.at_most):
            return None
        fewest, reason = self.fewest(sets)
        if fewest < self.at_most[sets]:
            return None
        return SheetPlan(
            fewest, fewest * price, Decimal(fewest), True, f"{fewest}: {reason}.", 0.0, ()
        )

    def ally_of(self, sets: int) -> int:
        """Return the size whose plan proves most about this one and its like.

        It is the largest size that differs from `sets` by repeats of the plan that wastes least:
        what that plan holds can be taken off it without doubt.
        """
        top = len(self.at_most) - 1
        if sets >= top:
            return sets
        return top - (top - sets) % self.thrifty


class SheetCounts:
    """A planner for lists: answers with counts that are proven, or asks the planner behind it.

    Ask the largest size first: it is what most others are proven by. An answer that was not planned
    has no layouts; it is for counting, not for cutting. `with_layouts` plans every size: where what
    is left of a sheet counts, the count alone will not do.
    """

    def __init__(self, plan_sheets: PlanSheets, *, with_layouts: bool = False) -> None:
        self._plan_sheets = plan_sheets
        self._with_layouts = with_layouts
        self._families: dict[CuttingJob, _Family] = {}
        self.planned = 0

    def __call__(self, job: CuttingJob) -> SheetPlan:
        """Return a plan or, where it is certain without one, a count with its reason."""
        if self._with_layouts:
            return self._plan(job)
        sets = gcd(*(piece.count for piece in job.pieces))
        if len(job.sheets) != 1 or job.sheets[0].available is not None or not 0 < sets < _MOST_SETS:
            return self._plan(job)
        one_set = _times(job, 1, sets)
        family = self._families.setdefault(one_set, _Family([0], {}))
        for size in (family.ally_of(sets), sets):
            answer = family.answer(sets, job.sheets[0].price)
            if answer is not None:
                return answer
            family.learn(size, self._plan(_times(one_set, size, 1)))
        return family.planned[sets]

    def _plan(self, job: CuttingJob) -> SheetPlan:
        self.planned += 1
        return self._plan_sheets(job)


def _times(job: CuttingJob, times: int, over: int) -> CuttingJob:
    pieces = tuple(replace(piece, count=piece.count * times // over) for piece in job.pieces)
    return replace(job, pieces=pieces)
