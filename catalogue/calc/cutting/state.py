"""What a search knows: the best plan, the bound, and how much time is left."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeAlias

from catalogue.calc.cutting.bounds import (
    Bound,
    best_simple_bound,
    next_reachable_cost,
    tried_reason,
)
from catalogue.calc.cutting.integers import CuttingProblem
from catalogue.calc.cutting.start import Use, cost_of
from catalogue.calc.cutting.surplus import drop_surplus
from catalogue.calc.cutting.watch import Course

# what is tried, the cost of the best plan, the bound
Tell: TypeAlias = Callable[[str, int | None, int], None]


class SearchState:
    """The state of one search; a search for what a plan leaves to be made has its own."""

    def __init__(
        self,
        problem: CuttingProblem,
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

    @property
    def is_exact_class(self) -> bool:
        """Whether the tables cover every layout that the allowed rounds can cut."""
        return self.problem.rounds is not None and self.problem.rounds <= 3

    @property
    def below(self) -> int:
        """What a plan must cost less than to be better."""
        if self.best is not None:
            return self.best_cost
        return sum(self.problem.counts) * max(sheet.cost for sheet in self.problem.sheets) + 1

    def tell(self, stage: str) -> None:
        """Say what is being tried and how far it has come."""
        if self._tell is not None:
            self._tell(stage, self.best_cost if self.best else None, self.bound.value)

    def time_left(self) -> float:
        return self.deadline - self.course.clock()

    def is_over(self) -> bool:
        return self.time_left() <= 0

    def share(self, share: float) -> float:
        """Return a deadline for a part of the work."""
        return self.course.clock() + share * max(0.0, self.time_left())

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

    def tried(self, cost: int) -> None:
        """Take in that all layouts were tried and no plan costs less."""
        if self.is_exact_class:
            value = next_reachable_cost(self.problem, cost)
            self.raise_bound(Bound(value, tried_reason(self.problem, value)))
