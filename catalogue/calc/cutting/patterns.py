"""The most valuable way to fill one sheet in a few rounds of edge-to-edge cuts, by staged tables.

Every table is kept only at lengths that sums of piece sizes can reach ("normal points"), which
loses no layout: pieces can always be pushed towards the origin. Values are whole numbers, so the
best value can serve in a proof: no strip takes more copies than the job has, but all strips of a
sheet together may, so no sheet is worth more.
"""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias

from catalogue.calc.cutting.integers import ALONG_X, CuttingProblem, Tree
from catalogue.calc.cutting.points import TooManyPoints, points_for

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table: TypeAlias = NDArray[np.int64]
    # a kind, copies taken together, and at which level and point taking them is best
    Taking: TypeAlias = tuple[int, int, NDArray[np.bool_]]

NEVER = -(1 << 60)
MOST_WORK = 150_000_000


class SheetFiller:
    """Fills one kind of sheet, first cuts in one direction, in one, two or three rounds."""

    def __init__(self, problem: CuttingProblem, sheet: int, first: int, rounds: int) -> None:
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
        self._counts = problem.counts
        self._leads: dict[tuple[int, int], tuple[Table, int]] = {}
        # what fills a strip lies along it with its `lengths`, strips differ in their `widths`
        self.lengths, self.widths, self.points = self.along, self.across, self.along_points
        if rounds == 2:
            self.lengths, self.widths, self.points = self.across, self.along, self.across_points
        if len(self.levels) * len(self.points) * len(self.kinds) > MOST_WORK:
            raise TooManyPoints
        if rounds == 3:
            work = len(self.along_points) * len(self.across_points) * len(self.levels)
            if not self.one_row:
                work += len(self.along_points) ** 2 * 4
            if work > MOST_WORK:
                raise TooManyPoints

    @cached_property
    def levels(self) -> list[int]:
        """The heights a strip can have (three rounds) or the widths a section can have (two)."""
        return sorted(set(self.across if self.rounds == 3 else self.along))

    @cached_property
    def one_row(self) -> bool:
        """Whether no two strips fit above each other, so that one section does for all."""
        return self.rounds == 3 and 2 * min(self.across) > self.cross

    @cached_property
    def back_across(self) -> Table:
        return _lead_back(self.across_points, self.levels)

    @cached_property
    def level_back(self) -> Table:
        return _lead_back(self.along_points, self.levels)

    @cached_property
    def section_back(self) -> list[Table]:
        """For each point along, where each narrower section leads back to (three rounds)."""
        import numpy as np

        points = np.array(self.along_points)
        return [
            np.searchsorted(points, point - points[1 : at + 1], "right") - 1
            for at, point in enumerate(self.along_points)
        ]

    def best(self, values: Sequence[int]) -> int:
        """Return the greatest total value one sheet can hold; `values` has one number per kind."""
        self._fill_tables(values)
        return int(self.total[-1])

    def best_tree(self) -> Tree:
        """Return a cut tree that reaches the value `best` found last."""
        return self._tree_from(self.total, len(self.along_points) - 1)

    def _fill_tables(self, values: Sequence[int]) -> None:
        import numpy as np

        if self.rounds == 1:
            worth = [values[kind] for kind in self.kinds]
            order = sorted(range(len(self.along)), key=lambda item: self.along[item])
            self._single_order = order
            self._single_sizes = [self.along[item] for item in order]
            self._single_worth = np.array([worth[item] for item in order], dtype=np.int64)
            self.total = _knapsack(
                _lead_back(self.along_points, self._single_sizes),
                self.along_points,
                self._single_sizes,
                self._single_worth,
            )
            return
        self.strips, self._takings = self.strips_within(self._counts, values, len(self.points))
        self._combine()

    def strips_within(
        self, left: Sequence[int], worth: Sequence[int], columns: int
    ) -> tuple[Table, list[Taking]]:
        """Return the best values of strips for each level and length, and what leads to them.

        No strip takes more copies than are left; copies are taken 1, 2, 4 and so on at once.
        """
        import numpy as np

        best = np.zeros((len(self.levels), columns), dtype=np.int64)
        takings: list[Taking] = []
        for kind in sorted(set(self.kinds), key=lambda kind: (-worth[kind], kind)):
            many, copies = left[kind], 1
            while many > 0 and worth[kind] > 0:
                copies = min(copies, many)
                took = np.zeros(best.shape, dtype=np.bool_)
                fitted = False
                for rows, item in self._ways[kind]:
                    lead, begin = self._lead(item, copies)
                    if begin >= columns:
                        continue
                    fitted = True
                    with_it = best[rows][:, lead[begin:columns]] + copies * worth[kind]
                    known = best[rows, begin:]
                    took[rows, begin:] = with_it > known
                    np.maximum(known, with_it, out=known)
                if not fitted:
                    break
                takings.append((kind, copies, took))
                many -= copies
                copies *= 2
        return best, takings

    @cached_property
    def _items(self) -> dict[int, list[int]]:
        items: dict[int, list[int]] = {}
        for item, kind in enumerate(self.kinds):
            items.setdefault(kind, []).append(item)
        return items

    @cached_property
    def _ways(self) -> dict[int, list[tuple[slice, int]]]:
        """For each kind, the item that is shortest among those that fit, by ranges of levels."""
        ways: dict[int, list[tuple[slice, int]]] = {}
        for kind in set(self.kinds):
            ranges: list[tuple[int, int, int]] = []
            for row in range(len(self.levels)):
                item = self.item(kind, row)
                if item is None:
                    continue
                if ranges and ranges[-1][2] == item:
                    ranges[-1] = (ranges[-1][0], row + 1, item)
                else:
                    ranges.append((row, row + 1, item))
            ways[kind] = [(slice(begin, end), item) for begin, end, item in ranges]
        return ways

    def _lead(self, item: int, copies: int) -> tuple[Table, int]:
        """Return the point left after so many copies at each point, and the first with room."""
        import numpy as np

        key = (item, copies)
        if key not in self._leads:
            points = np.array(self.points, dtype=np.int64)
            rest = points - copies * self.lengths[item]
            lead = np.searchsorted(points, rest, "right") - 1
            self._leads[key] = lead, int(np.searchsorted(rest, 0))
        return self._leads[key]

    def item(self, kind: int, row: int) -> int | None:
        """Return the item of the kind that is shortest among those that fit the level."""
        fitting = [item for item in self._items[kind] if self.widths[item] <= self.levels[row]]
        return min(fitting, key=lambda item: self.lengths[item]) if fitting else None

    def read_strip(self, takings: list[Taking], row: int, at: int) -> list[Tree]:
        """Return the pieces of the best strip of a level (its row) that ends at a point."""
        pieces: list[Tree] = []
        for kind, copies, took in reversed(takings):
            if took[row, at]:
                item = self.item(kind, row)
                if item is None:
                    raise AssertionError("a piece was taken that does not fit")
                pieces.extend([self.variants[item]] * copies)
                at = int(self._lead(item, copies)[0][at])
        pieces.reverse()
        return pieces

    def _combine(self) -> None:
        """Combine strips into sections and sections into the sheet."""
        import numpy as np

        if self.rounds == 2:
            self.total = _knapsack(
                self.level_back, self.along_points, self.levels, self.strips[:, -1]
            )
            return
        self.sections = self._stack(self.strips)
        full = self.sections[-1]
        if self.one_row:
            self.total = full
            return
        total = np.zeros(len(full), dtype=np.int64)
        for at in range(1, len(total)):
            reached = full[1 : at + 1] + total[self.section_back[at]]
            total[at] = max(total[at - 1], reached.max())
        self.total = total

    def _stack(self, strips: Table) -> Table:
        """Return the best value of a section for each height and each width among the columns."""
        import numpy as np

        sections = np.zeros((len(self.across_points), strips.shape[1]), dtype=np.int64)
        for at in range(1, len(self.across_points)):
            upto = bisect.bisect_right(self.levels, self.across_points[at])
            reached = strips[:upto] + sections[self.back_across[at, :upto]]
            np.maximum(sections[at - 1], reached.max(axis=0), out=sections[at])
        return sections

    def _tree_from(self, total: Table, at: int) -> Tree:
        """Read back the sections along the sheet."""
        sections: list[Tree] = []
        while at > 0:
            if total[at] == total[at - 1]:
                at -= 1
                continue
            if self.one_row:
                return (self._section_tree(at),)
            if self.rounds == 3:
                reached = self.sections[-1][1 : at + 1] + total[self.section_back[at]]
                width = int((reached == total[at]).argmax()) + 1
                sections.append(self._section_tree(width))
                at = int(self.section_back[at][width - 1])
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
            sizes, gains = self.levels, self.strips[:, -1]
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
        column = self.sections[:, width]
        while at > 0:
            if column[at] == column[at - 1]:
                at -= 1
                continue
            upto = bisect.bisect_right(self.levels, self.across_points[at])
            reached = self.strips[:upto, width] + column[self.back_across[at, :upto]]
            level = int((reached == column[at]).argmax())
            strips.append(self._strip_tree(level, width))
            at = int(self.back_across[at, level])
        return tuple(strips)

    def _strip_tree(self, level: int, at: int) -> Tree:
        """Read back the pieces of one strip."""
        return tuple(self.read_strip(self._takings, level, at))


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
            best = max(best, numpy.max(total[back[at, :upto]] + gains[:upto]))
        total[at] = best
    return total
