"""Fills one sheet with the pieces that are still wanted, never with more copies than that.

Within a strip the best choice is exact. Strips and sections are first put together as if pieces
could repeat, then read back one by one; where the pieces have run out, the rest is planned anew.
That proves nothing, but it is good where most pieces are wanted once or twice.
"""

from __future__ import annotations

import bisect
from typing import TYPE_CHECKING, TypeAlias

from catalogue.calc.cutting.integers import CuttingProblem, Filling, Tree, count_kinds
from catalogue.calc.cutting.patterns import SheetFiller

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table: TypeAlias = NDArray[np.int64]


class BoundedFiller(SheetFiller):
    """A SheetFiller for two or three rounds that respects how many copies are left."""

    def __init__(self, problem: CuttingProblem, sheet: int, first: int, rounds: int) -> None:
        super().__init__(problem, sheet, first, rounds)
        self.problem = problem

    def fill(self, left: list[int], worth: list[int]) -> Filling | None:
        """Return a filling of high worth that takes at most the pieces left."""
        tree = self.sections_in(self.length, left, worth)
        if not tree:
            return None
        counts = count_kinds(tree, self.problem.variants, len(self.problem.counts))
        return Filling(self.sheet, self.first, tree, counts)

    def sections_in(self, room: int, left: list[int], worth: list[int]) -> tuple[Tree, ...]:
        """Return sections of high worth that together take at most so much of the length."""
        left = list(left)
        at = bisect.bisect_right(self.along_points, room) - 1
        self._plan(left, worth, at)
        sections: list[Tree] = []
        while at > 0:
            if self.total[at] == self.total[at - 1]:
                at -= 1
                continue
            width, before = self._widest(at)
            section, again = self._take_section(width, left, worth)
            if section == ():
                break
            sections.append(section)
            at = before
            if again and at:
                self._plan(left, worth, at)
        return tuple(sections)

    def _plan(self, left: list[int], worth: list[int], last: int) -> None:
        """Fill the tables up to the last point along that matters."""
        columns = last + 1 if self.rounds == 3 else len(self.points)
        self.strips, self._takings = self.strips_within(left, worth, columns)
        self._combine()

    def _widest(self, at: int) -> tuple[int, int]:
        """Return the widest section (its index) that ends at this point, and where it begins."""
        if self.one_row:
            return at, 0
        if self.rounds == 3:
            reached = self.sections[-1][1 : at + 1] + self.total[self.section_back[at]]
            width = at - int((reached[::-1] == self.total[at]).argmax())
            return width, int(self.section_back[at][width - 1])
        upto = bisect.bisect_right(self.levels, self.along_points[at])
        before = self.level_back[at, :upto]
        reached = self.strips[:upto, -1] + self.total[before]
        level = upto - 1 - int((reached[::-1] == self.total[at]).argmax())
        return level, int(before[level])

    def _take_section(self, width: int, left: list[int], worth: list[int]) -> tuple[Tree, bool]:
        """Read back one section, taking its pieces from `left`; say whether it was replanned."""
        if self.rounds == 2:
            pieces = self.read_strip(self._takings, width, len(self.points) - 1)
            again = not self._take(pieces, left)
            if again:
                strips, takings = self.strips_within(left, worth, len(self.points))
                pieces = self.read_strip(takings, width, len(self.points) - 1)
                self._take(pieces, left)
            return tuple(pieces), True
        strips, takings = self.strips, self._takings
        column = self.sections[:, width]
        taken: list[Tree] = []
        again = False
        at = len(self.across_points) - 1
        while at > 0:
            if column[at] == column[at - 1]:
                at -= 1
                continue
            upto = bisect.bisect_right(self.levels, self.across_points[at])
            reached = strips[:upto, width] + column[self.back_across[at, :upto]]
            level = upto - 1 - int((reached[::-1] == column[at]).argmax())
            pieces = self.read_strip(takings, level, width)
            if self._take(pieces, left):
                taken.append(tuple(pieces) if len(pieces) > 1 else pieces[0])
                at = int(self.back_across[at, level])
                continue
            again = True
            strips, takings = self.strips_within(left, worth, width + 1)
            column = self._stack(strips[:, width:])[:, 0]
        return tuple(taken), again

    def _take(self, pieces: list[Tree], left: list[int]) -> bool:
        """Take the pieces from `left` if there are enough, else leave it as it is."""
        counts = count_kinds(tuple(pieces), self.problem.variants, len(left))
        if any(many > have for many, have in zip(counts, left, strict=True)):
            return False
        for kind, many in enumerate(counts):
            left[kind] -= many
        return True
