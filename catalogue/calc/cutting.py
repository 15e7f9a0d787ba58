"""Plans how to cut a job from the fewest or cheapest sheets, and proves how few it can be."""

from __future__ import annotations

import time
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from catalogue.calc.cutting_check import check_plan
from catalogue.calc.cutting_integers import (
    Filling,
    Problem,
    exact_decimal,
    place_tree,
    split_into_problems,
)
from catalogue.calc.cutting_job import (
    BadCuttingJob,
    CuttingJob,
    CuttingPlan,
    Layout,
    NotEnoughSheets,
    Offcut,
    PieceKind,
    PieceTooLarge,
    Placement,
    SheetKind,
    check_job,
)
from catalogue.calc.cutting_offcuts import offcuts_and_slack
from catalogue.calc.cutting_search import Found, solve

__all__ = [
    "BadCuttingJob",
    "CuttingJob",
    "CuttingPlan",
    "Layout",
    "NotEnoughSheets",
    "Offcut",
    "PieceKind",
    "PieceTooLarge",
    "Placement",
    "SheetKind",
    "plan_cuts",
]


def plan_cuts(job: CuttingJob) -> CuttingPlan:
    """Return the best plan found within the time limit, with a bound no plan can beat.

    With one kind of sheet the number of sheets is made small, else the cost. Pieces that share no
    kind of sheet are planned apart. The monotonic clock is read only to keep the time limit: the
    same job gives the same plan whenever the limit does not strike.
    Refuses a job that makes no sense, a piece that fits nowhere, and too few sheets at hand.
    """
    started = time.monotonic()
    check_job(job)
    problems = split_into_problems(job)
    found: list[Found] = []
    for index, problem in enumerate(problems):
        now = time.monotonic()
        share = (started + job.time_limit_s - now) / (len(problems) - index)
        found.append(solve(problem, now + max(share, 0.0)))
    layouts = _layouts(job, problems, found)
    prices = {sheet.name: sheet.price for sheet in job.sheets}
    cost = sum((prices[layout.sheet] * layout.times for layout in layouts), Decimal(0))
    sheet_count = sum(layout.times for layout in layouts)
    bound = _bound(job, problems, found)
    # sheets that cost nothing are proven at once, whatever their number
    proven = bound == (sheet_count if len(job.sheets) == 1 else cost)
    plan = CuttingPlan(
        sheet_count=sheet_count,
        cost=cost,
        lower_bound=bound,
        proven=proven,
        reason=_reason(problems, found, proven),
        seconds=time.monotonic() - started,
        layouts=layouts,
    )
    check_plan(plan, job)
    return plan


def _bound(job: CuttingJob, problems: Sequence[Problem], found: Sequence[Found]) -> Decimal:
    """Add the bounds of the parts: sheets when the job has one kind of sheet, else cost."""
    if len(job.sheets) == 1:
        return Decimal(found[0].bound.value)
    prices = {sheet.name: Fraction(sheet.price) for sheet in job.sheets}
    total = Fraction(0)
    for problem, part in zip(problems, found, strict=True):
        if len(problem.sheets) == 1:
            total += prices[problem.sheets[0].name] * part.bound.value
        else:
            total += problem.price_unit * part.bound.value
    return exact_decimal(total)


def _reason(problems: Sequence[Problem], found: Sequence[Found], proven: bool) -> str:
    if len(found) == 1:
        said = found[0].bound.reason
    else:
        said = " ".join(
            f"{' or '.join(sheet.name for sheet in problem.sheets)}: {part.bound.reason}"
            for problem, part in zip(problems, found, strict=True)
        )
    return said if proven else f"{said} Whether a plan reaches this is not known."


def _layouts(
    job: CuttingJob, problems: Sequence[Problem], found: Sequence[Found]
) -> tuple[Layout, ...]:
    """Return the layouts in lengths of the job, most used first."""
    trims = {sheet.name: Fraction(sheet.trim) for sheet in job.sheets}
    layouts = [
        _layout(problem, filling, times, trims[problem.sheets[filling.sheet].name])
        for problem, part in zip(problems, found, strict=True)
        for filling, times in sorted(
            part.uses, key=lambda use: (use[0].sheet, -use[1], tuple(-n for n in use[0].counts))
        )
    ]
    return tuple(layouts)


def _layout(problem: Problem, filling: Filling, times: int, trim: Fraction) -> Layout:
    sheet = problem.sheets[filling.sheet]
    placed = list(place_tree(filling.tree, filling.first, problem.variants))
    boxes = [
        (x, y, problem.variants[index].width, problem.variants[index].height)
        for index, x, y in placed
    ]
    free, slack = offcuts_and_slack(boxes, sheet.width, sheet.height, problem.rounds)
    unit, gap = problem.unit, problem.gap

    def length(units: int) -> Decimal:
        return exact_decimal(unit * units)

    def position(units: int) -> Decimal:
        return exact_decimal(unit * units + trim)

    return Layout(
        sheet=sheet.name,
        times=times,
        placements=tuple(
            Placement(
                piece=problem.names[problem.variants[index].kind],
                x=position(x),
                y=position(y),
                width=length(width - gap),
                height=length(height - gap),
                turned=problem.variants[index].turned,
            )
            for (index, _, _), (x, y, width, height) in zip(placed, boxes, strict=True)
        ),
        offcuts=tuple(
            Offcut(position(x), position(y), length(width - gap), length(height - gap))
            for x, y, width, height in free
            if width > gap and height > gap
        ),
        slack=length(slack),
    )
