"""Moves pieces from a sheet with room to spare to others, so that the room comes together.

The number of layouts stays, so the sheets of a layout take over the same pieces each. The layout
that gives some up is then cut with fewer pieces, and what is left of its sheet is larger.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from catalogue.calc.cutting.bounded import BoundedFiller
from catalogue.calc.cutting.integers import CuttingProblem, Filling
from catalogue.calc.cutting.merit import Handler
from catalogue.calc.cutting.start import Use
from catalogue.calc.cutting.surplus import merge_alike

MOST_TRIES = 40


def gathered(
    problem: CuttingProblem,
    fillers: Sequence[BoundedFiller],
    handler: Handler,
    plan: list[Use],
    is_over: Callable[[], bool],
) -> list[Use]:
    """Return the plan with pieces moved for as long as that makes it better to work with."""
    areas = problem.worth_by_area()
    best, merit = plan, handler.merit(plan)
    tries = MOST_TRIES
    better = True
    while better:
        better = False
        for giving, taking in _pairs(problem, best, areas):
            if tries == 0 or is_over():
                return best
            tries -= 1
            changed = _moved(problem, fillers, best[giving], best[taking], areas)
            if changed is None:
                continue
            rest = [use for at, use in enumerate(best) if at not in (giving, taking)]
            newer = merge_alike([*rest, *changed])
            if handler.merit(newer) < merit:
                best, merit, better = newer, handler.merit(newer), True
                break
    return best


def _pairs(
    problem: CuttingProblem, plan: Sequence[Use], areas: Sequence[int]
) -> list[tuple[int, int]]:
    """Return which layout gives to which: the emptiest first, to the one with most to spare."""
    spare = []
    for filling, _ in plan:
        sheet = problem.sheets[filling.sheet]
        held = sum(n * a for n, a in zip(filling.counts, problem.areas(), strict=True))
        spare.append(1 - held / (sheet.width * sheet.height))
    order = sorted(range(len(plan)), key=lambda at: (-spare[at], at))
    return [(giving, taking) for giving in order for taking in order if giving != taking]


def _moved(
    problem: CuttingProblem,
    fillers: Sequence[BoundedFiller],
    giving: Use,
    taking: Use,
    areas: Sequence[int],
) -> list[Use] | None:
    """Return both layouts with as much as goes on the one that takes."""
    total = [
        one * giving[1] + two * taking[1]
        for one, two in zip(giving[0].counts, taking[0].counts, strict=True)
    ]
    full = _fullest(fillers, taking[0].sheet, [n // taking[1] for n in total], areas)
    if full is None or full.counts == taking[0].counts:
        return None
    rest = [n - held * taking[1] for n, held in zip(total, full.counts, strict=True)]
    if any(n % giving[1] for n in rest):
        return None
    if not any(rest):
        return [(full, taking[1])]
    wanted = [n // giving[1] for n in rest]
    left = _fullest(fillers, giving[0].sheet, wanted, areas)
    if left is None or list(left.counts) != wanted:
        return None
    return [(full, taking[1]), (left, giving[1])]


def _fullest(
    fillers: Sequence[BoundedFiller], sheet: int, counts: list[int], areas: Sequence[int]
) -> Filling | None:
    found = (filler.fill(counts, list(areas)) for filler in fillers if filler.sheet == sheet)
    return max(
        (filling for filling in found if filling is not None),
        key=lambda filling: sum(n * a for n, a in zip(filling.counts, areas, strict=True)),
        default=None,
    )
