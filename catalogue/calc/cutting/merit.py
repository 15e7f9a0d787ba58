"""How good plans of one cost are to work with: few layouts, few cuts, then a large offcut.

Each layout is looked at as it would be laid: the same pieces can lie on a sheet in several ways,
and the way with the fewest cuts is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from catalogue.calc.cutting.bounded import BoundedFiller
from catalogue.calc.cutting.cuts import divide
from catalogue.calc.cutting.integers import (
    CuttingProblem,
    Filling,
    Tree,
    Variant,
    place_tree,
    tree_size,
)
from catalogue.calc.cutting.patterns import SheetFiller
from catalogue.calc.cutting.start import Use, rows_on_one_sheet

# layouts, cuts (a tight layout counts as some more), and the largest offcut, taken off zero
Merit: TypeAlias = tuple[int, int, int]

# A layout is tight when a sheet smaller by this part of its longer side spoils it: 1.5 mm on 12 in.
# Such a sheet has to be measured first, which costs about as much as these cuts (no source).
TIGHT_PART = 200
TIGHT_CUTS = 2
# more pieces than that are left as they lie: looking at every way would take too long
MOST_PIECES_LAID = 80


@dataclass(frozen=True, slots=True)
class Handling:
    """What one sheet of a layout takes: its cuts, whether it is tight, its largest offcut."""

    cuts: int
    is_tight: bool
    largest_offcut: int

    @property
    def effort(self) -> int:
        return self.cuts + (TIGHT_CUTS if self.is_tight else 0)


class Handler:
    """Lays fillings well, and remembers how each is handled."""

    def __init__(
        self, problem: CuttingProblem, fillers: Sequence[SheetFiller], is_over: Callable[[], bool]
    ) -> None:
        self._problem = problem
        self._is_over = is_over
        self._fillers = [filler for filler in fillers if isinstance(filler, BoundedFiller)]
        self._laid: dict[tuple[int, tuple[int, ...]], tuple[Filling, Handling]] = {}
        self._worth = problem.worth_by_area()

    def merit(self, plan: Sequence[Use]) -> Merit:
        """Return what makes a plan easy to work with; of two plans the smaller is better."""
        handled = [(self.laid(filling)[1], times) for filling, times in plan]
        return (
            len(plan),
            sum(handling.effort * times for handling, times in handled),
            -max(handling.largest_offcut for handling, _ in handled),
        )

    def laid(self, filling: Filling) -> tuple[Filling, Handling]:
        """Return the pieces of the filling as they are best laid on its sheet."""
        key = (filling.sheet, filling.counts)
        if key not in self._laid:
            few = sum(filling.counts) <= MOST_PIECES_LAID and not self._is_over()
            self._laid[key] = self._best(self._ways(filling) if few else [filling])
        return self._laid[key]

    def offer(self, filling: Filling) -> None:
        """Take in one more way to lay the pieces of a filling."""
        self._laid[filling.sheet, filling.counts] = self._best([self.laid(filling)[0], filling])

    def _best(self, ways: Iterable[Filling]) -> tuple[Filling, Handling]:
        handled = [(way, handling_of(self._problem, way)) for way in ways]
        return min(handled, key=lambda one: (one[1].effort, -one[1].largest_offcut))

    def _ways(self, filling: Filling) -> Iterator[Filling]:
        yield filling
        variants = self._problem.variants
        yield replace(filling, tree=put_alike_together(filling.tree, filling.first, variants))
        sheet = self._problem.sheets[filling.sheet]
        less = -(-max(sheet.width, sheet.height) // TIGHT_PART)
        for narrower in (0, less):
            yield from rows_on_one_sheet(self._problem, filling.sheet, filling.counts, narrower)
        for filler in self._fillers:
            if filler.sheet == filling.sheet:
                other = filler.fill(list(filling.counts), self._worth)
                if other is not None and other.counts == filling.counts:
                    yield other


def handling_of(problem: CuttingProblem, filling: Filling) -> Handling:
    """Return how one sheet of the filling is handled, laid just as it is."""
    sheet = problem.sheets[filling.sheet]
    boxes = [
        (x, y, problem.variants[index].width, problem.variants[index].height)
        for index, x, y in place_tree(filling.tree, filling.first, problem.variants)
    ]
    division = divide(boxes, sheet.width, sheet.height, problem.rounds)
    return Handling(
        cuts=len(division.cuts),
        is_tight=division.slack * TIGHT_PART < max(sheet.width, sheet.height),
        largest_offcut=max((width * height for _, _, width, height in division.offcuts), default=0),
    )


def put_alike_together(tree: Tree, first: int, variants: tuple[Variant, ...]) -> Tree:
    """Return the same tree with parts of one size beside each other, so that a cut serves many."""
    if isinstance(tree, int):
        return tree
    parts = [put_alike_together(part, 1 - first, variants) for part in tree]
    sizes = [tree_size(part, 1 - first, variants) for part in parts]
    order = sorted(range(len(parts)), key=lambda at: (sizes[at][1 - first], sizes[at][first], at))
    return tuple(parts[at] for at in reversed(order))
