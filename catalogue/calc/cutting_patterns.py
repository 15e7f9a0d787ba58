"""The most valuable way to fill one sheet in a few rounds of edge-to-edge cuts, by staged tables.

Every table is kept only at lengths that sums of piece sizes can reach ("normal points"), which
loses no layout: pieces can always be pushed towards the origin. Values are whole numbers, so the
best value is exact and can serve in a proof. The tables do not limit how often a piece is used,
except that a length needing more copies than the job has is no normal point.
"""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias

from catalogue.calc.cutting_integers import ALONG_X, Problem, Tree

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table: TypeAlias = NDArray[np.int64]

NEVER = -(1 << 60)
MOST_POINTS = 10_000
MOST_UNITS = 8_000_000
MOST_WORK = 150_000_000


class TooManyPoints(Exception):
    """The sizes have so little in common that exact tables would not fit in time and memory."""


class SheetFiller:
    """Fills one kind of sheet, first cuts in one direction, in one, two or three rounds."""

    def __init__(self, problem: Problem, sheet: int, first: int, rounds: int) -> None:
        kind_of_sheet = problem.sheets[sheet]
        self.sheet, self.first, self.rounds = sheet, first, rounds
        self.variants = list(kind_of_sheet.variants)
        chosen = [problem.variants[index] for index in self.variants]
        along = first == ALONG_X
        self.length = kind_of_sheet.width if along else kind_of_sheet.height
        self.cross = kind_of_sheet.height if along else kind_of_sheet.width
        self.kinds = [variant.kind for variant in chosen]
        # `along` is measured in the direction the first round divides, `across` the other way
        self.along = [variant.width if along else variant.height for variant in chosen]
        self.across = [variant.height if along else variant.width for variant in chosen]
        self.along_points = points_for(self.length, self.kinds, self.along, problem.counts)
        self.across_points = points_for(self.cross, self.kinds, self.across, problem.counts)
        if rounds == 3:
            work = len(self.along_points) * len(self.across_points) * len(self._levels)
            if not self._one_row:
                work += len(self.along_points) ** 2 * 4
            if work > MOST_WORK:
                raise TooManyPoints

    @cached_property
    def _levels(self) -> list[int]:
        """The heights a strip can have (three rounds) or the widths a section can have (two)."""
        return sorted(set(self.across if self.rounds == 3 else self.along))

    @cached_property
    def _one_row(self) -> bool:
        """Whether no two strips fit above each other, so that one section does for all."""
        return self.rounds == 3 and 2 * min(self.across) > self.cross

    @cached_property
    def _strip_tables(self) -> tuple[list[int], list[int], list[int], Table, NDArray[np.bool_]]:
        """Item order, points, and where each item leads back to from each point of a strip."""
        import numpy as np

        if self.rounds == 3:
            sizes, others, points = self.along, self.across, self.along_points
        else:
            sizes, others, points = self.across, self.along, self.across_points
        order = sorted(range(len(sizes)), key=lambda item: sizes[item])
        lengths = [sizes[item] for item in order]
        back = _lead_back(points, lengths)
        fits = np.array([[others[item] <= level for item in order] for level in self._levels])
        return order, points, lengths, back, fits

    @cached_property
    def _back_across(self) -> Table:
        return _lead_back(self.across_points, self._levels)

    @cached_property
    def _level_back(self) -> Table:
        return _lead_back(self.along_points, self._levels)

    @cached_property
    def _section_back(self) -> list[Table]:
        """For each point along, where each narrower section leads back to (three rounds)."""
        import numpy as np

        points = np.array(self.along_points)
        return [
            np.searchsorted(points, point - points[1 : at + 1], "right") - 1
            for at, point in enumerate(self.along_points)
        ]

    def best(self, values: Sequence[int]) -> int:
        """Return the greatest total value one sheet can hold; `values` has one number per kind."""
        self._fill_tables([values[kind] for kind in self.kinds])
        return int(self._total[-1])

    def best_tree(self) -> Tree:
        """Return a cut tree that reaches the value `best` found last."""
        return self._tree_from(self._total, len(self.along_points) - 1)

    def _fill_tables(self, worth: list[int]) -> None:
        import numpy as np

        self._worth = worth
        if self.rounds == 1:
            order = sorted(range(len(self.along)), key=lambda item: self.along[item])
            self._single_order = order
            self._single_sizes = [self.along[item] for item in order]
            self._single_worth = np.array([worth[item] for item in order], dtype=np.int64)
            self._total = _knapsack(
                _lead_back(self.along_points, self._single_sizes),
                self.along_points,
                self._single_sizes,
                self._single_worth,
            )
            return
        self._strips = self._strip_values(worth)
        self._combine()

    def _strip_values(self, worth: list[int]) -> Table:
        """Return the best value of a strip for each level and length; pieces may repeat freely."""
        import numpy as np

        order, points, lengths, back, fits = self._strip_tables
        gains = np.where(fits, np.array([worth[item] for item in order], dtype=np.int64), NEVER)
        strips = np.zeros((len(self._levels), len(points)), dtype=np.int64)
        for at in range(1, len(points)):
            upto = bisect.bisect_right(lengths, points[at])
            reached = strips[:, back[at, :upto]] + gains[:, :upto]
            np.maximum(strips[:, at - 1], reached.max(axis=1), out=strips[:, at])
        return strips

    def _combine(self) -> None:
        """Combine strips into sections and sections into the sheet."""
        import numpy as np

        if self.rounds == 2:
            self._total = _knapsack(
                self._level_back, self.along_points, self._levels, self._strips[:, -1]
            )
            return
        self._sections = self._stack(self._strips)
        full = self._sections[-1]
        if self._one_row:
            self._total = full
            return
        total = np.zeros(len(self.along_points), dtype=np.int64)
        for at in range(1, len(total)):
            reached = full[1 : at + 1] + total[self._section_back[at]]
            total[at] = max(total[at - 1], reached.max())
        self._total = total

    def _stack(self, strips: Table) -> Table:
        """Return the best value of a section for each height and each width among the columns."""
        import numpy as np

        sections = np.zeros((len(self.across_points), strips.shape[1]), dtype=np.int64)
        for at in range(1, len(self.across_points)):
            upto = bisect.bisect_right(self._levels, self.across_points[at])
            reached = strips[:upto] + sections[self._back_across[at, :upto]]
            np.maximum(sections[at - 1], reached.max(axis=0), out=sections[at])
        return sections

    def _tree_from(self, total: Table, at: int) -> Tree:
        """Read back the sections along the sheet."""
        sections: list[Tree] = []
        while at > 0:
            if total[at] == total[at - 1]:
                at -= 1
                continue
            if self._one_row:
                return (self._section_tree(at),)
            if self.rounds == 3:
                reached = self._sections[-1][1 : at + 1] + total[self._section_back[at]]
                width = int((reached == total[at]).argmax()) + 1
                sections.append(self._section_tree(width))
                at = int(self._section_back[at][width - 1])
            else:
                step = self._step_along(total, at)
                sections.append(step[0])
                at = step[1]
        return tuple(sections)

    def _step_along(self, total: Table, at: int) -> tuple[Tree, int]:
        """Read back one section of a plan with one or two rounds."""
        if self.rounds == 1:
            sizes, gains = self._single_sizes, self._single_worth
        else:
            sizes, gains = self._levels, self._strips[:, -1]
        for index, size in enumerate(sizes):
            if size > self.along_points[at]:
                break
            before = bisect.bisect_right(self.along_points, self.along_points[at] - size) - 1
            if gains[index] + total[before] == total[at]:
                if self.rounds == 1:
                    return self.variants[self._single_order[index]], before
                return self._strip_tree(index, len(self.across_points) - 1), before
        raise AssertionError("the table holds a value no section explains")

    def _section_tree(self, width: int) -> Tree:
        """Read back the strips of a section that is `width` (a point index) wide."""
        strips: list[Tree] = []
        at = len(self.across_points) - 1
        column = self._sections[:, width]
        while at > 0:
            if column[at] == column[at - 1]:
                at -= 1
                continue
            upto = bisect.bisect_right(self._levels, self.across_points[at])
            reached = self._strips[:upto, width] + column[self._back_across[at, :upto]]
            level = int((reached == column[at]).argmax())
            strips.append(self._strip_tree(level, width))
            at = int(self._back_across[at, level])
        return tuple(strips)

    def _strip_tree(self, level: int, at: int) -> Tree:
        """Read back the pieces of one strip."""
        order, points, lengths, back, fits = self._strip_tables
        row = self._strips[level]
        pieces: list[Tree] = []
        while at > 0:
            if row[at] == row[at - 1]:
                at -= 1
                continue
            upto = bisect.bisect_right(lengths, points[at])
            for index in range(upto):
                item = order[index]
                before = int(back[at, index])
                if fits[level, index] and row[before] + self._worth[item] == row[at]:
                    pieces.append(self.variants[item])
                    at = before
                    break
            else:
                raise AssertionError("the table holds a value no piece explains")
        return tuple(pieces)


