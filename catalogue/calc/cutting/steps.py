"""Which steps of filling a sheet can be part of a plan that is not too dear.

A path through the lengths of a sheet is a row of sections, one through the heights of a section is
a stack of strips, one through the lengths of a strip is a row of pieces. The tables of a
`SheetFiller` say what a sheet holds at most by taking a certain step; a step is left out when even
that is too little. What comes along a path is ordered, the largest first, so that few paths differ
only in their order.
"""

from __future__ import annotations

import bisect
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from catalogue.calc.cutting.patterns import NEVER, SheetFiller

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table: TypeAlias = NDArray[np.int64]

# the place in the order, what is taken, the point it leads to, what it gains
Way: TypeAlias = tuple[int, int, int, int]

NO_ORDER = 1 << 60


class TooManySteps(Exception):
    """There are more steps than a programme over them could handle."""


@dataclass(frozen=True, slots=True)
class FillStep:
    """From one point down to another by taking `what`; `rest` is what else the sheet holds then."""

    begin: int
    end: int
    what: int
    rest: int


@dataclass(frozen=True, slots=True)
class SheetSteps:
    """The steps of one filler.

    `top` takes sections (three rounds), strips (two) or pieces (one); `sections` has the stacks of
    strips by the width of the section, `strips` the rows of pieces by level. `tops` are the points
    where paths begin.
    """

    filler: SheetFiller
    top: list[FillStep]
    sections: dict[int, list[FillStep]]
    strips: dict[int, list[FillStep]]
    tops: tuple[int, int, int]

    @property
    def size(self) -> int:
        parts = [self.top, *self.sections.values(), *self.strips.values()]
        return sum(len(steps) for steps in parts)


def steps_of(filler: SheetFiller, worth: Sequence[int], enough: int, most: int) -> SheetSteps:
    """Return the steps of fillings worth `enough`; `filler.best` was called with this worth."""
    return _Finder(filler, worth, enough, most).find()


class _Finder:
    def __init__(self, filler: SheetFiller, worth: Sequence[int], enough: int, most: int) -> None:
        self.filler, self.enough, self.left = filler, enough, most
        self.worth = [worth[kind] for kind in filler.kinds]

    def find(self) -> SheetSteps:
        filler = self.filler
        last, last_across = len(filler.along_points) - 1, len(filler.across_points) - 1
        total = filler.total.tolist()
        sections: dict[int, list[FillStep]] = {}
        strips: dict[int, list[FillStep]] = {}
        if filler.rounds == 1:
            items = self.pieces(0)
            top = self.steps({last: 0}, self.rows(items, filler.along, filler.along_points), total)
            return SheetSteps(filler, top, sections, strips, (last, 0, 0))
        if filler.rounds == 2:
            gains = filler.strips[:, -1].tolist()
            top = self.steps({last: 0}, self.stacks(gains, filler.level_back), total)
            levels = rests_by(top)
            points = filler.across_points
            sources = {level: {last_across: rest} for level, rest in levels.items()}
        else:
            top = [] if filler.one_row else self.steps({last: 0}, self.lengthwise(), total)
            widths = {last: 0} if filler.one_row else rests_by(top)
            sources = {}
            for width, rest in widths.items():
                gains = filler.strips[:, width].tolist()
                sections[width] = self.steps(
                    {last_across: rest},
                    self.stacks(gains, filler.back_across),
                    filler.sections[:, width].tolist(),
                )
                for level, other in rests_by(sections[width]).items():
                    sources.setdefault(level, {})[width] = other
            points = filler.along_points
        for level, begins in sources.items():
            ways = self.rows(self.pieces(level), filler.lengths, points)
            strips[level] = self.steps(begins, ways, filler.strips[level].tolist())
        return SheetSteps(filler, top, sections, strips, (last, last_across, len(points) - 1))

    def steps(
        self, sources: dict[int, int], ways: Callable[[int], Iterable[Way]], onward: list[int]
    ) -> list[FillStep]:
        """Return the steps from the sources (each with what the rest of the sheet holds)."""
        top = max(sources)
        reach = [NEVER] * (top + 1)
        # the least of what led to a point: nothing that comes before it in order is taken there
        before = [NO_ORDER] * (top + 1)
        for point, rest in sources.items():
            reach[point], before[point] = rest, -NO_ORDER
        found: list[FillStep] = []
        for at in range(top, 0, -1):
            if reach[at] + onward[at] < self.enough:
                continue
            for order, what, end, gain in ways(at):
                if order < before[at] or reach[at] + gain + onward[end] < self.enough:
                    continue
                found.append(FillStep(at, end, what, reach[at] + onward[end]))
                reach[end] = max(reach[end], reach[at] + gain)
                before[end] = min(before[end], order)
            if len(found) > self.left:
                raise TooManySteps
        self.left -= len(found)
        return found

    def pieces(self, level: int) -> list[int]:
        """Return the items a strip of the level can hold, one for each kind, longest first."""
        filler = self.filler
        if filler.rounds == 1:
            items = list(range(len(filler.along)))
        else:
            found = (filler.item(kind, level) for kind in sorted(set(filler.kinds)))
            items = [item for item in found if item is not None]
        return sorted(items, key=lambda item: (-filler.lengths[item], item))

    def rows(
        self, items: list[int], sizes: list[int], points: list[int]
    ) -> Callable[[int], Iterator[Way]]:
        """Return the ways to take one piece."""

        def ways(at: int) -> Iterator[Way]:
            for order, item in enumerate(items):
                if sizes[item] <= points[at]:
                    end = bisect.bisect_right(points, points[at] - sizes[item]) - 1
                    yield order, item, end, self.worth[item]

        return ways

    def stacks(self, gains: list[int], back: Table) -> Callable[[int], Iterator[Way]]:
        """Return the ways to take one strip; its level is what is taken."""
        levels = list(range(len(gains) - 1, -1, -1))

        def ways(at: int) -> Iterator[Way]:
            for level in levels:
                end = int(back[at, level])
                if end >= 0:
                    yield -level, level, end, gains[level]

        return ways

    def lengthwise(self) -> Callable[[int], Iterator[Way]]:
        """Return the ways to take one section; its width (a point) is what is taken."""
        filler = self.filler
        full, total = filler.sections[-1].tolist(), filler.total.tolist()
        last = len(total) - 1
        widths = [
            width
            for width in range(last, 0, -1)
            if full[width] + total[int(filler.section_back[last][width - 1])] >= self.enough
        ]

        def ways(at: int) -> Iterator[Way]:
            for width in widths:
                if width <= at:
                    yield -width, width, int(filler.section_back[at][width - 1]), full[width]

        return ways


def rests_by(steps: Iterable[FillStep]) -> dict[int, int]:
    """Return, for all that is taken, what else the sheet holds at best."""
    rests: dict[int, int] = {}
    for step in steps:
        rests[step.what] = max(rests.get(step.what, NEVER), step.rest)
    return rests
