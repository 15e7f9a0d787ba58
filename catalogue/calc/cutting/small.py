"""Finds every way to fill a sheet, part by part, and from that the best plan of a small job.

A sheet holds only so many pieces of each kind, so there are few different "parts" (so many of this,
so many of that). For each part the tables hold how high a section of a given width must be, and how
wide a sheet of a given height. No layout of the class is left out, so the result is a plan and a
proof. The work grows with the product of the counts: it is for few kinds or few copies.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, TypeAlias

from catalogue.calc.cutting.integers import (
    ALONG_X,
    ALONG_Y,
    CuttingProblem,
    Filling,
    Tree,
    count_kinds,
)
from catalogue.calc.cutting.points import TooManyPoints, normal_points
from catalogue.calc.cutting.start import Use
from catalogue.calc.cutting.watch import Course

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table: TypeAlias = NDArray[np.int64]

MOST_PARTS = 400_000
MOST_ON_A_SHEET = 20_000
MOST_COVERED = 30_000
MOST_WORK = 400_000_000
MOST_NUMBER = 1 << 40  # sums of such numbers stay far below FAR
FAR = 1 << 60


class OutOfReach(Exception):
    """The job has too many parts, or the time is up."""


class SheetParts:
    """All parts that one sheet can hold, for each kind of sheet and each direction of first cuts.

    `caps` is a number of copies of each kind that no sheet exceeds.
    """

    def __init__(
        self, problem: CuttingProblem, rounds: int, caps: list[int], deadline: float, course: Course
    ) -> None:
        import numpy as np

        self.problem, self.rounds, self.deadline, self.course = problem, rounds, deadline, course
        self.kinds = [kind for kind, count in enumerate(problem.counts) if count]
        self.shape = tuple(caps[kind] + 1 for kind in self.kinds)
        self.size = math.prod(self.shape)
        largest = max(max(sheet.cost, sheet.width, sheet.height) for sheet in problem.sheets)
        if self.size > MOST_PARTS or largest > MOST_NUMBER:
            raise OutOfReach
        self.parts = (np.stack([axis.ravel() for axis in np.indices(self.shape)], axis=1)).astype(
            np.int64
        )
        self.strides = np.array(
            [math.prod(self.shape[at + 1 :]) for at in range(len(self.shape))], dtype=np.int64
        )
        areas = [next(v.width * v.height for v in problem.variants_of(kind)) for kind in self.kinds]
        room = max(sheet.width * sheet.height for sheet in problem.sheets)
        self.areas = self.parts @ np.array([area / room for area in areas])
        self.room = room
        self.possible = self.possible_on(room)
        pairs = int(np.prod(self.parts[self.possible] + 1, axis=1).sum())
        if len(self.possible) > MOST_ON_A_SHEET or pairs * len(problem.sheets) > MOST_WORK:
            raise OutOfReach
        sections = {first: _Sections(self, first) for first in (ALONG_X, ALONG_Y)}
        self.sheets = [
            _SheetTable(self, sections[first], index)
            for index, sheet in enumerate(problem.sheets)
            if sheet.available != 0
            for first in (ALONG_X, ALONG_Y)
        ]

    def possible_on(self, area: int) -> Table:
        """Return the parts whose pieces cover no more than the area."""
        import numpy as np

        # a little above, so that rounding never drops a part that fits exactly
        return np.flatnonzero(self.areas <= 1.000001 * area / self.room)

    def cover(self) -> tuple[int, list[Use]]:
        """Return the least cost of the job, sheets being plentiful, and a plan of that cost."""
        import numpy as np

        goal = tuple(self.problem.counts[kind] for kind in self.kinds)
        shape = tuple(count + 1 for count in goal)
        if math.prod(shape) > MOST_COVERED:
            raise OutOfReach
        cheapest = np.full(self.shape, FAR, dtype=np.int64)
        source = np.full(self.shape, -1, dtype=np.int64)
        for number, table in enumerate(self.sheets):
            cost = self.problem.sheets[table.sheet].cost
            better = table.holds & (cheapest > cost)
            cheapest[better] = cost
            source[better] = number
        cheapest.flat[0] = FAR
        # only what one sheet can hold of each kind needs looking at
        held = np.argwhere(cheapest < FAR)
        box = tuple(slice(0, int(most) + 1) for most in held.max(axis=0))
        cheapest = np.ascontiguousarray(cheapest[box])
        total = np.full(shape, FAR, dtype=np.int64)
        total.flat[0] = 0
        for at, target in enumerate(np.ndindex(shape)):
            if at % 256 == 0:
                self.check_time()
            if at:
                ahead, behind = slices(target, cheapest.shape)
                total[target] = min(FAR, int(np.min(cheapest[ahead] + total[behind])))
        cost = int(total[goal])
        if cost >= FAR:
            raise OutOfReach
        uses = []
        for taken in split(cheapest, total, goal):
            number = int(source[taken])
            uses.append((self.sheets[number].filling(self.index_of(taken)), 1))
        return cost, uses

    def index_of(self, counts: tuple[int, ...]) -> int:
        return sum(count * int(stride) for count, stride in zip(counts, self.strides, strict=True))

    def check_time(self) -> None:
        if self.course.clock() > self.deadline:
            raise OutOfReach


def slices(
    counts: tuple[int, ...], shape: tuple[int, ...]
) -> tuple[tuple[slice, ...], tuple[slice, ...]]:
    """Return the slices over all first parts (no larger than `shape`) and over what they leave."""
    most = [min(count, side - 1) for count, side in zip(counts, shape, strict=True)]
    return (
        tuple(slice(0, many + 1) for many in most),
        tuple(
            slice(count, count - many - 1 if count > many else None, -1)
            for count, many in zip(counts, most, strict=True)
        ),
    )


def split(pieces: Table, total: Table, goal: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Yield parts whose `pieces` add up to the least sum for the goal."""
    import numpy as np

    while any(goal):
        ahead, behind = slices(goal, pieces.shape)
        sums = pieces[ahead] + total[behind]
        taken = tuple(int(count) for count in np.unravel_index(int(np.argmin(sums)), sums.shape))
        yield taken
        goal = tuple(count - many for count, many in zip(goal, taken, strict=True))


