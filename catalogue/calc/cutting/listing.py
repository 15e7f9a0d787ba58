"""Picks the best plan from a list of all fillings that come close to their sheet's price.

The list grows step by step. When it holds every filling that a cheaper plan could use, the plan
chosen from it is the cheapest there is; before that, it still shows a better plan or bound.
"""

from __future__ import annotations

from catalogue.calc.cutting.columns import TooMany, fillings_of, maximal
from catalogue.calc.cutting.flow import FlowModel
from catalogue.calc.cutting.generation import Prices
from catalogue.calc.cutting.integers import Filling
from catalogue.calc.cutting.master import Master
from catalogue.calc.cutting.patterns import SheetFiller
from catalogue.calc.cutting.state import SearchState
from catalogue.calc.cutting.steps import SheetSteps, TooManySteps, steps_of

SHARES = (1.0, 0.05, 0.1, 0.2, 0.35, 0.6, 1.0)
MOST_STEPS = 60_000
GOOD_SHARES = (0.35, 0.2, 0.1, 0.05, 0.02)
MOST_GOOD = 800
# while a part of the list might do, the whole list is tried only if it is short
FEW_LABELS = 25_000
MOST_LABELS = 150_000
MOST_LISTED = 12_000
MOST_FLOW_STEPS = 6_000


def choose_from_list(
    state: SearchState, master: Master, fillers: list[SheetFiller], prices: Prices, share: float
) -> None:
    """List fillings and choose, with ever more of them, until the time or the list is too long."""
    until = state.share(share)
    listed, hard = -1, 0
    for turn, part in enumerate(SHARES):
        slack = int((state.below - state.step) * prices.scale) - prices.base
        if state.proven or slack < 0 or state.course.clock() > until:
            break
        wanted = int(slack * part)
        if wanted <= listed:
            continue
        state.tell("Listing layouts")
        most = FEW_LABELS if turn == 0 else MOST_LABELS
        fillings = _close_fillings(state, fillers, prices, wanted, most, until)
        if fillings is None:
            if turn == 0:
                continue
            break
        listed = wanted
        if not _choose(state, master, fillings, prices, wanted, until):
            hard += 1
            if hard > 1:
                break
    if not state.proven:
        _choose_by_flow(state, fillers, prices, until)


def good_fillings(state: SearchState, fillers: list[SheetFiller], prices: Prices) -> list[Filling]:
    """Return the fillings that come closest to their price, as many as are quickly listed."""
    slack = int((state.below - state.step) * prices.scale) - prices.base
    until = state.share(0.1)
    for part in GOOD_SHARES:
        if state.proven or slack < 0 or state.course.clock() > until:
            break
        found = _close_fillings(state, fillers, prices, int(slack * part), FEW_LABELS, until)
        if found is not None and len(found) <= MOST_GOOD:
            return found
    return []


def _choose(
    state: SearchState,
    master: Master,
    fillings: list[Filling],
    prices: Prices,
    slack: int,
    until: float,
) -> bool:
    """Choose from the list; say whether that came to an end."""
    pool = Master(state.problem, state.course)
    for filling in [*fillings, *master.pool]:
        pool.add(filling)
    state.tell("Choosing layouts")
    found = pool.solve_whole(
        below=state.below,
        goal=state.bound.value,
        seconds=0.4 * (until - state.course.clock()),
        step=state.step,
    )
    if found is None:
        return False
    # a plan with a filling that is not listed costs more than this
    unlisted = -(-(prices.base + slack + 1) // prices.scale)
    ended = found.least >= state.below
    if found.plan is not None:
        state.offer(found.plan)
        for filling, _ in found.plan:
            master.add(filling)
        ended = state.best_cost <= found.least
    state.tried(min(found.least, unlisted))
    return ended


def _close_fillings(
    state: SearchState,
    fillers: list[SheetFiller],
    prices: Prices,
    slack: int,
    most: int,
    until: float,
) -> list[Filling] | None:
    """Return the fillings that fall short by at most the slack, None when they are too many."""
    found: list[Filling] = []
    try:
        for steps, enough in _steps(state, fillers, prices, slack, MOST_STEPS):
            found.extend(
                fillings_of(
                    steps,
                    state.problem,
                    prices.worth,
                    enough,
                    most,
                    lambda: state.course.clock() > until,
                )
            )
    except (TooMany, TooManySteps):
        return None
    if len(found) > MOST_LISTED:
        return None
    return maximal(found)


def _steps(
    state: SearchState, fillers: list[SheetFiller], prices: Prices, slack: int, most: int
) -> list[tuple[SheetSteps, int]]:
    """Return the steps of all fillers, and what a filling of each must be worth."""
    found: list[tuple[SheetSteps, int]] = []
    for filler in fillers:
        enough = prices.price(state.problem, filler.sheet) - slack
        if filler.best(prices.worth) >= enough:
            found.append((steps_of(filler, prices.worth, enough, most), enough))
    return found


def _choose_by_flow(
    state: SearchState, fillers: list[SheetFiller], prices: Prices, until: float
) -> None:
    slack = int((state.below - state.step) * prices.scale) - prices.base
    seconds = until - state.course.clock()
    if slack < 0 or seconds < 0.1:
        return
    state.tell("Choosing layouts piece by piece")
    try:
        steps = [found for found, _ in _steps(state, fillers, prices, slack, MOST_FLOW_STEPS)]
    except TooManySteps:
        return
    if sum(found.size for found in steps) > MOST_FLOW_STEPS:
        return
    found = FlowModel(state.problem, steps).solve(
        limit=state.below - state.step,
        goal=state.bound.value,
        step=state.step,
        seconds=seconds,
        course=state.course,
    )
    if found is not None:
        state.offer(found.plan)
        state.tried(found.least)
