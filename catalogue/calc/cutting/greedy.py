"""A plan sheet by sheet, the largest piece first, each piece turned the way that helps.

The largest piece left opens a sheet. Beside and above it goes, again and again, the largest piece
that fits, in sections of strips of pieces. Each sheet is tried with either direction of first cuts
and either way to turn its first piece, on each kind of sheet, and the one that gives most area for
its price is cut as often as the pieces last. It is quick for jobs with hundreds of odd sizes, where
the exact tables take too long.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING, TypeAlias

from catalogue.calc.cutting.integers import (
    ALONG_X,
    ALONG_Y,
    CuttingProblem,
    Filling,
    Tree,
    count_kinds,
)
from catalogue.calc.cutting.start import Use, cost_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table: TypeAlias = NDArray[np.int64]

# what decides which piece is the largest: its area, or its longer side first
ORDERS = ("area", "side")
MOST_NUMBER = 1 << 30  # areas stay within 64 bits


def plan_largest_first(problem: CuttingProblem, is_over: Callable[[], bool]) -> list[Use] | None:
    """Return the cheapest of the plans made in several orders, None when none can be made."""
    if max(max(sheet.width, sheet.height) for sheet in problem.sheets) > MOST_NUMBER:
        return None
    best: list[Use] | None = None
    for order in ORDERS:
        plan = _Greedy(problem, order).plan(is_over)
        if plan is not None and (best is None or cost_of(plan, problem) < cost_of(best, problem)):
            best = plan
    return best


class _Greedy:
    """The variants in order, the largest first, and how many of each kind are left."""

    def __init__(self, problem: CuttingProblem, order: str) -> None:
        import numpy as np

        self.problem = problem
        variants = problem.variants

        def size(index: int) -> tuple[int, int]:
            area = variants[index].width * variants[index].height
            side = max(variants[index].width, variants[index].height)
            return (area, side) if order == "area" else (side, area)

        self.order = sorted(range(len(variants)), key=lambda at: (size(at), -at), reverse=True)
        self.widths = np.array([variants[at].width for at in self.order], dtype=np.int64)
        self.heights = np.array([variants[at].height for at in self.order], dtype=np.int64)
        self.kinds = np.array([variants[at].kind for at in self.order], dtype=np.int64)
        self.left = np.array(problem.counts, dtype=np.int64)
        place = {index: at for at, index in enumerate(self.order)}
        self.allowed = np.zeros((len(problem.sheets), len(variants)), dtype=np.bool_)
        for number, sheet in enumerate(problem.sheets):
            self.allowed[number, [place[index] for index in sheet.variants]] = True

    def plan(self, is_over: Callable[[], bool]) -> list[Use] | None:
        import numpy as np

        problem = self.problem
        room = [sheet.available for sheet in problem.sheets]
        uses: list[Use] = []
        while self.left.any():
            filling = self.best_filling(room)
            if filling is None or is_over():
                return None
            held = np.array(filling.counts, dtype=np.int64)
            on_it = held > 0
            times = int(np.min(self.left[on_it] // held[on_it]))
            have = room[filling.sheet]
            if have is not None:
                times = min(times, have)
                room[filling.sheet] = have - times
            self.left -= held * times
            uses.append((filling, times))
        return uses

    def best_filling(self, room: list[int | None]) -> Filling | None:
        """Return the filling around the largest piece that gives most area for its price."""
        import numpy as np

        best: tuple[Fraction, int, int, Tree] | None = None
        kind = int(self.kinds[int(np.argmax(self.left[self.kinds] > 0))])
        for number, sheet in enumerate(self.problem.sheets):
            if room[number] == 0:
                continue
            for at in np.flatnonzero((self.kinds == kind) & self.allowed[number]).tolist():
                for first in (ALONG_X, ALONG_Y):
                    tree, held = self.filling(number, first, at)
                    worth = Fraction(held, max(1, sheet.cost))
                    if best is None or worth > best[0]:
                        best = worth, number, first, tree
        if best is None:
            return None
        _, number, first, tree = best
        counts = count_kinds(tree, self.problem.variants, len(self.problem.counts))
        return Filling(number, first, tree, counts)

    def filling(self, number: int, first: int, opening: int) -> tuple[Tree, int]:
        """Fill a sheet section by section and return the tree and the area it holds.

        `opening` is the first piece (its place in order).
        """
        sheet = self.problem.sheets[number]
        before = self.left.copy()
        self.held = 0
        self.there = self.left[self.kinds] > 0
        self.along, self.across = self.widths, self.heights
        length, height = sheet.width, sheet.height
        if first == ALONG_Y:
            self.along, self.across = self.heights, self.widths
            length, height = height, length
        self.may = self.allowed[number]
        rounds = self.problem.rounds or 3
        sections: list[Tree] = []
        at: int | None = opening
        while at is not None:
            width = int(self.along[at])
            sections.append(self.section(at, width, height, rounds))
            length -= width
            at = self.largest(length, height)
        self.left = before
        return tuple(sections), self.held

    def section(self, at: int, width: int, height: int, rounds: int) -> Tree:
        """Fill a section as wide as the piece that opens it."""
        if rounds == 1:
            return self.take(at)
        strips: list[Tree] = []
        opening: int | None = at
        while opening is not None:
            high = int(self.across[opening])
            pieces: list[Tree] = [self.take(opening)]
            free = width - int(self.along[opening])
            while rounds >= 3 and (beside := self.largest(free, high)) is not None:
                pieces.append(self.take(beside))
                free -= int(self.along[beside])
            strips.append(tuple(pieces) if len(pieces) > 1 else pieces[0])
            height -= high
            opening = self.largest(width, height)
        return tuple(strips)

    def take(self, at: int) -> int:
        kind = self.kinds[at]
        self.left[kind] -= 1
        if self.left[kind] == 0:
            self.there[self.kinds == kind] = False
        self.held += int(self.widths[at]) * int(self.heights[at])
        return self.order[at]

    def largest(self, along: int, across: int) -> int | None:
        """Return the first in order that is left and fits."""
        if along <= 0 or across <= 0:
            return None
        fits = self.may & self.there & (self.along <= along) & (self.across <= across)
        at = int(fits.argmax())
        return at if fits[at] else None