class _Sections:
    """For each part and each width: how high a section must be that holds the part in strips."""

    def __init__(self, parts: SheetParts, first: int) -> None:
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
        work = len(parts.possible) * len(self.strip_parts) * len(self.widths)
        if work > MOST_WORK:
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
                # a kind too high for this level is longer than any strip
                lengths.append(self.sizes[best][0] if best >= 0 else self.widths[-1] + 1)
            length = parts @ np.array(lengths, dtype=np.int64)
            fits = (length <= self.widths[-1]) & (length < shorter)
            fits[0] = False
            if self.owner.rounds < 3:
                fits &= parts.sum(axis=1) == 1
            for part in np.flatnonzero(fits):
                strips.append((int(part), int(length[part]), level, tuple(chosen)))
            shorter = np.where(fits, length, shorter)
            if len(strips) * len(self.owner.possible) > MOST_WORK:
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
        for turn, at in enumerate(owner.possible[1:]):
            if turn % 64 == 0:
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

    def __init__(self, owner: SheetParts, sections: _Sections, sheet: int) -> None:
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
        self.needed = np.full(owner.shape, FAR, dtype=np.int64)
        self.needed.flat[0] = 0
        for turn, at in enumerate(owner.possible_on(kind.width * kind.height)[1:]):
            if turn % 256 == 0:
                owner.check_time()
            ahead, behind = slices(tuple(owner.parts[at].tolist()), owner.shape)
            sums = self.narrowest[ahead] + self.needed[behind]
            self.needed.flat[at] = min(FAR, int(np.min(sums)))
        self.holds = self.needed <= length

    def filling(self, part: int) -> Filling:
        """Return a filling that holds exactly the part."""
        goal = tuple(self.owner.parts[part].tolist())
        tree = tuple(
            self.sections.tree(self.owner.index_of(section), self.height)
            for section in split(self.narrowest, self.needed, goal)
        )
        problem = self.owner.problem
        counts = count_kinds(tree, problem.variants, len(problem.counts))
        return Filling(self.sheet, self.sections.first, tree, counts)
