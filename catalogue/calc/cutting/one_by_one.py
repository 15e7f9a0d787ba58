"""Plans sheet by sheet, again and again, raising the worth of pieces that were hard to place.

Pieces that ended up on badly used sheets are worth more in the next plan, so it cuts them earlier:
sequential value correction (E. A. Mukhacheva and others, "Linear one-dimensional cutting-packing
problems: numerical experiments with the sequential value correction method", 2000).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from catalogue.calc.cutting.bounded import BoundedFiller
from catalogue.calc.cutting.integers import CuttingProblem, Filling
from catalogue.calc.cutting.start import Use

SCALE = 1_000
POWERS = (1.0, 1.04, 1.1, 1.02, 1.2)


def plans_one_by_one(
    problem: CuttingProblem,
    fillers: list[BoundedFiller],
    *,
    is_over: Callable[[], bool],
    limit: Callable[[], int],
) -> Iterator[list[Use]]:
    """Yield one plan after the other, without end.

    A plan is empty where it would have cost `limit` or more, or was over before it was whole.
    """
    areas = [
        next(v.width * v.height for v in problem.variants if v.kind == kind)
        for kind in range(len(problem.counts))
    ]
    largest = max(areas)
    base = [area / largest for area in areas]
    current = list(base)
    turn = 0
    while True:
        power = POWERS[turn % len(POWERS)]
        plan, current = _one_plan(problem, fillers, base, current, power, is_over, limit())
        turn += 1
        yield plan or []


def _one_plan(
    problem: CuttingProblem,
    fillers: list[BoundedFiller],
    base: list[float],
    worth: list[float],
    power: float,
    is_over: Callable[[], bool],
    limit: int,
) -> tuple[list[Use] | None, list[float]]:
    left = list(problem.counts)
    room = [sheet.available for sheet in problem.sheets]
    worth = list(worth)
    plan: list[Use] = []
    cost = 0
    while any(left):
        if is_over():
            return None, worth
        whole = [max(1, int(value * SCALE * SCALE)) for value in worth]
        filling = _best_filling(problem, fillers, left, room, whole)
        if filling is None:
            return None, worth
        times = min(have // many for have, many in zip(left, filling.counts, strict=True) if many)
        free = room[filling.sheet]
        if free is not None:
            times = min(times, free)
            room[filling.sheet] = free - times
        plan.append((filling, times))
        cost += problem.sheets[filling.sheet].cost * times
        _correct(problem, filling, times, base, worth, power)
        for kind, many in enumerate(filling.counts):
            left[kind] -= many * times
        if cost >= limit:
            # finish correcting values on the sheets made so far, but do not go on with a bad plan
            return None, worth
    return plan, worth


def _best_filling(
    problem: CuttingProblem,
    fillers: list[BoundedFiller],
    left: list[int],
    room: list[int | None],
    worth: list[int],
) -> Filling | None:
    """Return the filling with the most worth for its price."""
    best: Filling | None = None
    best_ratio = 0.0
    for filler in fillers:
        if room[filler.sheet] == 0:
            continue
        filling = filler.fill(left, worth)
        if filling is None:
            continue
        held = sum(many * value for many, value in zip(filling.counts, worth, strict=True))
        ratio = held / max(1, problem.sheets[filler.sheet].cost)
        if ratio > best_ratio:
            best, best_ratio = filling, ratio
    return best


def _correct(
    problem: CuttingProblem,
    filling: Filling,
    times: int,
    base: list[float],
    worth: list[float],
    power: float,
) -> None:
    """Move the worth of the pieces on the sheet towards what the sheet made of them."""
    sheet = problem.sheets[filling.sheet]
    used = sum(
        many * next(v.width * v.height for v in problem.variants_of(kind))
        for kind, many in enumerate(filling.counts)
        if many
    ) / (sheet.width * sheet.height)
    for kind, many in enumerate(filling.counts):
        if many:
            share = 0.5 * min(1.0, many * times / problem.counts[kind])
            worth[kind] = (1 - share) * worth[kind] + share * base[kind] ** power / used
