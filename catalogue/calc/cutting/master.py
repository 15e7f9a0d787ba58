"""How often to use each known filling: a linear and a whole-number programme over the pool.

HiGHS works in floating point, so nothing it says is taken as proof: plans are counted again in
whole numbers, and bounds are computed exactly from rounded dual values.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from catalogue.calc.cutting.highs import RunLeft, new_model, run_watched
from catalogue.calc.cutting.integers import CuttingProblem, Filling
from catalogue.calc.cutting.watch import Course

MOST_NODES = 200


@dataclass(frozen=True, slots=True)
class LinearAnswer:
    """The linear optimum: use of each filling, worth of each piece, price of scarcity."""

    uses: list[float]
    worth: list[float]
    scarcity: list[float]


@dataclass(frozen=True, slots=True)
class WholeAnswer:
    """A plan, if one was found, and a cost that no plan over the pool goes below."""

    plan: list[tuple[Filling, int]] | None
    least: int


class Master:
    """A pool of fillings without doubles and the two programmes over it."""

    def __init__(self, problem: CuttingProblem, course: Course) -> None:
        self.problem = problem
        self.course = course
        self.pool: list[Filling] = []
        self._known: set[tuple[int, tuple[int, ...]]] = set()
        self._limited = [
            index for index, sheet in enumerate(problem.sheets) if sheet.available is not None
        ]
        self._linear = self._new_model()
        self._left = False
        self._big = 10 * max(sheet.cost for sheet in problem.sheets) + 10
        for kind in range(len(problem.counts)):
            # a dear stand-in for each piece keeps the programme solvable when sheets are scarce
            self._linear.addCol(float(self._big), 0.0, math.inf, 1, [kind], [1.0])

    def _new_model(self) -> Any:
        model = new_model()
        for count in self.problem.counts:
            model.addRow(float(count), math.inf, 0, [], [])
        for index in self._limited:
            model.addRow(-math.inf, float(self.problem.sheets[index].available or 0), 0, [], [])
        return model

    def add(self, filling: Filling) -> bool:
        """Put a filling into the pool unless an equal one is there."""
        key = (filling.sheet, filling.counts)
        if key in self._known:
            return False
        self._known.add(key)
        self.pool.append(filling)
        self._add_column(self._linear, filling, math.inf)
        return True

    def _add_column(self, model: Any, filling: Filling, most: float) -> None:
        rows = [kind for kind, many in enumerate(filling.counts) if many]
        amounts = [float(filling.counts[kind]) for kind in rows]
        if filling.sheet in self._limited:
            rows.append(len(self.problem.counts) + self._limited.index(filling.sheet))
            amounts.append(1.0)
        cost = float(self.problem.sheets[filling.sheet].cost)
        model.addCol(cost, 0.0, most, len(rows), rows, amounts)

    def solve_linear(self) -> LinearAnswer | None:
        """Return the optimum over the pool, None when HiGHS gives up."""
        import highspy

        if self._left or not self._run(self._linear, self.course.end - self.course.clock()):
            self._left = True
            return None
        if self._linear.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = self._linear.getSolution()
        kinds = len(self.problem.counts)
        duals = list(solution.row_dual)
        scarcity = [0.0] * len(self.problem.sheets)
        for row, index in enumerate(self._limited):
            scarcity[index] = max(0.0, -duals[kinds + row])
        return LinearAnswer(
            list(solution.col_value)[kinds:], [max(0.0, dual) for dual in duals[:kinds]], scarcity
        )

    def solve_whole(
        self, *, below: int, goal: int, seconds: float, step: int
    ) -> WholeAnswer | None:
        """Look for a plan over the pool that costs less than `below`; stop at `goal`."""
        import highspy

        if seconds <= 0.02 or not self.pool:
            return None
        model = self._new_model()
        for filling in self.pool:
            self._add_column(model, filling, math.inf)
        costs = [float(self.problem.sheets[filling.sheet].cost) for filling in self.pool]
        columns = len(self.pool)
        model.addRow(-math.inf, float(below - step), columns, list(range(columns)), costs)
        model.changeColsIntegrality(
            columns, list(range(columns)), [highspy.HighsVarType.kInteger] * columns
        )
        model.setOptionValue("mip_rel_gap", 0.0)
        model.setOptionValue("mip_abs_gap", 0.999 * step)
        model.setOptionValue("objective_target", goal + 1e-6)
        if not self._run(model, seconds):
            return None
        status = model.getModelStatus()
        if status == highspy.HighsModelStatus.kInfeasible:
            return WholeAnswer(None, below)
        least = model.getInfo().mip_dual_bound
        least = math.ceil(least - 1e-6 * max(1.0, abs(least))) if math.isfinite(least) else 0
        solution = model.getSolution()
        if not solution.value_valid:
            return WholeAnswer(None, min(least, below))
        plan = [
            (filling, round(times))
            for filling, times in zip(self.pool, solution.col_value, strict=False)
            if round(times) > 0
        ]
        return WholeAnswer(plan if self._holds(plan) else None, min(least, below))

    def solve_few_layouts(
        self, *, cost: int, below: int, seconds: float
    ) -> list[tuple[Filling, int]] | None:
        """Return a plan over the pool of at most this cost with fewer than `below` fillings."""
        import highspy

        model = self._new_model()
        for filling in self.pool:
            self._add_column(model, filling, math.inf)
        columns = len(self.pool)
        costs = [float(self.problem.sheets[filling.sheet].cost) for filling in self.pool]
        model.addRow(-math.inf, float(cost), columns, list(range(columns)), costs)
        rows = model.getNumRow()
        for at, filling in enumerate(self.pool):
            most = max(
                -(-count // many)
                for count, many in zip(self.problem.counts, filling.counts, strict=True)
                if many
            )
            # used at all: 1, else 0
            model.addCol(1.0, 0.0, 1.0, 0, [], [])
            model.changeColCost(at, 0.0)
            model.addRow(-math.inf, 0.0, 2, [at, columns + at], [1.0, -float(most)])
        used = list(range(columns, 2 * columns))
        model.addRow(-math.inf, below - 1.0, columns, used, [1.0] * columns)
        model.setOptionValue("mip_abs_gap", 0.999)
        model.changeColsIntegrality(
            2 * columns, list(range(2 * columns)), [highspy.HighsVarType.kInteger] * (2 * columns)
        )
        model.setOptionValue("mip_max_nodes", MOST_NODES)
        if not self._run(model, seconds):
            return None
        solution = model.getSolution()
        if not solution.value_valid or rows == 0:
            return None
        plan = [
            (filling, round(times))
            for filling, times in zip(self.pool, solution.col_value, strict=False)
            if round(times) > 0
        ]
        return plan if self._holds(plan) else None

    def _run(self, model: Any, seconds: float) -> bool:
        """Run the model; say whether it came to an end."""
        try:
            run_watched(model, max(0.0, seconds), self.course)
        except RunLeft:
            return False
        return True

    def _holds(self, plan: list[tuple[Filling, int]]) -> bool:
        """Check in whole numbers that all pieces are made from sheets that are there."""
        problem = self.problem
        for kind, count in enumerate(problem.counts):
            if sum(filling.counts[kind] * times for filling, times in plan) < count:
                return False
        for index in self._limited:
            used = sum(times for filling, times in plan if filling.sheet == index)
            if used > (problem.sheets[index].available or 0):
                return False
        return True
