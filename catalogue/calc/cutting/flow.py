"""All layouts at once as flows, from which a whole-number programme picks the best plan.

Each sheet sends one unit through the lengths of the sheet; a section taken there sends one through
the heights of the section, a strip taken there one through the lengths of the strip ("arc flow",
J. M. Valerio de Carvalho, "Exact solution of bin-packing problems using column generation and
branch-and-bound", Annals of Operations Research 86 (1999), 629-659). No layout of the class is left
out but those that make a plan too dear, so the programme finds the cheapest plan or proves that
there is no cheaper.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.calc.cutting.highs import RunLeft, new_model, run_watched
from catalogue.calc.cutting.integers import CuttingProblem, Filling, Tree, count_kinds
from catalogue.calc.cutting.start import Use
from catalogue.calc.cutting.steps import FillStep, SheetSteps
from catalogue.calc.cutting.watch import Course

MOST_SHEETS = 3_000


@dataclass(frozen=True, slots=True)
class FlowAnswer:
    """A plan, if one was found, and a cost that no plan within the limit goes below."""

    plan: list[Use] | None
    least: int


class FlowModel:
    """The programme over the steps of all kinds of sheet and directions."""

    def __init__(self, problem: CuttingProblem, sheets: Sequence[SheetSteps]) -> None:
        self.problem = problem
        self.sheets = sheets
        self._costs: list[float] = []
        self._rows: list[dict[int, float]] = [{} for _ in problem.counts]
        self._graphs: list[_SheetFlow] = []
        for steps in sheets:
            self._graphs.append(_SheetFlow(self, steps))

    def column(self, cost: int = 0) -> int:
        """Add a column that counts something; return its number."""
        self._costs.append(float(cost))
        return len(self._costs) - 1

    def row(self, entries: dict[int, float]) -> None:
        """Demand that the entries come to zero or more."""
        self._rows.append(entries)

    def make(self, kind: int, column: int) -> None:
        """Say that a column makes one piece of a kind."""
        self._rows[kind][column] = self._rows[kind].get(column, 0.0) + 1.0

    def solve(
        self, *, limit: int, goal: int, step: int, seconds: float, course: Course
    ) -> FlowAnswer | None:
        """Look for a plan that costs at most `limit`; stop at `goal`."""
        import highspy

        model = new_model()
        columns = len(self._costs)
        for cost in self._costs:
            model.addCol(cost, 0.0, math.inf, 0, [], [])
        counts = [float(count) for count in self.problem.counts]
        for index, row in enumerate(self._rows):
            least = counts[index] if index < len(counts) else 0.0
            model.addRow(least, math.inf, len(row), list(row), list(row.values()))
        priced = [at for at, cost in enumerate(self._costs) if cost]
        model.addRow(
            -math.inf, float(limit), len(priced), priced, [self._costs[at] for at in priced]
        )
        for index, sheet in enumerate(self.problem.sheets):
            uses = [graph.uses for graph in self._graphs if graph.steps.filler.sheet == index]
            if sheet.available is not None and uses:
                model.addRow(-math.inf, float(sheet.available), len(uses), uses, [1.0] * len(uses))
        model.changeColsIntegrality(
            columns, list(range(columns)), [highspy.HighsVarType.kInteger] * columns
        )
        model.setOptionValue("mip_rel_gap", 0.0)
        model.setOptionValue("mip_abs_gap", 0.999 * step)
        model.setOptionValue("objective_target", goal + 1e-6)
        try:
            run_watched(model, seconds, course)
        except RunLeft:
            return None
        if model.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
            return FlowAnswer(None, limit + step)
        least = model.getInfo().mip_dual_bound
        whole = math.ceil(least - 1e-6 * max(1.0, abs(least))) if math.isfinite(least) else 0
        solution = model.getSolution()
        plan: list[Use] | None = None
        if solution.value_valid:
            plan = self._read([round(value) for value in solution.col_value])
        return FlowAnswer(plan, min(whole, limit + step))

    def _read(self, amounts: list[int]) -> list[Use] | None:
        """Return the plan behind the amounts, None when it lacks something after all."""
        if sum(amounts[graph.uses] for graph in self._graphs) > MOST_SHEETS:
            return None
        plan: list[Use] = []
        for graph in self._graphs:
            plan.extend((filling, 1) for filling in graph.read(amounts))
        made = [
            sum(filling.counts[kind] for filling, _ in plan)
            for kind in range(len(self.problem.counts))
        ]
        enough = all(many >= count for many, count in zip(made, self.problem.counts, strict=True))
        return plan if enough else None


class _SheetFlow:
    """The columns and rows of one kind of sheet with one direction of first cuts."""

    def __init__(self, model: FlowModel, steps: SheetSteps) -> None:
        filler, problem = steps.filler, model.problem
        self.model, self.steps = model, steps
        self.uses = model.column(problem.sheets[filler.sheet].cost)
        last, last_across, _ = steps.tops
        self.graphs: dict[tuple[str, int], dict[int, list[tuple[int, int, int]]]] = {}
        fed_sections: dict[int, dict[int, list[int]]] = {}
        fed_strips: dict[int, dict[int, list[int]]] = {}
        if steps.filler.rounds == 3 and filler.one_row:
            fed_sections[last] = {last_across: [self.uses]}
        else:
            taken = self._graph(("top", 0), steps.top, {last: [self.uses]}, filler.rounds == 1)
            for what, columns in taken.items():
                if filler.rounds == 3:
                    fed_sections[what] = {last_across: columns}
                elif filler.rounds == 2:
                    fed_strips[what] = {last_across: columns}
        for width, found in steps.sections.items():
            taken = self._graph(("section", width), found, fed_sections.get(width, {}), False)
            for level, columns in taken.items():
                fed_strips.setdefault(level, {}).setdefault(width, []).extend(columns)
        for level, found in steps.strips.items():
            self._graph(("strip", level), found, fed_strips.get(level, {}), True)

    def _graph(
        self,
        name: tuple[str, int],
        steps: list[FillStep],
        feeds: dict[int, list[int]],
        takes_pieces: bool,
    ) -> dict[int, list[int]]:
        """Add the steps of one graph; return the columns by what they take."""
        filler = self.steps.filler
        rows: dict[int, dict[int, float]] = {
            point: dict.fromkeys(columns, 1.0) for point, columns in feeds.items()
        }
        taken: dict[int, list[int]] = {}
        outward: dict[int, list[tuple[int, int, int]]] = {}
        for step in steps:
            column = self.model.column()
            rows.setdefault(step.begin, {})[column] = -1.0
            if step.end:
                rows.setdefault(step.end, {})[column] = 1.0
            taken.setdefault(step.what, []).append(column)
            outward.setdefault(step.begin, []).append((column, step.what, step.end))
            if takes_pieces:
                self.model.make(filler.kinds[step.what], column)
        for row in rows.values():
            if any(value < 0 for value in row.values()):
                self.model.row(row)
        self.graphs[name] = outward
        return taken

    def read(self, amounts: list[int]) -> list[Filling]:
        """Take sheet by sheet out of the amounts."""
        fillings = []
        filler, problem = self.steps.filler, self.model.problem
        last, last_across, _ = self.steps.tops
        for _ in range(amounts[self.uses]):
            if filler.rounds == 3 and filler.one_row:
                sections = [last]
            else:
                sections = self._path(("top", 0), last, amounts)
            tree: Tree
            if filler.rounds == 1:
                tree = self._pieces(sections)
            elif filler.rounds == 2:
                tree = tuple(self._strip(level, last_across, amounts) for level in sections)
            else:
                tree = tuple(
                    tuple(
                        self._strip(level, width, amounts)
                        for level in self._path(("section", width), last_across, amounts)
                    )
                    for width in sections
                )
            tree = _without_nothing(tree)
            if tree == ():
                continue
            held = count_kinds(tree, problem.variants, len(problem.counts))
            fillings.append(Filling(filler.sheet, filler.first, tree, held))
        return fillings

    def _strip(self, level: int, begin: int, amounts: list[int]) -> Tree:
        pieces = self._pieces(self._path(("strip", level), begin, amounts))
        return pieces[0] if len(pieces) == 1 and self.steps.filler.rounds == 3 else pieces

    def _pieces(self, items: list[int]) -> tuple[Tree, ...]:
        return tuple(self.steps.filler.variants[item] for item in items)

    def _path(self, name: tuple[str, int], at: int, amounts: list[int]) -> list[int]:
        """Follow what still flows from a point down; return what is taken on the way."""
        outward = self.graphs.get(name, {})
        taken: list[int] = []
        while at:
            for column, what, end in outward.get(at, ()):
                if amounts[column] > 0:
                    amounts[column] -= 1
                    taken.append(what)
                    at = end
                    break
            else:
                break
        return taken


def _without_nothing(tree: Tree) -> Tree:
    """Drop sections and strips that hold nothing."""
    if isinstance(tree, int):
        return tree
    return tuple(kept for kept in (_without_nothing(child) for child in tree) if kept != ())
