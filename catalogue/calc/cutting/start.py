"""A first valid plan in next to no time: rows of pieces, tallest first, stacked on sheets."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TypeAlias

from catalogue.calc.cutting.integers import (
    ALONG_X,
    ALONG_Y,
    CuttingProblem,
    Filling,
    Tree,
    count_kinds,
)

Use: TypeAlias = tuple[Filling, int]


@dataclass(frozen=True, slots=True)
class _Row:
    """Pieces side by side: variant indices, the height of the tallest, how many rows are alike."""

    pieces: tuple[int, ...]
    height: int
    times: int


def plan_in_rows(problem: CuttingProblem, is_over: Callable[[], bool]) -> list[Use] | None:
    """Return the cheapest of several row plans, or None when the sheets at hand run out.

    The first plan is always made; others only while the time is not over.
    """
    best: list[Use] | None = None
    orders = _sheet_orders(problem)
    for order, first, prefer in itertools.product(
        orders, (ALONG_X, ALONG_Y), ("flat", "tall", "as given")
    ):
        if best is not None and is_over():
            break
        plan = _plan(problem, order, first, prefer)
        if plan is not None and (best is None or cost_of(plan, problem) < cost_of(best, problem)):
            best = plan
    return best


def rows_on_one_sheet(
    problem: CuttingProblem, sheet: int, counts: tuple[int, ...], narrower: int
) -> Iterator[Filling]:
    """Yield the ways in which rows hold the counts on one sheet, made narrower and lower."""
    kind = problem.sheets[sheet]
    width, height = kind.width - narrower, kind.height - narrower
    fitting = tuple(
        index
        for index in kind.variants
        if problem.variants[index].width <= width and problem.variants[index].height <= height
    )
    room = replace(kind, width=width, height=height, variants=fitting)
    sheets = (*problem.sheets[:sheet], room, *problem.sheets[sheet + 1 :])
    smaller = replace(problem, sheets=sheets)
    for first, prefer in itertools.product((ALONG_X, ALONG_Y), ("flat", "tall", "as given")):
        uses = _stack(smaller, sheet, _rows(smaller, sheet, list(counts), first, prefer), first)
        if len(uses) == 1 and uses[0][0].counts == counts:
            yield uses[0][0]


def cost_of(plan: list[Use], problem: CuttingProblem) -> int:
    """Return the cost of the plan in whole price units."""
    return sum(problem.sheets[filling.sheet].cost * times for filling, times in plan)


def sheets_used(plan: list[Use], problem: CuttingProblem) -> tuple[int, ...]:
    """Return how many of each kind of sheet the plan uses."""
    used = [0] * len(problem.sheets)
    for filling, times in plan:
        used[filling.sheet] += times
    return tuple(used)


def _sheet_orders(problem: CuttingProblem) -> list[tuple[int, ...]]:
    """Return the orders in which kinds of sheets are used up; each kind comes first once."""
    indices = range(len(problem.sheets))
    by_value = sorted(
        indices,
        key=lambda index: (
            problem.sheets[index].cost
            / (problem.sheets[index].width * problem.sheets[index].height),
            index,
        ),
    )
    return [(lead, *(index for index in by_value if index != lead)) for lead in by_value[:6]]


def _plan(
    problem: CuttingProblem, order: tuple[int, ...], first: int, prefer: str
) -> list[Use] | None:
    left = list(problem.counts)
    plan: list[Use] = []
    for sheet in order:
        room = problem.sheets[sheet].available
        rows = _rows(problem, sheet, left, first, prefer)
        for filling, times in _stack(problem, sheet, rows, first):
            times = times if room is None else min(times, room)
            if times == 0:
                break
            if room is not None:
                room -= times
            plan.append((filling, times))
            for kind, many in enumerate(filling.counts):
                left[kind] -= many * times
    return plan if not any(left) else None


def _rows(
    problem: CuttingProblem, sheet: int, counts: list[int], first: int, prefer: str
) -> list[_Row]:
    """Return rows that hold all pieces that fit on the sheet, each as full as it goes."""
    room = problem.sheets[sheet]
    length = room.height if first == ALONG_X else room.width
    lying: dict[int, tuple[int, int, int]] = {}
    for index in room.variants:
        variant = problem.variants[index]
        along, across = variant.width, variant.height
        if first == ALONG_X:
            along, across = across, along
        known = lying.get(variant.kind)
        better = known is None or (
            (prefer == "flat" and across < known[0]) or (prefer == "tall" and across > known[0])
        )
        if better:
            lying[variant.kind] = (across, along, index)
    left = list(counts)
    queue = sorted(
        (kind for kind in lying if left[kind]),
        key=lambda kind: (-lying[kind][0], -lying[kind][1], kind),
    )
    rows: list[_Row] = []
    while queue:
        pieces: list[int] = []
        free = length
        for kind in queue:
            across, along, index = lying[kind]
            many = min(left[kind], free // along)
            pieces.extend([index] * many)
            free -= many * along
            if problem.rounds == 1 and pieces:
                pieces = pieces[:1]
                break
        used = count_kinds(tuple(pieces), problem.variants, len(counts))
        times = min(left[kind] // used[kind] for kind in lying if used[kind])
        rows.append(_Row(tuple(pieces), lying[queue[0]][0], times))
        for kind in lying:
            left[kind] -= used[kind] * times
        queue = [kind for kind in queue if left[kind]]
    return rows


def _stack(problem: CuttingProblem, sheet: int, rows: list[_Row], first: int) -> list[Use]:
    """Stack rows on sheets, tallest first; rows that are alike are handled together."""
    room = problem.sheets[sheet]
    length = room.width if first == ALONG_X else room.height
    rows = sorted(rows, key=lambda row: (-row.height, row.pieces))
    left = [row.times for row in rows]
    uses: list[Use] = []
    while any(left):
        free = length
        taken: list[tuple[int, int]] = []
        for index, row in enumerate(rows):
            many = min(left[index], free // row.height)
            if many:
                taken.append((index, many))
                free -= many * row.height
        times = min(left[index] // many for index, many in taken)
        tree: Tree = tuple(
            rows[index].pieces if len(rows[index].pieces) > 1 else rows[index].pieces[0]
            for index, many in taken
            for _ in range(many)
        )
        counts = count_kinds(tree, problem.variants, len(problem.counts))
        uses.append((Filling(sheet, first, tree, counts), times))
        for index, many in taken:
            left[index] -= many * times
        rows = [row for row, many in zip(rows, left, strict=True) if many]
        left = [many for many in left if many]
    return uses
