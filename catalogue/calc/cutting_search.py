"""Finds a cheap plan for one cutting problem together with a bound that no plan can beat.

The method is column generation: a linear programme over the fillings known so far puts a worth
on each piece, the staged tables look for a filling worth more than its sheet, and so on until
there is none. A whole-number programme over the fillings found then gives the plan. The effort
depends on the number of different pieces, hardly on how many of each are wanted.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

from catalogue.calc.cutting_bounded import BoundedFiller
from catalogue.calc.cutting_bounds import (
    Bound,
    best_simple_bound,
    next_reachable_cost,
    tried_reason,
    worth_bound,
)
from catalogue.calc.cutting_free import FreeFiller
from catalogue.calc.cutting_integers import (
    ALONG_X,
    ALONG_Y,
    Filling,
    Problem,
    count_kinds,
)
from catalogue.calc.cutting_job import NotEnoughSheets
from catalogue.calc.cutting_master import LinearAnswer, Master, WholeAnswer
from catalogue.calc.cutting_one_by_one import plans_one_by_one
from catalogue.calc.cutting_patterns import SheetFiller, TooManyPoints
from catalogue.calc.cutting_small import OutOfReach, SheetParts
from catalogue.calc.cutting_start import Use, cost_of, plan_in_rows
from catalogue.calc.cutting_surplus import drop_surplus, rest_of
from catalogue.calc.cutting_watch import Course

# what is tried, the cost of the best plan, the bound
Tell: TypeAlias = Callable[[str, int | None, int], None]

MOST_ITERATIONS = 400
MOST_DEPTH = 3
FEW_PARTS = 1_500
MOST_TURNS = 200
MOST_TIDIED = 12
MOST_SHAKES = 60


@dataclass(frozen=True, slots=True)
class Found:
    """A plan with exact counts, its cost and the best bound known for it."""

    uses: tuple[Use, ...]
    cost: int
    bound: Bound


def solve(problem: Problem, deadline: float, course: Course, tell: Tell) -> Found:
    """Return the best plan found before the deadline (a time of the course)."""
    search = _Search(problem, deadline, course, tell)
    search.run()
    search.tidy()
    if search.best is None:
        raise _not_enough(problem, search.bound)
    return Found(tuple(search.best), cost_of(search.best, problem), search.bound)


class _Search:
    """One run; the clock decides only when to stop, never which way to go."""

    def __init__(
        self,
        problem: Problem,
        deadline: float,
        course: Course,
        tell: Tell | None = None,
        depth: int = 0,
    ) -> None:
        self.problem = problem
        self.deadline = deadline
        self.course = course
        self._tell = tell
        self.depth = depth
        self.bound = best_simple_bound(problem)
        self.best: list[Use] | None = None
        self.best_cost = 0
        self.step = math.gcd(*(sheet.cost for sheet in problem.sheets)) or 1

    @property
    def proven(self) -> bool:
        return self.best is not None and self.best_cost <= self.bound.value

    def tell(self, stage: str) -> None:
        """Say what is being tried and how far it has come."""
        if self._tell is not None:
            self._tell(stage, self.best_cost if self.best else None, self.bound.value)

    def time_left(self) -> float:
        return self.deadline - self.course.now()

    def offer(self, plan: list[Use] | None) -> None:
        """Keep the plan if it is cheaper than the best so far."""
        if plan is None:
            return
        exact = drop_surplus(plan, self.problem)
        cost = cost_of(exact, self.problem)
        if self.best is None or cost < self.best_cost:
            self.best, self.best_cost = exact, cost

    def raise_bound(self, bound: Bound) -> None:
        if bound.value > self.bound.value:
            self.bound = bound

    def run(self) -> None:
        """Go from cheap to dear methods until the plan meets the bound."""
        self.offer(plan_in_rows(self.problem, lambda: self.time_left() <= 0))
        if self.proven:
            return
        few = math.prod(count + 1 for count in self.problem.counts) <= FEW_PARTS
        if few:
            self._solve_outright(1.0, None)
        if self.proven:
            return
        master = Master(self.problem, self.course)
        for filling, _ in self.best or []:
            master.add(filling)
        fillers = self._fillers()
        if not fillers:
            return
        answer = self._generate(master, fillers)
        self._choose(master, 0.1)
        several = len(self.problem.sheets) > 1
        if several and not few:
            # sums of several prices leave gaps that only a full search closes
            self._solve_outright(0.6, answer)
        if answer is not None:
            self._round_off(master, answer)
            if self.depth == 0:
                self._enrich(master, fillers, answer)
        if not several and not few:
            self._solve_outright(0.6, answer)
        if self.depth == 0:
            self._plan_one_by_one(master, fillers)

    def tidy(self) -> None:
        """Look for a plan of the same cost with fewer different layouts to measure and set."""
        problem = self.problem
        if self.best is None or len(self.best) <= 2 or len(problem.counts) > MOST_TIDIED:
            return
        if self.time_left() <= 0:
            return
        self.tell("Looking for fewer layouts")
        master = Master(problem, self.course)
        for filling, _ in self.best:
            master.add(filling)
        fillers = self._fillers()
        self._generate(master, fillers, on_and_on=True)
        plan = master.solve_few_layouts(cost=self.best_cost, seconds=0.3)
        if plan is None:
            return
        exact = drop_surplus(plan, problem)
        if cost_of(exact, problem) <= self.best_cost and len(exact) < len(self.best):
            self.best, self.best_cost = exact, cost_of(exact, problem)

    def _solve_outright(self, share: float, answer: LinearAnswer | None) -> None:
        """Look at every filling there is, if they are few enough; the best plan is then proven."""
        if self.proven:
            return
        problem = self.problem
        rounds = min(problem.rounds or 3, 3)
        self.tell("Trying every layout")
        try:
            parts = SheetParts(problem, rounds, self._caps(), self._share(share), self.course)
            if all(sheet.available is None for sheet in problem.sheets):
                try:
                    cost, uses = parts.cover()
                except OutOfReach:
                    pass
                else:
                    self.offer(uses)
                    self._tried(cost)
                    return
            if answer is None:
                return
            fillings = parts.fillings()
        except OutOfReach:
            return
        master = Master(problem, self.course)
        for filling in self._worth_trying(fillings, answer):
            master.add(filling)
        found = self._choose(master, share)
        if found is not None:
            self._tried(found.least)

    def _tried(self, cost: int) -> None:
        if self._exact_class:
            value = next_reachable_cost(self.problem, cost)
            self.raise_bound(Bound(value, tried_reason(self.problem, value)))

    def _caps(self) -> list[int]:
        """Return for each kind how many copies a sheet can hold at most, by area and by need."""
        problem = self.problem
        room = max(sheet.width * sheet.height for sheet in problem.sheets)
        caps = []
        for kind, count in enumerate(problem.counts):
            variant = next(problem.variants_of(kind))
            caps.append(min(count, room // (variant.width * variant.height)))
        return caps

    def _worth_trying(self, fillings: list[Filling], answer: LinearAnswer) -> list[Filling]:
        """Drop fillings that cost more than the plan could still gain by using them even once."""
        problem = self.problem
        base = sum(c * w for c, w in zip(problem.counts, answer.worth, strict=True)) - sum(
            scarce * (sheet.available or 0)
            for sheet, scarce in zip(problem.sheets, answer.scarcity, strict=True)
        )
        gain = (self.best_cost if self.best else self._ceiling()) - self.step - base
        margin = 1e-6 * max(1.0, base)
        losses = [
            problem.sheets[filling.sheet].cost
            + answer.scarcity[filling.sheet]
            - sum(n * w for n, w in zip(filling.counts, answer.worth, strict=True))
            for filling in fillings
        ]
        if min(losses, default=0.0) < -margin:
            # the linear programme was stopped too early to tell what is not worth trying
            return fillings
        return [
            filling for filling, loss in zip(fillings, losses, strict=True) if loss <= gain + margin
        ]

    def _choose(self, master: Master, share: float) -> WholeAnswer | None:
        """Let the whole-number programme pick from the pool."""
        if self.proven:
            return None
        self.tell("Choosing layouts")
        found = master.solve_whole(
            below=self.best_cost if self.best else self._ceiling(),
            goal=self.bound.value,
            seconds=share * self.time_left(),
            step=self.step,
        )
        if found is not None:
            self.offer(found.plan)
        return found

    def _round_off(self, master: Master, answer: LinearAnswer) -> None:
        """Use each filling as often as the linear programme says, rounded down, and plan the rest.

        The rest is a small job of its own; planned well, it finds fillings the pool lacks.
        """
        for less in (0, 1, 2):
            if self.proven or self.time_left() <= 0 or self.depth >= MOST_DEPTH:
                return
            base = [
                (filling, max(0, math.floor(use + 1e-6) - less))
                for filling, use in zip(master.pool, answer.uses, strict=False)
            ]
            base = [(filling, times) for filling, times in base if times]
            rest = rest_of(self.problem, base)
            if rest is None:
                continue
            if not any(rest.counts):
                self.offer(base)
                continue
            if not base or rest.counts == self.problem.counts:
                if less == 0:
                    continue
                return
            inner = _Search(rest, self._share(0.5), self.course, None, self.depth + 1)
            inner.run()
            if inner.best is not None:
                self.offer(base + inner.best)
                for filling, _ in inner.best:
                    master.add(filling)
            self._choose(master, 0.1)

    def _enrich(self, master: Master, fillers: list[SheetFiller], answer: LinearAnswer) -> None:
        """Add fillings that are best when the worth of the pieces is a little different."""
        until = self._share(0.3)
        for turn in range(MOST_SHAKES):
            if self.proven or self.course.now() > until:
                return
            self.tell("Trying other layouts")
            # fixed numbers that look like chance, so that a plan can be made again
            worth = [
                int(value * (1 << 20) * (0.85 + (kind * 7919 + turn * 104_729) % 301 / 1000))
                for kind, value in enumerate(answer.worth)
            ]
            for filler in fillers:
                filler.best(worth)
                master.add(self._filling(filler))
        self._choose(master, 0.2)

    def _plan_one_by_one(self, master: Master, fillers: list[SheetFiller]) -> None:
        """Make whole plans sheet by sheet; what they find goes into the pool."""
        bounded = [filler for filler in fillers if isinstance(filler, BoundedFiller)]
        if not bounded or self.proven:
            return
        until = self._share(0.7)
        plans = plans_one_by_one(
            self.problem,
            bounded,
            is_over=lambda: self.proven or self.course.now() > until,
            limit=lambda: self.best_cost + self.step if self.best else self._ceiling(),
        )
        for turn, plan in enumerate(plans, start=1):
            self.tell("Planning sheet by sheet")
            if plan:
                self.offer(plan)
                for filling, _ in plan:
                    master.add(filling)
            if turn >= MOST_TURNS:
                break
        self._choose(master, 0.5)

    def _share(self, share: float) -> float:
        """Return a deadline for a part of the work."""
        return self.course.now() + share * max(0.0, self.time_left())

    @property
    def _exact_class(self) -> bool:
        """Whether the tables cover every layout that the allowed rounds can cut."""
        return self.problem.rounds is not None and self.problem.rounds <= 3

    def _ceiling(self) -> int:
        return sum(self.problem.counts) * max(sheet.cost for sheet in self.problem.sheets) + 1

    def _fillers(self) -> list[SheetFiller]:
        """Return a filler for each sheet and direction, none when that takes too much."""
        rounds = min(self.problem.rounds or 3, 3)
        build = SheetFiller if rounds == 1 else BoundedFiller
        fillers: list[SheetFiller] = []
        for sheet, first in useful_directions(self.problem):
            if self.time_left() <= 0:
                return []
            try:
                fillers.append(build(self.problem, sheet, first, rounds))
            except TooManyPoints:
                return []
        return fillers

    def _generate(
        self, master: Master, fillers: list[SheetFiller], *, on_and_on: bool = False
    ) -> LinearAnswer | None:
        """Add fillings until no filling is worth more than its sheet; return the last answer."""
        scale = Fraction(1 << 40, max(1, *(sheet.cost for sheet in self.problem.sheets)))
        answer: LinearAnswer | None = None
        free_fillers = [] if self._exact_class else self._free_fillers()
        for _ in range(MOST_ITERATIONS):
            self.tell("Looking for good layouts")
            newer = master.solve_linear()
            if newer is None or self.time_left() <= 0:
                return answer
            answer = newer
            worth = [int(value * scale) for value in answer.worth]
            scarcity = [int(value * scale) for value in answer.scarcity]
            most = [0] * len(self.problem.sheets)
            grew = False
            for filler in fillers:
                held = filler.best(worth)
                most[filler.sheet] = max(most[filler.sheet], held)
                price = self.problem.sheets[filler.sheet].cost * scale + scarcity[filler.sheet]
                if held > price:
                    grew |= master.add(self._filling(filler))
            for free in free_fillers:
                held = free.best(worth)
                most[free.sheet] = max(most[free.sheet], held)
                price = self.problem.sheets[free.sheet].cost * scale + scarcity[free.sheet]
                if held > price and self.problem.rounds is None:
                    grew |= master.add(self._filling(free))
            if self._exact_class or free_fillers:
                self.raise_bound(worth_bound(self.problem, worth, scarcity, most, scale))
            if not grew or (self.proven and not on_and_on):
                return answer
        return answer

    def _free_fillers(self) -> list[FreeFiller]:
        """Return a filler without limit of rounds for every sheet, or none at all."""
        try:
            return [
                FreeFiller(self.problem, index)
                for index, sheet in enumerate(self.problem.sheets)
                if sheet.variants and sheet.available != 0
            ]
        except TooManyPoints:
            return []

    def _filling(self, filler: SheetFiller | FreeFiller) -> Filling:
        tree = filler.best_tree()
        return Filling(
            filler.sheet,
            filler.first,
            tree,
            count_kinds(tree, self.problem.variants, len(self.problem.counts)),
        )


def useful_directions(problem: Problem) -> list[tuple[int, int]]:
    """Return each sheet with the directions of first cuts worth looking at.

    Where no two pieces fit side by side, first cuts in that direction give nothing that first cuts
    the other way do not give too.
    """
    chosen: list[tuple[int, int]] = []
    for index, sheet in enumerate(problem.sheets):
        if not sheet.variants or sheet.available == 0:
            continue
        fitting = [problem.variants[at] for at in sheet.variants]
        beside = 2 * min(variant.width for variant in fitting) <= sheet.width
        above = 2 * min(variant.height for variant in fitting) <= sheet.height
        if beside or not above:
            chosen.append((index, ALONG_X))
        if above:
            chosen.append((index, ALONG_Y))
    return chosen


def _not_enough(problem: Problem, bound: Bound) -> NotEnoughSheets:
    scarce = [sheet for sheet in problem.sheets if sheet.available is not None]
    have = ", ".join(f"{sheet.available} of {sheet.name}" for sheet in scarce)
    return NotEnoughSheets(
        f"The sheets at hand ({have}) do not hold all the pieces. {bound.reason}".strip(),
        where=scarce[0].name if scarce else "sheets",
    )
