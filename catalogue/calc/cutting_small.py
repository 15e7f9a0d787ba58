"""Solves small jobs outright: the cheapest sheets for every number of copies, step by step.

A job with few copies has few different "parts of the job" (so many of this, so many of that).
For each part the tables hold how high a section of a given width must be, how wide a sheet of a
given height, and how little its sheets may cost. No layout of the class is left out, so the result
is both a plan and a proof. The work grows with the product of the counts, hence only small jobs.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from catalogue.calc.cutting_integers import (
    ALONG_X,
    ALONG_Y,
    Filling,
    Problem,
    Tree,
    count_kinds,
)
from catalogue.calc.cutting_patterns import TooManyPoints, normal_points
from catalogue.calc.cutting_start import Use

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table: TypeAlias = NDArray[np.int64]

MOST_PARTS = 30_000
MOST_WORK = 600_000_000
FAR = 1 << 60


class OutOfReach(Exception):
    """The job has too many parts, or the time is up."""


@dataclass(frozen=True, slots=True)
class Exact:
    """The least cost of all plans in the class, and a plan that has it (with surplus at most)."""

    cost: int
    uses: list[Use]


def solve_small(problem: Problem, rounds: int, deadline: float) -> Exact:
    """Return the optimum when sheets are plentiful; raise OutOfReach when it takes too much."""
    if count_parts(problem) > MOST_PARTS:
        raise OutOfReach
    return _Parts(problem, rounds, deadline).solve()


def count_parts(problem: Problem) -> int:
    """Return how many different parts the job has."""
    return math.prod(count + 1 for count in problem.counts)


class _Parts:
    def __init__(self, problem: Problem, rounds: int, deadline: float) -> None:
        import numpy as np

        self.problem = problem
        self.rounds = rounds
        self.deadline = deadline
        self.kinds = [kind for kind, count in enumerate(problem.counts) if count]
        self.shape = tuple(problem.counts[kind] + 1 for kind in self.kinds)
        self.size = math.prod(self.shape)
        pairs = math.prod(side * (side + 1) // 2 for side in self.shape)
        if pairs * (2 * len(problem.sheets) + 1) > MOST_WORK:
            raise OutOfReach
        self.parts = np.stack([axis.ravel() for axis in np.indices(self.shape)], axis=1).astype(
            np.int64
        )
        self.strides = np.array(
            [math.prod(self.shape[at + 1 :]) for at in range(len(self.shape))], dtype=np.int64
        )

    def solve(self) -> Exact:
        import numpy as np

        sections = {first: _Sections(self, first) for first in (ALONG_X, ALONG_Y)}
        cheapest = np.full(self.shape, FAR, dtype=np.int64)
        source = np.full(self.shape, -1, dtype=np.int64)
        sheets: list[_SheetTable] = []
        for index, sheet in enumerate(self.problem.sheets):
            if sheet.available == 0:
                continue
            for first in (ALONG_X, ALONG_Y):
                table = _SheetTable(self, sections[first], index)
                better = table.holds & (cheapest > sheet.cost)
                cheapest[better] = sheet.cost
                source[better] = len(sheets)
                sheets.append(table)
        cheapest.flat[0] = FAR
        total = self.best_sums(cheapest)
        cost = int(total.flat[-1])
        if cost >= FAR:
            raise OutOfReach
        uses: list[Use] = []
        for part in self.split(cheapest, total, self.size - 1):
            uses.append((sheets[int(source.flat[part])].filling(part), 1))
        return Exact(cost, uses)

    def best_sums(self, pieces: Table) -> Table:
        """Return, for each part, the least sum of `pieces` over ways to split it into parts."""
        import numpy as np

        total = np.full(self.shape, FAR, dtype=np.int64)
        total.flat[0] = 0
        for at in range(1, self.size):
            if at % 256 == 0:
                self.check_time()
            ahead, behind = self._slices(at)
            total.flat[at] = min(FAR, int((pieces[ahead] + total[behind]).min()))
        return total

    def split(self, pieces: Table, total: Table, part: int) -> Iterator[int]:
        """Yield the parts whose `pieces` add up to the least sum of the given part."""
        import numpy as np

        while part:
            ahead, behind = self._slices(part)
            sums = pieces[ahead] + total[behind]
            chosen = np.unravel_index(int(sums.argmin()), sums.shape)
            taken = int(sum(int(c) * int(s) for c, s in zip(chosen, self.strides, strict=True)))
            yield taken
            part -= taken

    def _slices(self, at: int) -> tuple[tuple[slice, ...], tuple[slice, ...]]:
        counts = [int(count) for count in self.parts[at]]
        return (
            tuple(slice(0, count + 1) for count in counts),
            tuple(slice(count, None, -1) for count in counts),
        )

    def check_time(self) -> None:
        if time.monotonic() > self.deadline:
            raise OutOfReach


class _Sections:
    """For each part and each width: how high a section must be that holds the part in strips."""

    def __init__(self, parts: _Parts, first: int) -> None:
        import numpy as np

        self.owner, self.first = parts, first
        problem = parts.problem
        along = first == ALONG_X
        length = max(sheet.width if along else sheet.height for sheet in problem.sheets)
        variants = [
            index
            for index, variant in enumerate(problem.variants)
            if problem.counts[variant.kind]
            and any(index in sheet.variants for sheet in problem.sheets)
        ]
        self.sizes = {
            index: (v.width, v.height) if along else (v.height, v.width)
            for index, v in ((index, problem.variants[index]) for index in variants)
        }
        try:
            self.widths = normal_points(
                length,
                [problem.variants[index].kind for index in variants],
                [self.sizes[index][0] for index in variants],
                problem.counts,
            )[1:]
        except TooManyPoints as error:
            raise OutOfReach from error
        self._find_strips()
        if parts.size * len(self.strip_parts) * len(self.widths) > MOST_WORK:
            raise OutOfReach
        self._fill(np.array(self.widths, dtype=np.int64))

    def _find_strips(self) -> None:
        """List every part that fits into one strip, with its least height for each length."""
        import numpy as np

        parts = self.owner.parts
        strips: list[tuple[int, int, int, tuple[int, ...]]] = []  # part, length, height, variants
        shorter = np.full(len(parts), FAR, dtype=np.int64)
        for level in sorted({size[1] for size in self.sizes.values()}):
            chosen: list[int] = []
            lengths: list[int] = []
            for kind in self.owner.kinds:
                ways = [
                    index
                    for index, size in self.sizes.items()
                    if self.owner.problem.variants[index].kind == kind and size[1] <= level
                ]
                best = min(ways, key=lambda index: self.sizes[index][0], default=-1)
                chosen.append(best)
                lengths.append(self.sizes[best][0] if best >= 0 else FAR >> 24)
            length = parts @ np.array(lengths, dtype=np.int64)
            fits = (length <= self.widths[-1]) & (length < shorter)
            fits[0] = False
            if self.owner.rounds < 3:
                fits &= parts.sum(axis=1) == 1
            for part in np.flatnonzero(fits):
                strips.append((int(part), int(length[part]), level, tuple(chosen)))
            shorter = np.where(fits, length, shorter)
            if len(strips) * self.owner.size > MOST_WORK:
                raise OutOfReach
        self.strip_parts = [strip[0] for strip in strips]
        self.strip_lengths = np.array([strip[1] for strip in strips], dtype=np.int64)
        self.strip_heights = np.array([strip[2] for strip in strips], dtype=np.int64)
        self.strip_variants = [strip[3] for strip in strips]

    def _fill(self, widths: Table) -> None:
        import numpy as np

        owner = self.owner
        cost = np.where(
            self.strip_lengths[:, None] <= widths[None, :], self.strip_heights[:, None], FAR >> 1
        )
        self.costs = cost
        takes = owner.parts[self.strip_parts]
        self.takes = takes
        heights = np.full((owner.size, len(widths)), FAR >> 1, dtype=np.int64)
        heights[0] = 0
        if owner.rounds == 1:
            # the only section is a single piece over the whole height of the sheet
            for strip, part in enumerate(self.strip_parts):
                np.minimum(heights[part], cost[strip], out=heights[part])
            self.heights = heights
            return
        for at in range(1, owner.size):
            if at % 64 == 0:
                owner.check_time()
            useful, rest = self._rests(at)
            np.minimum((heights[rest] + cost[useful]).min(axis=0), FAR >> 1, out=heights[at])
        self.heights = heights

    def _rests(self, at: int) -> tuple[Table, Table]:
        """Return the strips that hold something of the part and nothing beside it, and the rest."""
        import numpy as np

        left = self.owner.parts[at] - self.takes
        useful = np.flatnonzero((left >= 0).all(axis=1))
        return useful, left[useful] @ self.owner.strides

    def tree(self, part: int, height: int) -> Tree:
        """Return the strips of the narrowest section of this height that holds the part."""
        column = int((self.heights[part] <= height).argmax())
        if self.owner.rounds == 1:
            strip = next(
                strip
                for strip, held in enumerate(self.strip_parts)
                if held == part and self.costs[strip, column] <= height
            )
            return self._strip_tree(strip)
        strips: list[Tree] = []
        while part:
            useful, rest = self._rests(part)
            best = int((self.heights[rest, column] + self.costs[useful, column]).argmin())
            strips.append(self._strip_tree(int(useful[best])))
            part = int(rest[best])
        strips.sort(key=repr)
        return tuple(strips)

    def _strip_tree(self, strip: int) -> Tree:
        pieces: list[Tree] = []
        for variant, many in zip(self.strip_variants[strip], self.takes[strip], strict=True):
            pieces.extend([variant] * int(many))
        return pieces[0] if len(pieces) == 1 else tuple(pieces)


class _SheetTable:
    """Which parts one sheet holds when its first cuts go in one direction."""

    def __init__(self, owner: _Parts, sections: _Sections, sheet: int) -> None:
        import numpy as np

        self.owner, self.sections, self.sheet = owner, sections, sheet
        kind = owner.problem.sheets[sheet]
        along = sections.first == ALONG_X
        length, self.height = (kind.width, kind.height) if along else (kind.height, kind.width)
        fits = sections.heights <= self.height
        widths = np.array(sections.widths, dtype=np.int64)
        narrowest = np.where(fits.any(axis=1), widths[fits.argmax(axis=1)], FAR >> 1)
        narrowest[0] = FAR >> 1
        allowed = {owner.problem.variants[index].kind for index in kind.variants}
        for at, number in enumerate(owner.kinds):
            if number not in allowed:
                narrowest[owner.parts[:, at] > 0] = FAR >> 1
        self.narrowest = narrowest.reshape(owner.shape)
        self.needed = owner.best_sums(self.narrowest)
        self.holds = self.needed <= length

    def filling(self, part: int) -> Filling:
        """Return a filling that holds exactly the part."""
        tree = tuple(
            self.sections.tree(section, self.height)
            for section in self.owner.split(self.narrowest, self.needed, part)
        )
        problem = self.owner.problem
        counts = count_kinds(tree, problem.variants, len(problem.counts))
        return Filling(self.sheet, self.sections.first, tree, counts)
