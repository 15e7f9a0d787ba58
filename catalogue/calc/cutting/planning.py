"""Plans how to cut a job from the fewest or cheapest sheets, and proves how few it can be."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache, partial

from catalogue.calc.cutting.check import check_plan
from catalogue.calc.cutting.cuts import Cut, divide
from catalogue.calc.cutting.integers import (
    ALONG_X,
    CuttingProblem,
    Filling,
    exact_decimal,
    place_tree,
    split_into_problems,
)
from catalogue.calc.cutting.job import (
    BadCuttingJob,
    CutStep,
    CuttingJob,
    Layout,
    NotEnoughSheets,
    PieceKind,
    PieceTooLarge,
    Placement,
    PlannedOffcut,
    SheetKind,
    SheetPlan,
    check_job,
)
from catalogue.calc.cutting.search import Found, solve
from catalogue.calc.cutting.watch import Course, PlanCancelled, Watch

__all__ = [
    "BadCuttingJob",
    "CutStep",
    "CuttingJob",
    "Layout",
    "NotEnoughSheets",
    "PieceKind",
    "PieceTooLarge",
    "Placement",
    "PlanCancelled",
    "PlannedOffcut",
    "SheetKind",
    "SheetPlan",
    "Watch",
    "plan_cuts",
]

NOT_REACHED = " Whether a plan reaches this is not known."


def plan_cuts(job: CuttingJob, *, watch: Watch | None = None) -> SheetPlan:
    """Return the best plan found within the time limit, with a bound no plan can beat.

    With one kind of sheet the number of sheets is made small, else the cost. Pieces that share no
    kind of sheet are planned apart. The clock is read only to keep the time limit: the
    same job gives the same plan whenever the limit does not strike.
    A watch is told how it goes, and may cancel. Refuses a job that makes no sense, a piece that
    fits nowhere, too few sheets at hand, and to finish a plan that was cancelled.
    """
    course = Course(job.time_limit_s, watch)
    check_job(job)
    problems = split_into_problems(job)
    found: list[Found] = []
    progress = _Progress(job, problems, course)
    for index, problem in enumerate(problems):
        now = course.clock()
        share = (course.end - now) / (len(problems) - index)
        tell = partial(progress.tell, index)
        found.append(solve(problem, now + max(share, 0.0), course, tell))
    layouts = _layouts(job, problems, found)
    prices = {sheet.name: sheet.price for sheet in job.sheets}
    cost = sum((prices[layout.sheet] * layout.times for layout in layouts), Decimal(0))
    sheet_count = sum(layout.times for layout in layouts)
    bound = _bound(job, problems, found)
    # sheets that cost nothing are proven at once, whatever their number
    proven = bound == (sheet_count if len(job.sheets) == 1 else cost)
    plan = SheetPlan(
        sheet_count=sheet_count,
        cost=cost,
        lower_bound=bound,
        proven=proven,
        reason=_reason(problems, found, proven),
        seconds=course.clock() - course.started,
        layouts=layouts,
    )
    check_plan(plan, job)
    return plan


def _bound(job: CuttingJob, problems: Sequence[CuttingProblem], found: Sequence[Found]) -> Decimal:
    """Add the bounds of the parts: sheets when the job has one kind of sheet, else cost."""
    if len(job.sheets) == 1:
        return Decimal(found[0].bound.value)
    return exact_decimal(
        sum(
            (
                part.bound.value * _unit_price(job, problem)
                for problem, part in zip(problems, found, strict=True)
            ),
            Fraction(0),
        )
    )


def _unit_price(job: CuttingJob, problem: CuttingProblem) -> Fraction:
    """Return what 1 in the costs of a part stands for: a sheet, or a price."""
    if len(job.sheets) == 1:
        return Fraction(1)
    if len(problem.sheets) == 1:
        name = problem.sheets[0].name
        return next(Fraction(sheet.price) for sheet in job.sheets if sheet.name == name)
    return problem.price_unit


class _Progress:
    """Adds up how far the parts of a job have come; a part not begun has no plan yet."""

    def __init__(self, job: CuttingJob, problems: Sequence[CuttingProblem], course: Course) -> None:
        self._units = [_unit_price(job, problem) for problem in problems]
        self._costs: list[int | None] = [None] * len(problems)
        self._bounds = [0] * len(problems)
        self._course = course

    def tell(self, part: int, stage: str, cost: int | None, bound: int) -> None:
        self._costs[part], self._bounds[part] = cost, bound
        self._course.tell(stage, self._figures)

    def _figures(self) -> tuple[Decimal | None, Decimal | None]:
        bound = sum((u * b for u, b in zip(self._units, self._bounds, strict=True)), Fraction(0))
        known = [cost for cost in self._costs if cost is not None]
        if len(known) < len(self._costs):
            return None, exact_decimal(bound)
        value = sum((u * cost for u, cost in zip(self._units, known, strict=True)), Fraction(0))
        return exact_decimal(value), exact_decimal(bound)


def _reason(problems: Sequence[CuttingProblem], found: Sequence[Found], proven: bool) -> str:
    if len(found) == 1:
        said = found[0].bound.reason
    else:
        said = " ".join(
            f"{' or '.join(sheet.name for sheet in problem.sheets)}: {part.bound.reason}"
            for problem, part in zip(problems, found, strict=True)
        )
    return said if proven else said + NOT_REACHED


def _layouts(
    job: CuttingJob, problems: Sequence[CuttingProblem], found: Sequence[Found]
) -> tuple[Layout, ...]:
    """Return the layouts in lengths of the job, most used first."""
    kinds = {sheet.name: sheet for sheet in job.sheets}
    layouts = [
        _layout(problem, filling, times, kinds[problem.sheets[filling.sheet].name])
        for problem, part in zip(problems, found, strict=True)
        for filling, times in sorted(
            part.uses, key=lambda use: (use[0].sheet, -use[1], tuple(-n for n in use[0].counts))
        )
    ]
    return tuple(layouts)


def _layout(problem: CuttingProblem, filling: Filling, times: int, kind: SheetKind) -> Layout:
    sheet = problem.sheets[filling.sheet]
    placed = list(place_tree(filling.tree, filling.first, problem.variants))
    boxes = [
        (x, y, problem.variants[index].width, problem.variants[index].height)
        for index, x, y in placed
    ]
    division = divide(boxes, sheet.width, sheet.height, problem.rounds)
    unit, gap, trim = problem.unit, problem.gap, Fraction(kind.trim)

    def length(units: int) -> Decimal:
        return _length(unit, units, Fraction(0))

    def position(units: int) -> Decimal:
        return _length(unit, units, trim)

    def step(cut: Cut) -> CutStep:
        x, y, width, height = cut.part
        return CutStep(
            round=cut.round,
            is_vertical=cut.axis == ALONG_X,
            at=position(cut.at - gap),
            x=position(x),
            y=position(y),
            width=length(width - gap),
            height=length(height - gap),
            is_trim=cut.is_trim,
        )

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
            for (index, _, _), (_, _, width, height), (x, y) in zip(
                placed, boxes, division.places, strict=True
            )
        ),
        offcuts=tuple(
            PlannedOffcut(position(x), position(y), length(width - gap), length(height - gap))
            for x, y, width, height in division.offcuts
            if width > gap and height > gap
        ),
        slack=length(division.slack),
        cuts=(*_edge_cuts(kind), *(step(cut) for cut in division.cuts)),
    )


@lru_cache(maxsize=10_000)  # some 5 MB in each process
def _length(unit: Fraction, units: int, plus: Fraction) -> Decimal:
    """Return so many units and something; the same lengths come again and again."""
    return exact_decimal(unit * units + plus)


def _edge_cuts(sheet: SheetKind) -> list[CutStep]:
    """Return the cuts that take the trim off all four edges."""
    trim = sheet.trim
    if not trim:
        return []
    right, top = sheet.width - trim, sheet.height - trim
    inside, zero = right - trim, Decimal(0)
    return [
        CutStep(0, True, trim, zero, zero, sheet.width, sheet.height, True),
        CutStep(0, True, right, trim, zero, right, sheet.height, True),
        CutStep(0, False, trim, trim, zero, inside, sheet.height, True),
        CutStep(0, False, top, trim, trim, inside, top, True),
    ]
