"""Finds the reels for whole-number lengths: fillings by a knapsack, their use by HiGHS.

HiGHS works in floating point, so nothing it says is taken as proof: plans are counted again in
whole numbers, and the bound is computed exactly from a worth put on each length.
Column generation after P. C. Gilmore and R. E. Gomory, "A linear programming approach to the
cutting-stock problem", Operations Research 9 (1961), 849-859.
"""

from __future__ import annotations

import contextlib
import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from catalogue.calc.cutting.highs import RunLeft, new_model, run_watched
from catalogue.calc.cutting.watch import Course
from catalogue.calc.reels.fillings import (
    Knapsack,
    ReelFilling,
    ReelTask,
    cheapest_covers,
    cover_bound,
    holds,
    without_surplus,
)

WORTH_SCALE = 10**9
MOST_ROUNDS = 2_000
MOST_NODES = 2_000
MOST_DIVES = 6

Uses = list[tuple[ReelFilling, int]]
Spare = Sequence[int | None]


@dataclass(frozen=True, slots=True)
class ReelsFound:
    """Fillings with how often each is cut, and a bound on the cost in whole units.

    `worth` of each length and `most` worth each kind of reel can hold make the bound; worth None
    stands for the lengths themselves.
    """

    uses: tuple[tuple[ReelFilling, int], ...]
    bound: int
    worth: tuple[int, ...] | None
    most: tuple[int, ...]


def solve(rack: ReelTask, course: Course) -> ReelsFound | None:
    """Return the best plan found in time; None when the reels at hand do not suffice."""
    search = _Search(rack, course)
    with contextlib.suppress(RunLeft):  # the best plan so far is a good one
        search.run()
    if search.best is None:
        return None
    return ReelsFound(tuple(search.best), search.bound, search.worth, search.most)


class _Programme:
    """How often to use each filling: rows for lengths, then for kinds of reel that can run out."""

    def __init__(self, rack: ReelTask, counts: Sequence[int], spare: Spare) -> None:
        self.rack, self.counts = rack, counts
        self.limited = [roll for roll, many in enumerate(spare) if many is not None]
        self.model = new_model()
        for count in counts:
            self.model.addRow(float(count), math.inf, 0, [], [])
        for roll in self.limited:
            self.model.addRow(-math.inf, float(spare[roll] or 0), 0, [], [])
        self.columns: list[ReelFilling] = []

    def add(self, filling: ReelFilling) -> None:
        rows = [kind for kind, many in enumerate(filling.counts) if many]
        amounts = [float(filling.counts[kind]) for kind in rows]
        if filling.roll in self.limited:
            rows.append(len(self.counts) + self.limited.index(filling.roll))
            amounts.append(1.0)
        cost = float(self.rack.rolls[filling.roll].cost)
        self.model.addCol(cost, 0.0, math.inf, len(rows), rows, amounts)
        self.columns.append(filling)


