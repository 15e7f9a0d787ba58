"""Tries to do with one sheet less: takes sections off sheets and fills their room anew, many times.

Most pieces lie on the sheets that are allowed; some find no room. Each turn takes a few sections
off one sheet and fills the room with the best of what is at hand then, with the worth of the pieces
shaken a little. What comes of it is kept unless clearly more is left without room ("ruin and
recreate", G. Schrimpf, J. Schneider, H. Stamm-Wilbrandt and G. Dueck, Journal of Computational
Physics 159 (2000), 139-171). It helps where few sheets must be filled almost without waste and each
piece is wanted only a few times. Nothing is proven by it.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from catalogue.calc.cutting.bounded import BoundedFiller
from catalogue.calc.cutting.integers import Filling, Tree, count_kinds, tree_size
from catalogue.calc.cutting.start import Use
from catalogue.calc.cutting.state import SearchState

MOST_PIECES = 400
# what may be left without room beyond the least so far, as a part of a sheet
LENIENCE = 0.02
# by how much the worth of a piece is shaken, and how many sections are taken off at most
SHAKE = 0.1
MOST_OFF = 5


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One sheet: who fills it, its sections, and what each takes of the length."""

    filler: BoundedFiller
    sections: tuple[Tree, ...]
    lengths: tuple[int, ...]


def try_one_sheet_less(
    state: SearchState, fillers: list[BoundedFiller], until: float, most: int, seed: int = 1
) -> None:
    """Offer a plan of one sheet less if `most` turns find one; for jobs with one kind of sheet."""
    problem = state.problem
    while (
        state.best is not None
        and not state.proven
        and state.best_cost > 1
        and len(problem.sheets) == 1
        and fillers
        and sum(problem.counts) <= MOST_PIECES
        and state.course.clock() < until
    ):
        found = _Repair(state, fillers, state.best, until, seed).run(most)
        if found is None:
            return
        state.offer(found)


class _Repair:
    """The sheets that are allowed, and the pieces left without room on them."""

    def __init__(
        self,
        state: SearchState,
        fillers: list[BoundedFiller],
        plan: list[Use],
        until: float,
        seed: int,
    ) -> None:
        self.state, self.problem, self.fillers, self.until = state, state.problem, fillers, until
        self.areas = self.problem.areas()
        self.worth = self.problem.worth_by_area()
        # the same numbers each time, so that a plan can be made again
        self.rng = random.Random(seed)  # noqa: S311  # nothing secret
        filled = [filling for filling, times in plan for _ in range(times)]
        filled.sort(key=lambda filling: -self.area(filling.counts))
        self.sheets = [self.opened(filling) for filling in filled[:-1]]
        self.left = list(self.problem.counts)
        for sheet in self.sheets:
            self.take(sheet.sections, -1)

    def run(self, most: int) -> list[Use] | None:
        room = self.problem.sheets[0].width * self.problem.sheets[0].height
        least = current = self.area(self.left)
        for turn in range(most):
            if self.state.course.clock() > self.until:
                return None
            self.state.tell("Trying one sheet less")
            at = self.rng.randrange(len(self.sheets))
            old, left = self.sheets[at], list(self.left)
            self.sheets[at] = self.changed(old)
            lenience = LENIENCE * room * (1 - turn % 1000 / 1000)
            now = self.area(self.left)
            if now == 0:
                return self.plan()
            if now <= current or now <= least + lenience:
                current, least = now, min(least, now)
            else:
                self.sheets[at], self.left = old, left
        return None

    def opened(self, filling: Filling) -> _Sheet:
        sections = filling.tree if isinstance(filling.tree, tuple) else (filling.tree,)
        filler = next((f for f in self.fillers if f.first == filling.first), None)
        if filler is None:
            return self.sheet(self.fillers[0], ())
        return self.sheet(filler, sections)

    def sheet(self, filler: BoundedFiller, sections: tuple[Tree, ...]) -> _Sheet:
        variants = self.problem.variants
        sizes = [tree_size(section, 1 - filler.first, variants) for section in sections]
        return _Sheet(filler, sections, tuple(size[filler.first] for size in sizes))

    def changed(self, sheet: _Sheet) -> _Sheet:
        """Return the sheet with some sections taken off and the room filled anew."""
        count = len(sheet.sections)
        off = set(self.rng.sample(range(count), min(count, self.rng.randint(1, MOST_OFF))))
        kept = tuple(section for at, section in enumerate(sheet.sections) if at not in off)
        self.take([sheet.sections[at] for at in sorted(off)], 1)
        filler = sheet.filler if kept else self.rng.choice(self.fillers)
        room = filler.length - sum(n for at, n in enumerate(sheet.lengths) if at not in off)
        shaken = [
            max(1, int(worth * self.rng.uniform(1 - SHAKE, 1 + SHAKE))) for worth in self.worth
        ]
        added = filler.sections_in(room, self.left, shaken)
        self.take(added, -1)
        return self.sheet(filler, kept + added)

    def take(self, sections: list[Tree] | tuple[Tree, ...], sign: int) -> None:
        """Add the pieces of the sections to those left (sign 1) or take them (-1)."""
        held = count_kinds(tuple(sections), self.problem.variants, len(self.left))
        self.left = [n + sign * many for n, many in zip(self.left, held, strict=True)]

    def area(self, counts: list[int] | tuple[int, ...]) -> int:
        return sum(n * area for n, area in zip(counts, self.areas, strict=True))

    def plan(self) -> list[Use]:
        variants, kinds = self.problem.variants, len(self.problem.counts)
        return [
            (Filling(0, s.filler.first, s.sections, count_kinds(s.sections, variants, kinds)), 1)
            for s in self.sheets
            if s.sections
        ]
