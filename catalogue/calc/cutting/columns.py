"""Lists the fillings worth using: all whose worth comes close enough to the price of the sheet.

A plan that makes exactly the pieces wanted costs the bound and, on top, what each of its sheets
falls short of its price; so a plan cheaper than the best one has no sheet that falls short by more
than the difference. Strips are listed first, then sections of strips, then sheets of sections; what
cannot come close enough any more is dropped on the way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from catalogue.calc.cutting.integers import CuttingProblem, Filling, Tree, count_kinds
from catalogue.calc.cutting.patterns import SheetFiller
from catalogue.calc.cutting.steps import FillStep, SheetSteps, rests_by

# counts of all kinds packed into one number
Code: TypeAlias = int


class TooMany(Exception):
    """There are more such fillings than can be looked at."""


class Codes:
    """Packs counts into one number, with a spare bit for each kind that tells when one is over."""

    def __init__(self, most: Sequence[int]) -> None:
        self.shifts: list[int] = []
        self.most = list(most)
        at = full = guard = 0
        for many in most:
            self.shifts.append(at)
            width = many.bit_length() + 1
            full |= ((1 << (width - 1)) - 1 - many) << at
            guard |= 1 << (at + width - 1)
            at += width
        self._full, self._guard = full, guard

    def piece(self, kind: int) -> Code:
        return 1 << self.shifts[kind]

    def is_within(self, code: Code) -> bool:
        """Say whether no count is over its most; two codes within may be added before asking."""
        return not (code + self._full) & self._guard


@dataclass(slots=True)
class _Part:
    """A strip or a section: what it holds, its worth, and how it is put together."""

    code: Code
    value: int
    tree: Tree


def fillings_of(
    steps: SheetSteps,
    problem: CuttingProblem,
    worth: Sequence[int],
    enough: int,
    most: int,
    is_over: Callable[[], bool],
) -> list[Filling]:
    """Return a filling for each way to fill the sheet that is worth `enough`."""
    listing = _Listing(steps, problem, worth, enough, most, is_over)
    filler = steps.filler
    found = listing.sheets()
    fillings = []
    for part in found:
        held = count_kinds(part.tree, problem.variants, len(problem.counts))
        fillings.append(Filling(filler.sheet, filler.first, part.tree, held))
    return fillings


class _Listing:
    def __init__(
        self,
        steps: SheetSteps,
        problem: CuttingProblem,
        worth: Sequence[int],
        enough: int,
        most: int,
        is_over: Callable[[], bool],
    ) -> None:
        self.steps, self.enough, self.left, self.is_over = steps, enough, most, is_over
        self.filler: SheetFiller = steps.filler
        self.worth = [worth[kind] for kind in self.filler.kinds]
        sheet = problem.sheets[self.filler.sheet]
        room = sheet.width * sheet.height
        caps = []
        for kind, count in enumerate(problem.counts):
            areas = [v.width * v.height for v in problem.variants_of(kind)]
            caps.append(min(count, room // areas[0]) if areas else 0)
        self.codes = Codes(caps)

    def sheets(self) -> list[_Part]:
        filler, steps = self.filler, self.steps
        last, last_across, _ = steps.tops
        if filler.rounds == 1:
            return self.rows(steps.top, {last: 0}, 0)[last]
        if filler.rounds == 2:
            rests = rests_by(steps.top)
            strips = {
                level: self.rows(steps.strips[level], {last_across: rest}, level)[last_across]
                for level, rest in rests.items()
            }
            return self.stack(steps.top, last, 0, strips, filler.total.tolist())
        sections = {}
        needed: dict[int, dict[int, int]] = {}
        for width, found in steps.sections.items():
            for level, rest in rests_by(found).items():
                needed.setdefault(level, {})[width] = rest
        rows = {level: self.rows(steps.strips[level], at, level) for level, at in needed.items()}
        tops = {last: 0} if filler.one_row else rests_by(steps.top)
        for width, found in steps.sections.items():
            strips = {level: rows[level][width] for level in rests_by(found)}
            sections[width] = self.stack(
                found, last_across, tops[width], strips, filler.sections[:, width].tolist()
            )
        if filler.one_row:
            return [_Part(part.code, part.value, (part.tree,)) for part in sections[last]]
        return self.stack(steps.top, last, 0, sections, filler.total.tolist())

    def rows(
        self, steps: list[FillStep], sources: dict[int, int], level: int
    ) -> dict[int, list[_Part]]:
        """Return the rows of pieces from each source (with what the rest of the sheet holds)."""
        filler = self.filler
        onward = (filler.total if filler.rounds == 1 else filler.strips[level]).tolist()
        pieces = {
            step.what: _Part(
                self.codes.piece(filler.kinds[step.what]),
                self.worth[step.what],
                filler.variants[step.what],
            )
            for step in steps
        }
        by_begin = _by_begin(steps)
        order = {what: at for at, what in enumerate(self.order(pieces))}
        return {
            source: self.walk(
                by_begin,
                source,
                rest,
                {what: [part] for what, part in pieces.items()},
                onward,
                order,
            )
            for source, rest in sources.items()
        }

    def order(self, items: dict[int, _Part]) -> list[int]:
        lengths = self.filler.lengths
        return sorted(items, key=lambda item: (-lengths[item], item))

    def stack(
        self,
        steps: list[FillStep],
        source: int,
        rest: int,
        parts: dict[int, list[_Part]],
        onward: list[int],
    ) -> list[_Part]:
        order = {what: -what for what in parts}
        return self.walk(_by_begin(steps), source, rest, parts, onward, order)

    def walk(
        self,
        steps: dict[int, list[FillStep]],
        source: int,
        rest: int,
        parts: dict[int, list[_Part]],
        onward: list[int],
        order: dict[int, int],
    ) -> list[_Part]:
        """Follow all steps from the source; return every different part worth enough."""
        # at each point: code -> (worth, place in the order, how it is put together)
        at_point: dict[int, dict[Code, tuple[int, tuple[int, int], tuple[Tree, ...]]]] = {
            source: {0: (0, (-(1 << 60), 0), ())}
        }
        done: dict[Code, _Part] = {}
        is_within = self.codes.is_within
        for at in range(source, -1, -1):
            labels = at_point.pop(at, None)
            if labels is None:
                continue
            if self.is_over():
                raise TooMany
            for code, (value, last, tree) in labels.items():
                if code and value + rest >= self.enough:
                    done[code] = _Part(code, value, tree)
                for step in steps.get(at, ()):
                    place = order[step.what]
                    if place < last[0]:
                        continue
                    need = self.enough - rest - value - onward[step.end]
                    beyond = at_point.setdefault(step.end, {})
                    for number, part in enumerate(parts.get(step.what, ())):
                        if part.value < need or (place == last[0] and number < last[1]):
                            continue
                        new = code + part.code
                        if not is_within(new):
                            continue
                        known = beyond.get(new)
                        if known is None or (place, number) < known[1]:
                            if known is None:
                                self.left -= 1
                            beyond[new] = (value + part.value, (place, number), (*tree, part.tree))
            if self.left < 0:
                raise TooMany
        return list(done.values())


def _by_begin(steps: list[FillStep]) -> dict[int, list[FillStep]]:
    found: dict[int, list[FillStep]] = {}
    for step in steps:
        found.setdefault(step.begin, []).append(step)
    return found


def maximal(fillings: Sequence[Filling]) -> list[Filling]:
    """Drop fillings that hold no more of anything than another one of the same kind of sheet."""
    import numpy as np

    kept: list[Filling] = []
    for sheet in sorted({filling.sheet for filling in fillings}):
        known: dict[tuple[int, ...], Filling] = {}
        for filling in fillings:
            if filling.sheet == sheet:
                known.setdefault(filling.counts, filling)
        mine = sorted(known.values(), key=lambda filling: (-sum(filling.counts), filling.counts))
        table = np.array([filling.counts for filling in mine], dtype=np.int64)
        chosen: list[int] = []
        for at, filling in enumerate(mine):
            if not chosen or not (table[chosen] >= table[at]).all(axis=1).any():
                chosen.append(at)
                kept.append(filling)
    return kept
