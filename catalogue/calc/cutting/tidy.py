"""Makes a plan easy to work with: of plans with the same cost, one with few layouts and cuts.

What is left over is then gathered in large offcuts. The cost never changes for the worse.
"""

from __future__ import annotations

import math
from dataclasses import replace

from catalogue.calc.cutting.bounded import BoundedFiller
from catalogue.calc.cutting.few import FewLayouts
from catalogue.calc.cutting.gather import gathered
from catalogue.calc.cutting.generation import generate, make_fillers
from catalogue.calc.cutting.integers import CuttingProblem
from catalogue.calc.cutting.master import Master
from catalogue.calc.cutting.merit import Handler
from catalogue.calc.cutting.patterns import SheetFiller
from catalogue.calc.cutting.spare import keep_spare_together
from catalogue.calc.cutting.start import Use, cost_of, sheets_used
from catalogue.calc.cutting.state import SearchState
from catalogue.calc.cutting.surplus import drop_surplus

# with more kinds the sums over the pool take long and seldom find anything
MOST_KINDS = 20
# plans with more layouts are used as they are
MOST_LAYOUTS = 60
CHOOSING_SECONDS = 0.3
MOST_POOL = 100


def tidied(state: SearchState, plan: list[Use]) -> list[Use]:
    """Return the plan or a better one of the same cost."""
    if len(plan) > MOST_LAYOUTS:
        return plan
    state.tell("Looking for fewer layouts")
    problem = state.problem
    fillers = make_fillers(state)
    handler = Handler(problem, fillers, state.is_over)
    plans = [plan]
    if len(plan) > 1 and len(problem.counts) <= MOST_KINDS:
        few = FewLayouts(problem, fillers, state.is_over)
        plans.append(few.anew(plan) or plan)
        plans += _chosen(state, plan, fillers, few)
        plans.append(few.combined(min(plans, key=len)))
    cost = cost_of(plan, problem)
    plans = [one for one in plans if cost_of(one, problem) <= cost]
    best = min(plans, key=lambda one: (cost_of(one, problem), handler.merit(one)))
    bounded = [filler for filler in fillers if isinstance(filler, BoundedFiller)]
    best = gathered(problem, bounded, handler, best, state.is_over)
    best = [(handler.laid(filling)[0], times) for filling, times in best]
    return best if state.is_over() else keep_spare_together(problem, best, handler, state.course)


def _chosen(
    state: SearchState, plan: list[Use], fillers: list[SheetFiller], few: FewLayouts
) -> list[list[Use]]:
    """Return plans with few layouts over the fillings known, those just made among them."""
    if len(plan) <= 2 or state.is_over():
        return []
    whole = state.problem
    common = math.gcd(*whole.counts, *sheets_used(plan, whole))
    problem = _part(whole, common)
    master = Master(problem, state.course)
    for filling, _ in plan:
        master.add(filling)
    generate(SearchState(problem, state.deadline, state.course), master, fillers, on_and_on=True)
    plans: list[list[Use]] = []
    below = len(plan)
    just_made = [filling for filling in few.made.values() if filling is not None]
    for more in ([], just_made[:MOST_POOL]):
        for filling in more:
            master.add(filling)
        found = master.solve_few_layouts(
            cost=cost_of(plan, whole) // common,
            below=below,
            seconds=min(CHOOSING_SECONDS, state.time_left()),
        )
        if found is not None:
            below = len(found)
            times_more = [(filling, times * common) for filling, times in found]
            plans.append(drop_surplus(times_more, whole))
    return plans


def _part(problem: CuttingProblem, common: int) -> CuttingProblem:
    """Return the job a number of times smaller; its plans, used as many times, make the whole."""
    sheets = tuple(
        replace(sheet, available=None if sheet.available is None else sheet.available // common)
        for sheet in problem.sheets
    )
    counts = tuple(count // common for count in problem.counts)
    return replace(problem, sheets=sheets, counts=counts)
