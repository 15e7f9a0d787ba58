"""Fills one sheet with the pieces that are still wanted, never with more copies than that.

Within a strip the best choice is exact. Strips and sections are first put together as if pieces
could repeat, then read back one by one; where the pieces have run out, the rest is planned anew.
That proves nothing, but it is good where most pieces are wanted once or twice.
"""

from __future__ import annotations

import bisect
from typing import TYPE_CHECKING, TypeAlias

from catalogue.calc.cutting_integers import Filling, Problem, Tree, count_kinds
from catalogue.calc.cutting_patterns import SheetFiller

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table: TypeAlias = NDArray[np.int64]
    # kind, copies taken together, and at which level and length taking them is best
    Step: TypeAlias = tuple[int, int, NDArray[np.bool_]]


class BoundedFiller(SheetFiller):
    """A SheetFiller for two or three rounds that respects how many copies are left."""

    def __init__(self, problem: Problem, sheet: int, first: int, rounds: int) -> None:
        super().__init__(problem, sheet, first, rounds)
        self.problem = problem
        self._leads: dict[tuple[int, int], Table | None] = {}
        three = rounds == 3
        self._sizes = self.along if three else self.across
        self._others = self.across if three else self.along
        self._points = self.along_points if three else self.across_points

    def fill(self, left: list[int], worth: list[int]) -> Filling | None:
        """Return a filling of high worth that takes at most the pieces left."""
        left = list(left)
        self._plan(left, worth)
        sections: list[Tree] = []
        at = len(self.along_points) - 1
        while at > 0:
            if self._total[at] == self._total[at - 1]:
                at -= 1
                continue
            width, before = self._widest(at)
            section, again = self._take_section(width, left, worth)
            if section == ():
                break
            sections.append(section)
            at = before
            if again and at:
                self._plan(left, worth)
        if not sections:
            return None
        tree = tuple(sections)
        counts = count_kinds(tree, self.problem.variants, len(self.problem.counts))
        return Filling(self.sheet, self.first, tree, counts)

    def _plan(self, left: list[int], worth: list[int]) -> None:
        self._strips, self._steps = self._bounded_strips(left, worth, len(self._points))
        self._combine()

    def _widest(self, at: int) -> tuple[int, int]:
        """Return the widest section (its index) that ends at this point, and where it begins."""
        if self._one_row:
            return at, 0
        if self.rounds == 3:
            reached = self._sections[-1][1 : at + 1] + self._total[self._section_back[at]]
            width = at - int((reached[::-1] == self._total[at]).argmax())
            return width, int(self._section_back[at][width - 1])
        upto = bisect.bisect_right(self._levels, self.along_points[at])
        before = self._level_back[at, :upto]
        reached = self._strips[:upto, -1] + self._total[before]
        level = upto - 1 - int((reached[::-1] == self._total[at]).argmax())
        return level, int(before[level])

    def _take_section(self, width: int, left: list[int], worth: list[int]) -> tuple[Tree, bool]:
        """Read back one section, taking its pieces from `left`; say whether it was replanned."""
        if self.rounds == 2:
            pieces = self._read_strip(self._steps, width, len(self._points) - 1)
            again = not self._take(pieces, left)
            if again:
                strips, steps = self._bounded_strips(left, worth, len(self._points))
                pieces = self._read_strip(steps, width, len(self._points) - 1)
                self._take(pieces, left)
            return tuple(pieces), True
        strips, steps = self._strips, self._steps
        column = self._sections[:, width]
        taken: list[Tree] = []
        again = False
        at = len(self.across_points) - 1
        while at > 0:
            if column[at] == column[at - 1]:
                at -= 1
                continue
            upto = bisect.bisect_right(self._levels, self.across_points[at])
            reached = strips[:upto, width] + column[self._back_across[at, :upto]]
            level = upto - 1 - int((reached[::-1] == column[at]).argmax())
            pieces = self._read_strip(steps, level, width)
            if self._take(pieces, left):
                taken.append(tuple(pieces) if len(pieces) > 1 else pieces[0])
                at = int(self._back_across[at, level])
                continue
            again = True
            strips, steps = self._bounded_strips(left, worth, width + 1)
            column = self._stack(strips[:, width:])[:, 0]
        return tuple(taken), again

    def _bounded_strips(
        self, left: list[int], worth: list[int], columns: int
    ) -> tuple[Table, list[Step]]:
        """Return the best values of strips within the copies left, and the steps to them."""
        import numpy as np

        best = np.zeros((len(self._levels), columns), dtype=np.int64)
        steps: list[Step] = []
        for kind in sorted(set(self.kinds), key=lambda kind: (-worth[kind], kind)):
            many, size = left[kind], 1
            while many > 0 and worth[kind] > 0:
                size = min(size, many)
                lead = self._lead(kind, size)
                if lead is None:
                    break
                lead = lead[:, :columns]
                with_it = np.take_along_axis(best, np.maximum(lead, 0), axis=1)
                with_it += size * worth[kind]
                took = (lead >= 0) & (with_it > best)
                best = np.where(took, with_it, best)
                steps.append((kind, size, took))
                many -= size
                size *= 2
        return best, steps

    def _lead(self, kind: int, copies: int) -> Table | None:
        """Return, for each level and point, the point left after so many copies, -1 for none."""
        import numpy as np

        key = (kind, copies)
        if key not in self._leads:
            points = np.array(self._points, dtype=np.int64)
            lead = np.full((len(self._levels), len(points)), -1, dtype=np.int64)
            for row, level in enumerate(self._levels):
                item = self._item(kind, level)
                if item is not None:
                    rest = points - copies * self._sizes[item]
                    lead[row] = np.searchsorted(points, rest, "right") - 1
            self._leads[key] = lead if (lead >= 0).any() else None
        return self._leads[key]

    def _item(self, kind: int, level: int) -> int | None:
        """Return the item of the kind that is shortest among those that fit the level."""
        fitting = [
            item for item, of in enumerate(self.kinds) if of == kind and self._others[item] <= level
        ]
        return min(fitting, key=lambda item: self._sizes[item]) if fitting else None

    def _read_strip(self, steps: list[Step], level: int, at: int) -> list[Tree]:
        pieces: list[Tree] = []
        for kind, copies, took in reversed(steps):
            if took[level, at]:
                item = self._item(kind, self._levels[level])
                lead = self._lead(kind, copies)
                if item is None or lead is None:
                    raise AssertionError("a step was taken with a piece that does not fit")
                pieces.extend([self.variants[item]] * copies)
                at = int(lead[level, at])
        pieces.reverse()
        return pieces

    def _take(self, pieces: list[Tree], left: list[int]) -> bool:
        """Take the pieces from `left` if there are enough, else leave it as it is."""
        counts = count_kinds(tuple(pieces), self.problem.variants, len(left))
        if any(many > have for many, have in zip(counts, left, strict=True)):
            return False
        for kind, many in enumerate(counts):
            left[kind] -= many
        return True
