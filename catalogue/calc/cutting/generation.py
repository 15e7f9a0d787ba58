"""Column generation: which fillings are worth their sheet, and what each piece is worth.

A linear programme over the fillings known so far puts a worth on each piece; the staged tables look
for a filling worth more than its sheet, and so on until there is none.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from catalogue.calc.cutting.bounded import BoundedFiller
from catalogue.calc.cutting.bounds import worth_bound
from catalogue.calc.cutting.free import FreeFiller
from catalogue.calc.cutting.integers import ALONG_X, ALONG_Y, CuttingProblem, Filling, count_kinds
from catalogue.calc.cutting.master import LinearAnswer, Master
from catalogue.calc.cutting.patterns import SheetFiller
from catalogue.calc.cutting.points import TooManyPoints
from catalogue.calc.cutting.state import SearchState

MOST_ITERATIONS = 4_000


@dataclass(frozen=True, slots=True)
class Prices:
    """A worth for each piece such that no filling is worth more than its sheet, all times `scale`.

    `scarcity` comes on top of the price of a sheet of which there are few. Any plan costs `base` or
    more, and on top what its fillings are worth less than their sheets.
    """

    worth: list[int]
    scarcity: list[int]
    base: int
    scale: Fraction

    def price(self, problem: CuttingProblem, sheet: int) -> int:
        return int(problem.sheets[sheet].cost * self.scale) + self.scarcity[sheet]


def make_fillers(state: SearchState) -> list[SheetFiller]:
    """Return a filler for each sheet and direction, none when that takes too much."""
    rounds = min(state.problem.rounds or 3, 3)
    build = SheetFiller if rounds == 1 else BoundedFiller
    fillers: list[SheetFiller] = []
    for sheet, first in useful_directions(state.problem):
        if state.is_over():
            return []
        try:
            fillers.append(build(state.problem, sheet, first, rounds))
        except TooManyPoints:
            return []
    return fillers


def generate(
    state: SearchState, master: Master, fillers: list[SheetFiller], *, on_and_on: bool = False
) -> tuple[LinearAnswer | None, Prices | None]:
    """Add fillings until no filling is worth more than its sheet; return the last answer.

    The prices are those that give the best bound.
    """
    problem = state.problem
    scale = Fraction(1 << 40, max(1, *(sheet.cost for sheet in problem.sheets)))
    answer: LinearAnswer | None = None
    prices: Prices | None = None
    free_fillers = [] if state.is_exact_class else _free_fillers(problem)
    every: list[SheetFiller | FreeFiller] = [*fillers, *free_fillers]
    for _ in range(MOST_ITERATIONS):
        state.tell("Looking for good layouts")
        newer = master.solve_linear()
        if newer is None or state.is_over():
            break
        answer = newer
        worth = [int(value * scale) for value in answer.worth]
        scarcity = [int(value * scale) for value in answer.scarcity]
        most = [0] * len(problem.sheets)
        grew = False
        for filler in every:
            held = filler.best(worth)
            most[filler.sheet] = max(most[filler.sheet], held)
            price = problem.sheets[filler.sheet].cost * scale + scarcity[filler.sheet]
            usable = isinstance(filler, SheetFiller) or problem.rounds is None
            if held > price and usable:
                grew |= master.add(filling_of(filler, problem))
        if state.is_exact_class or free_fillers:
            state.raise_bound(worth_bound(problem, worth, scarcity, most, scale))
        found = _fair_prices(problem, worth, scarcity, most, scale)
        if prices is None or found.base > prices.base:
            prices = found
        if not grew or (state.proven and not on_and_on):
            break
    return answer, prices


def _fair_prices(
    problem: CuttingProblem, worth: list[int], scarcity: list[int], most: list[int], scale: Fraction
) -> Prices:
    """Lower the worth until no filling is worth more than its sheet."""
    factor = Fraction(1)
    for sheet, scarce, held in zip(problem.sheets, scarcity, most, strict=True):
        if held:
            factor = min(factor, Fraction(int(sheet.cost * scale) + scarce, held))
    fair = [int(value * factor) for value in worth]
    base = sum(count * value for count, value in zip(problem.counts, fair, strict=True))
    base -= sum(
        scarce * (sheet.available or 0)
        for sheet, scarce in zip(problem.sheets, scarcity, strict=True)
    )
    return Prices(fair, scarcity, base, scale)


def filling_of(filler: SheetFiller | FreeFiller, problem: CuttingProblem) -> Filling:
    """Return the filling that the filler found last."""
    tree = filler.best_tree()
    held = count_kinds(tree, problem.variants, len(problem.counts))
    return Filling(filler.sheet, filler.first, tree, held)


def _free_fillers(problem: CuttingProblem) -> list[FreeFiller]:
    """Return a filler without limit of rounds for every sheet, or none at all."""
    try:
        return [
            FreeFiller(problem, index)
            for index, sheet in enumerate(problem.sheets)
            if sheet.variants and sheet.available != 0
        ]
    except TooManyPoints:
        return []


def useful_directions(problem: CuttingProblem) -> list[tuple[int, int]]:
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
