"""Plans of the same sheets with fewer different layouts: each is one more to measure and set.

A layout used m times takes m of everything on it, so it may hold of each kind no more than what is
wanted divided by m. The search picks how often the next layout is used, fills a sheet with that
much, and goes on with the rest until one layout takes all of it (after R. W. Haessler,
"Controlling cutting pattern changes in one-dimensional trim problems", Operations Research 23
(1975)). It is tried on the whole job and on a few layouts of a plan at a time, whose pieces may
then be shared among fewer (common practice, no source). Pieces are made exactly, never too many.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence

from catalogue.calc.cutting.bounded import BoundedFiller
from catalogue.calc.cutting.integers import CuttingProblem, Filling
from catalogue.calc.cutting.patterns import SheetFiller
from catalogue.calc.cutting.start import Use, sheets_used
from catalogue.calc.cutting.surplus import merge_alike

# how many fillings one search looks at: by work, so that the clock seldom ends it
MOST_FILLINGS = 220
LEAST_FILLINGS = 20
MOST_CELLS = 4_000_000
WIDTH = 5
MOST_TOGETHER = 3
MOST_SUBSETS = 60
SUBSET_FILLINGS = 12
MOST_PARTS = 400


class FewLayouts:
    """Looks for plans with few layouts; remembers every filling it has made."""

    def __init__(
        self, problem: CuttingProblem, fillers: Sequence[SheetFiller], is_over: Callable[[], bool]
    ) -> None:
        self._problem = problem
        self._is_over = is_over
        self._fillers: dict[int, list[BoundedFiller]] = {}
        for filler in fillers:
            if isinstance(filler, BoundedFiller):
                self._fillers.setdefault(filler.sheet, []).append(filler)
        self._areas = problem.areas()
        self._worth = problem.worth_by_area()
        self._rooms = [sheet.width * sheet.height for sheet in problem.sheets]
        cells = [
            len(f.levels) * len(f.along_points) * len(f.across_points)
            for several in self._fillers.values()
            for f in several
        ]
        affordable = MOST_CELLS // max([1, *cells])
        self._most = max(LEAST_FILLINGS, min(MOST_FILLINGS, affordable))
        self._left = 0
        self.made: dict[tuple[int, tuple[int, ...]], Filling | None] = {}

    def anew(self, plan: list[Use]) -> list[Use] | None:
        """Return a plan of the same sheets, made from nothing, with fewer layouts."""
        sheets = sheets_used(plan, self._problem)
        # what is wanted in multiples is planned once and cut as many times
        common = math.gcd(*self._problem.counts, *sheets)
        counts = tuple(count // common for count in self._problem.counts)
        sheets = tuple(many // common for many in sheets)
        for many in range(1, len(plan)):
            self._left = self._most // (len(plan) - 1) + 5
            found = self._find(counts, sheets, many)
            if found is not None:
                return merge_alike([(filling, times * common) for filling, times in found])
        return None

    def combined(self, plan: list[Use]) -> list[Use]:
        """Return the plan with the pieces of some layouts shared among fewer, again and again."""
        self._left = self._most
        better = True
        while better and not self._is_over():
            better = False
            for chosen in _subsets(plan):
                kept = [use for at, use in enumerate(plan) if at not in chosen]
                found = self._share([plan[at] for at in chosen])
                if found is not None:
                    plan, better = merge_alike(kept + found), True
                    break
        return plan

    def _share(self, uses: list[Use]) -> list[Use] | None:
        """Share the pieces of some layouts among one layout fewer."""
        if self._left <= 0:
            return None
        counts = tuple(
            sum(filling.counts[kind] * times for filling, times in uses)
            for kind in range(len(self._problem.counts))
        )
        held = self._left
        self._left = min(held, SUBSET_FILLINGS)
        spent = self._left
        found = self._find(counts, sheets_used(uses, self._problem), len(uses) - 1)
        self._left = held - (spent - max(0, self._left))
        return found

    def _find(
        self, left: tuple[int, ...], sheets: tuple[int, ...], layouts: int
    ) -> list[Use] | None:
        """Return a plan of so many layouts that makes what is left from the sheets."""
        if not any(left):
            return []
        if layouts == 0 or self._left <= 0 or self._is_over():
            return None
        if layouts == 1:
            return self._in_one(left, sheets)
        self._left -= 1
        for use in self._next(left, sheets, layouts):
            found = self._find(*_after(left, sheets, use), layouts - 1)
            if found is not None:
                return [use, *found]
        return None

    def _in_one(self, left: tuple[int, ...], sheets: tuple[int, ...]) -> list[Use] | None:
        common = math.gcd(*left)
        for sheet, have in enumerate(sheets):
            # as many as possible, so that each sheet has little on it
            parts = range(-(-common // have), MOST_PARTS) if have else range(0)
            times = next((common // part for part in parts if common % part == 0), 0)
            if times:
                counts = tuple(count // times for count in left)
                filling = self._fill(sheet, counts)
                if filling is not None and filling.counts == counts:
                    return [(filling, times)]
        return None

    def _next(self, left: tuple[int, ...], sheets: tuple[int, ...], layouts: int) -> list[Use]:
        """Return layouts to go on with, those first that make most in one."""
        total = self._area(left)
        room = sum(have * room for have, room in zip(sheets, self._rooms, strict=True))
        ways: list[tuple[int, int, int, Filling]] = []
        for sheet, have in enumerate(sheets):
            for times in _useful_times(left, have, layouts):
                filling = self._fill(sheet, tuple(count // times for count in left))
                if filling is None:
                    continue
                made = self._area(filling.counts) * times
                if total - made <= room - self._rooms[sheet] * times:
                    ways.append((-made, sheet, times, filling))
        ways.sort(key=lambda way: way[:3])
        return [(filling, times) for _, _, times, filling in ways[:WIDTH]]

    def _fill(self, sheet: int, counts: tuple[int, ...]) -> Filling | None:
        """Return a filling that takes much of the counts."""
        key = (sheet, counts)
        if key not in self.made:
            if self._left <= 0:
                return None
            self._left -= 1
            found = [
                filling
                for filler in self._fillers.get(sheet, [])
                if (filling := filler.fill(list(counts), self._worth)) is not None
            ]
            self.made[key] = max(found, key=lambda f: self._area(f.counts), default=None)
        return self.made[key]

    def _area(self, counts: Sequence[int]) -> int:
        return sum(count * area for count, area in zip(counts, self._areas, strict=True))


def _after(
    left: tuple[int, ...], sheets: tuple[int, ...], use: Use
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    filling, times = use
    rest = tuple(n - held * times for n, held in zip(left, filling.counts, strict=True))
    return rest, tuple(n - times * (at == filling.sheet) for at, n in enumerate(sheets))


def _useful_times(left: Sequence[int], have: int, layouts: int) -> list[int]:
    """Return how often a layout may be used: the most that leaves so many of a kind on it."""
    if have == 0:
        return []
    least = max(1, have // (2 * layouts))
    times = {have, have - 1} | {count // many for count in left for many in range(1, 41)}
    return sorted((n for n in times if least <= n <= have), reverse=True)[: 4 * WIDTH]


def _subsets(plan: Sequence[Use]) -> Iterator[tuple[int, ...]]:
    """Yield a few layouts at a time, seldom used ones first."""
    order = sorted(range(len(plan)), key=lambda at: (plan[at][1], at))
    groups = (
        chosen
        for many in range(2, min(MOST_TOGETHER, len(plan)) + 1)
        for chosen in itertools.combinations(order, many)
    )
    return itertools.islice(groups, MOST_SUBSETS)