class _Search:
    def __init__(self, rack: ReelTask, course: Course) -> None:
        self.rack, self.course = rack, course
        self.knapsack = Knapsack(rack)
        self.rolls = range(len(rack.rolls))
        self.spare = [roll.available for roll in rack.rolls]
        self.best: Uses | None = None
        self.cost = 0
        self.bound = 0
        self.worth: tuple[int, ...] | None = None
        self.most: tuple[int, ...] = ()
        self.pool: dict[ReelFilling, None] = {}
        self.uses: list[tuple[ReelFilling, float]] = []

    def run(self) -> None:
        """Go on from the quickest to the most thorough until the plan is proved or time is up."""
        self.offer(self.greedy(self.rack.counts, self.spare, []))
        self.prove(None)
        if not self.is_done:
            self.uses = self.generate(self.rack.counts, self.spare, is_whole=True)
        for step in (self.round, self.combine, self.dive, self.combine):
            if self.is_done:
                return
            step()

    @property
    def is_done(self) -> bool:
        return self.best is not None and self.bound >= self.cost

    @property
    def is_late(self) -> bool:
        return self.course.clock() >= self.course.end

    def offer(self, plan: Uses | None) -> None:
        """Take a plan that makes at least what is wanted, if it is cheaper than the best."""
        if plan is None or not holds(self.rack, plan):
            return
        trimmed = without_surplus(self.rack, plan)
        cost = sum(self.rack.rolls[filling.roll].cost * times for filling, times in trimmed)
        if self.best is None or cost < self.cost:
            self.best, self.cost = trimmed, cost

    def prove(self, worth: Sequence[int] | None) -> None:
        """Compute the bound this worth gives, and keep it when it is the best yet."""
        values = self.rack.sizes if worth is None else tuple(worth)
        most = self.knapsack.most(values)
        need = sum(n * value for n, value in zip(self.rack.counts, values, strict=True))
        bound = cover_bound(self.rack, need, most, below=self.cost if self.best else None)
        if bound > self.bound or not self.most:
            self.bound, self.most = bound, most
            self.worth = None if worth is None else tuple(worth)

    def greedy(self, counts: Sequence[int], spare: Spare, used: Uses) -> Uses | None:
        """Fill reel after reel as full as it goes, the cheapest for what it takes first."""
        left, there = list(counts), list(spare)
        plan: Uses = list(used)
        while any(left):
            rolls = [roll for roll in self.rolls if there[roll] != 0]
            if not rolls or (self.best is not None and self.is_late):
                return None
            filled = self.knapsack.fill(self.rack.sizes, left, rolls=rolls)
            choices = [
                (self.rack.rolls[roll].cost / held, -held, roll, taken)
                for roll, (held, taken) in zip(rolls, filled, strict=True)
                if held
            ]
            if not choices:
                return None
            _, _, roll, taken = min(choices)
            filling = ReelFilling(roll, taken)
            times = self._use(filling, None, left, there)
            plan.append((filling, times))
        return plan

    def _use(
        self, filling: ReelFilling, most: int | None, left: list[int], there: list[int | None]
    ) -> int:
        """Cut a filling as often as it is wanted whole; count down what is left."""
        limits = [have // many for have, many in zip(left, filling.counts, strict=True) if many]
        limits += [limit for limit in (most, there[filling.roll]) if limit is not None]
        times = min(limits)
        for kind, many in enumerate(filling.counts):
            left[kind] -= times * many
        before = there[filling.roll]
        if before is not None:
            there[filling.roll] = before - times
        return times

    def generate(
        self, counts: Sequence[int], spare: Spare, *, is_whole: bool = False
    ) -> list[tuple[ReelFilling, float]]:
        """Add fillings while one is worth more than its reel; return how often each is used.

        `is_whole`: the counts are those of the job, so that each round may give a better bound.
        """
        import highspy

        rack, uses = self.rack, []
        programme = _Programme(rack, counts, spare)
        model = programme.model
        big = float(10 * max(roll.cost for roll in rack.rolls) + 10)
        kinds = len(counts)
        for kind in range(kinds):
            # a dear stand-in for each length keeps the programme solvable when reels are scarce
            model.addCol(big, 0.0, math.inf, 1, [kind], [1.0])
        known: set[ReelFilling] = set()
        rolls = [roll for roll in self.rolls if spare[roll] != 0]

        def add(filling: ReelFilling) -> bool:
            if filling in known:
                return False
            known.add(filling)
            self.pool.setdefault(filling)
            programme.add(filling)
            return True

        for filling in self._first_fillings(counts, rolls):
            add(filling)
        scale = WORTH_SCALE / max(1, *(roll.cost for roll in rack.rolls))
        for _ in range(MOST_ROUNDS):
            left_s = self.course.end - self.course.clock()
            if left_s <= 0 or not rolls:
                break
            run_watched(model, left_s, self.course)
            if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
                break
            solution = model.getSolution()
            values, duals = list(solution.col_value), list(solution.row_dual)
            uses = list(zip(programme.columns, values[kinds:], strict=True))
            worth = [max(0, math.floor(dual * scale)) for dual in duals[:kinds]]
            scarcity = dict(zip(programme.limited, duals[kinds:], strict=True))
            is_new = False
            filled = self.knapsack.fill(worth, counts, rolls=rolls)
            for roll, (held, taken) in zip(rolls, filled, strict=True):
                price = rack.rolls[roll].cost * scale - min(0.0, scarcity.get(roll, 0.0)) * scale
                if held > price * (1 + 1e-9) + kinds:
                    is_new |= add(ReelFilling(roll, taken))
            if is_whole:
                self.prove(worth)
            if self.is_done or not is_new:
                break
        return uses

    def _first_fillings(self, counts: Sequence[int], rolls: Sequence[int]) -> Iterable[ReelFilling]:
        """Yield what is known and still wanted, and each length alone on each kind of reel."""
        for filling in [*(filling for filling, _ in self.best or []), *self.pool]:
            if filling.roll in rolls and all(
                many <= have for many, have in zip(filling.counts, counts, strict=True)
            ):
                yield filling
        for roll in rolls:
            for kind, size in enumerate(self.rack.sizes):
                many = min(self.rack.rolls[roll].room // size, counts[kind])
                if many:
                    yield ReelFilling(roll, tuple(many * (at == kind) for at in range(len(counts))))

    def round(self) -> None:
        """Use fillings as often as the linear programme says, rounded; fill up what is missing."""
        for share in (0.0, 0.3, 0.6):
            left, there, used = list(self.rack.counts), list(self.spare), []
            for filling, value in sorted(self.uses, key=lambda use: -use[1]):
                times = self._use(filling, math.floor(value + share), left, there)
                if times:
                    used.append((filling, times))
            self.offer(self.greedy(left, there, used))

    def dive(self) -> None:
        """Fix the most used filling, generate anew for what is left, and so on to the end.

        With several kinds of reel the cheapest set of reels that may suffice is tried first: a
        linear programme mixes reels as nobody can buy them.
        """
        sets: list[Spare] = [self.spare]
        if len(self.rack.rolls) > 1:
            values = self.worth or self.rack.sizes
            need = sum(n * value for n, value in zip(self.rack.counts, values, strict=True))
            covers = cheapest_covers(self.rack, need, self.most, cost=self.bound)
            sets = [*itertools.islice(covers, MOST_DIVES // 2), self.spare]
        for number in range(MOST_DIVES):
            self._dive_once(sets[number % len(sets)], number // len(sets))
            if self.is_done or self.is_late:
                return

    def _dive_once(self, spare: Spare, number: int) -> None:
        left, there = list(self.rack.counts), list(spare)
        plan: Uses = []
        while any(left) and not self.is_late:
            uses = [use for use in self.generate(left, there) if use[1] > 1e-6]
            if not uses:
                return
            # later dives take another filling among those used most
            uses.sort(key=lambda use: -use[1])
            filling, value = uses[min(number, len(uses) - 1) if not plan else 0]
            times = self._use(filling, max(1, math.floor(value)), left, there)
            if not times:
                return
            plan.append((filling, times))
        self.offer(plan)

    def combine(self) -> None:
        """Let HiGHS choose whole numbers of the fillings found."""
        import highspy

        seconds = self.course.end - self.course.clock()
        if seconds <= 0.02 or not self.pool:
            return
        programme = _Programme(self.rack, self.rack.counts, self.spare)
        for filling in self.pool:
            programme.add(filling)
        model, many = programme.model, len(programme.columns)
        indices = list(range(many))
        if self.best is not None:
            costs = [float(self.rack.rolls[filling.roll].cost) for filling in programme.columns]
            model.addRow(-math.inf, float(self.cost - 1), many, indices, costs)
        model.changeColsIntegrality(many, indices, [highspy.HighsVarType.kInteger] * many)
        for option, value in (
            ("mip_rel_gap", 0.0),
            ("mip_abs_gap", 0.999),
            ("mip_max_nodes", MOST_NODES),
            ("objective_target", self.bound + 1e-6),
        ):
            model.setOptionValue(option, value)
        run_watched(model, seconds, self.course)
        solution: Any = model.getSolution()
        if solution.value_valid:
            times = [round(value) for value in solution.col_value]
            self.offer([use for use in zip(programme.columns, times, strict=True) if use[1] > 0])
