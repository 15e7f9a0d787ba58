"""Finds a cheap plan for one cutting problem together with a bound that no plan can beat.

Methods from cheap to dear are tried until the plan meets the bound: greedy plans, all plans of a
small job, column generation with a whole-number programme over the fillings found, plans made sheet
by sheet, plans for what rounding leaves, a list of all fillings worth using, and sheets filled anew
with one sheet less. The effort depends on the number of different pieces, hardly on how many of
each are wanted. The plan is made easy to work with at the end (cutting_tidy).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from catalogue.calc.cutting.bounded import BoundedFiller
from catalogue.calc.cutting.bounds import Bound
from catalogue.calc.cutting.coarse import coarsened
from catalogue.calc.cutting.generation import filling_of, generate, make_fillers
from catalogue.calc.cutting.greedy import plan_largest_first
from catalogue.calc.cutting.integers import CuttingProblem
from catalogue.calc.cutting.job import NotEnoughSheets
from catalogue.calc.cutting.listing import choose_from_list, good_fillings
from catalogue.calc.cutting.master import LinearAnswer, Master
from catalogue.calc.cutting.one_by_one import plans_one_by_one
from catalogue.calc.cutting.patterns import SheetFiller
from catalogue.calc.cutting.repair import try_one_sheet_less
from catalogue.calc.cutting.rounding import round_in_many_ways
from catalogue.calc.cutting.small import MOST_COVERED, OutOfReach, SheetParts
from catalogue.calc.cutting.start import Use, cost_of, plan_in_rows
from catalogue.calc.cutting.state import SearchState, Tell
from catalogue.calc.cutting.surplus import rest_of
from catalogue.calc.cutting.tidy import tidied
from catalogue.calc.cutting.watch import Course

MOST_DEPTH = 3
FEW_PARTS = 1_500
FEW_TURNS = 60
MOST_TURNS = 300
# kept back for making the plan easy to work with, where the search would take all the time
TIDYING_SHARE = 0.05
TIDYING_SECONDS = 0.25
MOST_SHAKES = 60
FEW_SHEETS = 4
FEW_REPAIRS = 1_500
MOST_REPAIRS = 40_000


@dataclass(frozen=True, slots=True)
class Found:
    """A plan with exact counts, its cost and the best bound known for it."""

    uses: tuple[Use, ...]
    cost: int
    bound: Bound


def solve(problem: CuttingProblem, deadline: float, course: Course, tell: Tell) -> Found:
    """Return the best plan found before the deadline (a time of the course)."""
    now = course.clock()
    kept = min(TIDYING_SECONDS, TIDYING_SHARE * max(0.0, deadline - now))
    state = SearchState(problem, deadline - kept, course, tell)
    search(state)
    if state.best is None:
        raise _not_enough(problem, state.bound)
    state.deadline = deadline
    uses = state.best if state.is_over() else tidied(state, state.best)
    return Found(tuple(uses), cost_of(uses, problem), state.bound)


def search(state: SearchState, *, may_coarsen: bool = True) -> None:
    """Go from cheap to dear methods until the plan meets the bound or the time is over.

    The clock decides only when to stop, never which way to go.
    """
    state.offer(plan_in_rows(state.problem, state.is_over))
    if not state.proven and not state.depth:
        state.offer(plan_largest_first(state.problem, state.is_over))
    if state.proven:
        return
    ways_to_share = math.prod(count + 1 for count in state.problem.counts)
    if ways_to_share <= FEW_PARTS:
        _try_all_parts(state, 1.0)
        if state.proven:
            return
    master = Master(state.problem, state.course)
    for filling, _ in state.best or []:
        master.add(filling)
    fillers = make_fillers(state)
    if not fillers:
        if may_coarsen:
            _plan_coarsely(state)
        return
    answer, prices = generate(state, master, fillers)
    _choose(state, master, 0.1)
    if answer is None or prices is None:
        return
    if state.depth:
        choose_from_list(state, master, fillers, prices, 0.3)
        _round_off(state, master, answer)
        return
    bounded = [filler for filler in fillers if isinstance(filler, BoundedFiller)]
    one_by_one = _OneByOne(state, master, bounded)
    if bounded:
        one_by_one.go_on(FEW_TURNS, 0.2 if len(state.problem.sheets) == 1 else 0.1)
    if state.best_cost <= FEW_SHEETS:
        try_one_sheet_less(state, bounded, state.share(0.6), FEW_REPAIRS)
    good = good_fillings(state, fillers, prices)
    round_in_many_ways(state, master, answer, good, state.share(0.25))
    _round_off(state, master, answer, state.share(0.25))
    if FEW_PARTS < ways_to_share <= MOST_COVERED:
        _try_all_parts(state, 0.5)
    choose_from_list(state, master, fillers, prices, 0.7)
    _enrich(state, master, fillers, answer)
    try_one_sheet_less(state, bounded, state.share(0.4), MOST_REPAIRS, seed=2)
    if bounded:
        one_by_one.go_on(MOST_TURNS, 0.8)


def _plan_coarsely(state: SearchState) -> None:
    """Plan in coarse units what is too fine for exact tables; nothing is proven by that."""
    coarse = None if state.is_over() else coarsened(state.problem)
    if coarse is None:
        return
    state.tell("Planning with coarser sizes")
    inner = SearchState(coarse, state.share(0.9), state.course)
    search(inner, may_coarsen=False)
    state.offer(inner.best)


def _try_all_parts(state: SearchState, share: float) -> None:
    """Look at every way to share the pieces among sheets; the best plan is then proven."""
    problem = state.problem
    if state.proven or any(sheet.available is not None for sheet in problem.sheets):
        return
    state.tell("Trying every layout")
    rounds = min(problem.rounds or 3, 3)
    room = max(sheet.width * sheet.height for sheet in problem.sheets)
    caps = []
    for kind, count in enumerate(problem.counts):
        variant = next(problem.variants_of(kind))
        caps.append(min(count, room // (variant.width * variant.height)))
    try:
        parts = SheetParts(problem, rounds, caps, state.share(share), state.course)
        cost, uses = parts.cover()
    except OutOfReach:
        return
    state.offer(uses)
    state.tried(cost)


def _choose(state: SearchState, master: Master, share: float) -> None:
    """Let the whole-number programme pick from the pool."""
    if state.proven:
        return
    state.tell("Choosing layouts")
    found = master.solve_whole(
        below=state.below,
        goal=state.bound.value,
        seconds=share * state.time_left(),
        step=state.step,
    )
    if found is not None:
        state.offer(found.plan)


def _round_off(
    state: SearchState, master: Master, answer: LinearAnswer, until: float = math.inf
) -> None:
    """Use each filling as often as the linear programme says, rounded down, and plan the rest.

    The rest is a small job of its own; planned well, it finds fillings the pool lacks.
    """
    problem = state.problem
    for less in (0, 1, 2):
        if state.proven or state.is_over() or state.depth >= MOST_DEPTH:
            return
        left = min(until, state.deadline) - state.course.clock()
        if left <= 0:
            return
        base = [
            (filling, max(0, math.floor(use + 1e-6) - less))
            for filling, use in zip(master.pool, answer.uses, strict=False)
        ]
        base = [(filling, times) for filling, times in base if times]
        rest = rest_of(problem, base)
        if rest is None:
            continue
        if not any(rest.counts):
            state.offer(base)
            continue
        if not base or rest.counts == problem.counts:
            if less == 0:
                continue
            return
        inner = SearchState(
            rest, state.course.clock() + 0.5 * left, state.course, None, state.depth + 1
        )
        search(inner)
        if inner.best is not None:
            state.offer(base + inner.best)
            for filling, _ in inner.best:
                master.add(filling)
        _choose(state, master, 0.05)


def _enrich(
    state: SearchState, master: Master, fillers: list[SheetFiller], answer: LinearAnswer
) -> None:
    """Add fillings that are best when the worth of the pieces is a little different."""
    until = state.share(0.3)
    for turn in range(MOST_SHAKES):
        if state.proven or state.course.clock() > until:
            return
        state.tell("Trying other layouts")
        # fixed numbers that look like chance, so that a plan can be made again
        worth = [
            int(value * (1 << 20) * (0.85 + (kind * 7919 + turn * 104_729) % 301 / 1000))
            for kind, value in enumerate(answer.worth)
        ]
        for filler in fillers:
            filler.best(worth)
            master.add(filling_of(filler, state.problem))
    _choose(state, master, 0.2)


class _OneByOne:
    """Makes whole plans sheet by sheet; what they find goes into the pool."""

    def __init__(self, state: SearchState, master: Master, fillers: list[BoundedFiller]) -> None:
        self._state, self._master, self._until = state, master, 0.0
        # taken up where it was left, since each plan learns from the ones before
        self._plans = plans_one_by_one(
            state.problem,
            fillers,
            is_over=self._is_over,
            limit=lambda: state.best_cost + state.step if state.best else state.below,
        )

    def _is_over(self) -> bool:
        return self._state.proven or self._state.course.clock() > self._until

    def go_on(self, most: int, share: float) -> None:
        """Make some more plans and let the whole-number programme choose."""
        state = self._state
        self._until = state.share(share)
        for _ in range(most):
            if self._is_over():
                break
            state.tell("Planning sheet by sheet")
            plan = next(self._plans)
            if plan:
                state.offer(plan)
                for filling, _ in plan:
                    self._master.add(filling)
        _choose(state, self._master, 0.5 * share)


def _not_enough(problem: CuttingProblem, bound: Bound) -> NotEnoughSheets:
    scarce = [sheet for sheet in problem.sheets if sheet.available is not None]
    have = ", ".join(f"{sheet.available} of {sheet.name}" for sheet in scarce)
    return NotEnoughSheets(
        f"The sheets at hand ({have}) do not hold all the pieces. {bound.reason}".strip(),
        where=scarce[0].name if scarce else "sheets",
    )
