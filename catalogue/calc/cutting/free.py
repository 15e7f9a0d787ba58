"""The most valuable way to fill one sheet with any number of rounds of edge-to-edge cuts.

The table holds the best value of every rectangle whose sides are reachable lengths; a rectangle
is a piece or is cut in two, one way or the other. It is used for its exact value, as a bound for
more cutting stages than the staged tables know, and for its fillings where more are allowed.
"""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeAlias

from catalogue.calc.cutting.integers import ALONG_X, CuttingProblem, Tree
from catalogue.calc.cutting.points import TooManyPoints, points_for

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table: TypeAlias = NDArray[np.int64]

MOST_CELLS = 40_000


class FreeFiller:
    """Fills one kind of sheet with any number of rounds; its trees start with cuts along x."""

    first = ALONG_X

    def __init__(self, problem: CuttingProblem, sheet: int) -> None:
        import numpy as np

        kind = problem.sheets[sheet]
        self.sheet = sheet
        self.variants = list(kind.variants)
        self._chosen = [problem.variants[index] for index in self.variants]
        kinds = [variant.kind for variant in self._chosen]
        self._xs = points_for(
            kind.width, kinds, [variant.width for variant in self._chosen], problem.counts
        )
        self._ys = points_for(
            kind.height, kinds, [variant.height for variant in self._chosen], problem.counts
        )
        if len(self._xs) * len(self._ys) > MOST_CELLS:
            raise TooManyPoints
        # the smaller part of a cut is at most half as long as the whole
        self._half_x = [bisect.bisect_right(self._xs, x // 2) for x in self._xs]
        self._half_y = [bisect.bisect_right(self._ys, y // 2) for y in self._ys]
        self._back_x = _differences(np.array(self._xs, dtype=np.int64))
        self._back_y = _differences(np.array(self._ys, dtype=np.int64))

    def best(self, values: Sequence[int]) -> int:
        """Return the greatest total value one sheet can hold; `values` has one number per kind."""
        import numpy as np

        xs, ys = np.array(self._xs, dtype=np.int64), np.array(self._ys, dtype=np.int64)
        table = np.zeros((len(xs), len(ys)), dtype=np.int64)
        single = np.full((len(xs), len(ys)), -1, dtype=np.int64)
        for item, variant in enumerate(self._chosen):
            value = values[variant.kind]
            holds = (xs[:, None] >= variant.width) & (ys[None, :] >= variant.height)
            better = holds & (table < value)
            table[better] = value
            single[better] = item
        for column in range(1, len(xs)):
            row = table[column]
            np.maximum(row, table[column - 1], out=row)
            half = self._half_x[column]
            if half > 1:
                parts = table[1:half] + table[self._back_x[column, 1:half]]
                np.maximum(row, parts.max(axis=0), out=row)
            for at in range(1, len(ys)):
                half = self._half_y[at]
                best = max(row[at], row[at - 1])
                if half > 1:
                    best = max(best, (row[1:half] + row[self._back_y[at, 1:half]]).max())
                row[at] = best
        self._table, self._values = table, values
        return int(table[-1, -1])

    def best_tree(self) -> Tree:
        """Return a cut tree that reaches the value `best` found last."""
        return self._along_x(len(self._xs) - 1, len(self._ys) - 1)

    def _along_x(self, column: int, at: int) -> tuple[Tree, ...]:
        """Read back a rectangle as parts side by side; each part is cut along y next."""
        column, at, split = self._shrink(column, at)
        if column == 0 or at == 0:
            return ()
        if split is None:
            return ((self._piece(column, at),),)
        if split[0] == ALONG_X:
            return self._along_x(split[1], at) + self._along_x(split[2], at)
        inner = self._along_y(column, at)
        return (inner,) if inner else ()

    def _along_y(self, column: int, at: int) -> tuple[Tree, ...]:
        column, at, split = self._shrink(column, at)
        if column == 0 or at == 0:
            return ()
        if split is None:
            return ((self._piece(column, at),),)
        if split[0] != ALONG_X:
            return self._along_y(column, split[1]) + self._along_y(column, split[2])
        inner = self._along_x(column, at)
        return (inner,) if inner else ()

    def _shrink(self, column: int, at: int) -> tuple[int, int, tuple[int, int, int] | None]:
        """Make the rectangle as small as its value allows and say how it is cut in two."""
        table = self._table
        value = table[column, at]
        if value == 0:
            return 0, 0, None
        while column and table[column - 1, at] == value:
            column -= 1
        while at and table[column, at - 1] == value:
            at -= 1
        half = self._half_x[column]
        sums = table[1:half, at] + table[self._back_x[column, 1:half], at]
        hits = (sums == value).nonzero()[0]
        if len(hits):
            one = int(hits[0]) + 1
            return column, at, (ALONG_X, one, int(self._back_x[column, one]))
        half = self._half_y[at]
        sums = table[column, 1:half] + table[column, self._back_y[at, 1:half]]
        hits = (sums == value).nonzero()[0]
        if len(hits):
            one = int(hits[0]) + 1
            return column, at, (1 - ALONG_X, one, int(self._back_y[at, one]))
        return column, at, None

    def _piece(self, column: int, at: int) -> int:
        value = self._table[column, at]
        for item, variant in enumerate(self._chosen):
            fits = variant.width <= self._xs[column] and variant.height <= self._ys[at]
            if fits and self._values[variant.kind] == value:
                return self.variants[item]
        raise AssertionError("the table holds a value no piece explains")


def _differences(points: Table) -> Table:
    """Return, for each pair of points, the index of the largest point within their difference."""
    import numpy as np

    return np.searchsorted(points, points[:, None] - points[None, :], "right") - 1
