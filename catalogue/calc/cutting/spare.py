"""Lays the pieces of a sheet so that what is left over is as large as it can be in one piece."""

from __future__ import annotations

import math
from dataclasses import replace

from catalogue.calc.cutting.integers import ALONG_X, CuttingProblem, Filling
from catalogue.calc.cutting.merit import Handler
from catalogue.calc.cutting.small import OutOfReach, SheetParts
from catalogue.calc.cutting.start import Use
from catalogue.calc.cutting.watch import Course

MOST_LAYOUTS = 4
MOST_PARTS = 600
SECONDS = 0.3


def keep_spare_together(
    problem: CuttingProblem, uses: list[Use], handler: Handler, course: Course
) -> list[Use]:
    """Lay out anew the sheets with the most room to spare, where few pieces lie on them.

    The offcut looked for runs from edge to edge: such a one is cut off first and easiest to keep.
    """
    until = course.clock() + SECONDS
    better = list(uses)
    spare = sorted(range(len(uses)), key=lambda at: (_filled(problem, uses[at][0]), at))
    for at in spare[:MOST_LAYOUTS]:
        filling, times = uses[at]
        if math.prod(many + 1 for many in filling.counts) > MOST_PARTS or course.clock() > until:
            continue
        try:
            changed = _with_large_offcut(problem, filling, until, course)
        except OutOfReach:
            continue
        handler.offer(changed)
        better[at] = (handler.laid(filling)[0], times)
    return better


def _filled(problem: CuttingProblem, filling: Filling) -> float:
    sheet = problem.sheets[filling.sheet]
    areas = (
        many * next(v.width * v.height for v in problem.variants_of(kind))
        for kind, many in enumerate(filling.counts)
        if many
    )
    return sum(areas) / (sheet.width * sheet.height)


def _with_large_offcut(
    problem: CuttingProblem, filling: Filling, until: float, course: Course
) -> Filling:
    """Return the same pieces in as narrow or as low a part of the sheet as holds them."""
    sheet = problem.sheets[filling.sheet]
    alone = replace(problem, sheets=(replace(sheet, available=None),), counts=filling.counts)
    rounds = min(problem.rounds or 3, 3)
    parts = SheetParts(alone, rounds, list(filling.counts), until, course)
    goal = tuple(filling.counts[kind] for kind in parts.kinds)
    index = parts.index_of(goal)
    best, best_spare = filling, 0
    for table in parts.sheets:
        needed = int(table.needed.flat[index])
        along, across = sheet.width, sheet.height
        if table.sections.first != ALONG_X:
            along, across = across, along
        spare = (along - needed) * across
        if needed <= along and spare > best_spare:
            best, best_spare = replace(table.filling(index), sheet=filling.sheet), spare
    return best