def points_for(
    room: int, kinds: Sequence[int], sizes: Sequence[int], counts: Sequence[int]
) -> list[int]:
    """Return the lengths that tables need: all reachable ones, or fewer that do as well.

    A section may be widened to what its neighbours leave, so only lengths that are the largest
    reachable one beside some reachable length matter ("reduced raster points", Scheithauer 1997,
    from memory). That argument needs sums with any number of copies; sums within the counts are a
    valid choice too, and the shorter list is taken.
    """
    within = normal_points(room, kinds, sizes, counts)
    plenty = [room // min(sizes)] * len(counts)
    try:
        free = normal_points(room, kinds, sizes, plenty)
    except TooManyPoints:
        free = None
    if free is not None:
        raster = sorted({free[bisect.bisect_right(free, room - point) - 1] for point in free})
        if len(raster) < len(within):
            within = raster
    if len(within) > MOST_POINTS:
        raise TooManyPoints
    return within


def normal_points(
    room: int, kinds: Sequence[int], sizes: Sequence[int], counts: Sequence[int]
) -> list[int]:
    """Return all lengths up to `room` that the pieces at hand can add up to, 0 included."""
    if room > MOST_UNITS:
        return _few_points(room, kinds, sizes, counts)
    bits = 1
    mask = (1 << (room + 1)) - 1
    for kind, size in set(zip(kinds, sizes, strict=True)):
        left, step = min(counts[kind], room // size), 1
        while left:
            step = min(step, left)
            bits |= (bits << (size * step)) & mask
            left -= step
            step *= 2
    if bits.bit_count() > 4 * MOST_POINTS:
        raise TooManyPoints
    return [at for at, digit in enumerate(bin(bits)[:1:-1]) if digit == "1"]


def _few_points(
    room: int, kinds: Sequence[int], sizes: Sequence[int], counts: Sequence[int]
) -> list[int]:
    """Return the same for a sheet of very many units, where only few sums can be kept."""
    reachable = {0}
    for kind, size in set(zip(kinds, sizes, strict=True)):
        for _ in range(min(counts[kind], room // size)):
            grown = {point + size for point in reachable if point + size <= room}
            if grown <= reachable:
                break
            reachable |= grown
            if len(reachable) > MOST_POINTS:
                raise TooManyPoints
    return sorted(reachable)


def _lead_back(points: list[int], sizes: list[int]) -> Table:
    """Return, for each point and size, the largest point that leaves room for the size."""
    import numpy

    grid = numpy.array(points, dtype=numpy.int64)
    rest = grid[:, None] - numpy.array(sizes, dtype=numpy.int64)[None, :]
    return numpy.searchsorted(grid, rest, "right") - 1


def _knapsack(back: Table, points: list[int], sizes: list[int], gains: Table) -> Table:
    """Return the best value at each point when sizes may be used again and again."""
    import numpy

    total = numpy.zeros(len(points), dtype=numpy.int64)
    for at in range(1, len(points)):
        upto = bisect.bisect_right(sizes, points[at])
        best = total[at - 1]
        if upto:
            best = max(best, (total[back[at, :upto]] + gains[:upto]).max())
        total[at] = best
    return total
