"""What an order costs: all its lines are one job.

Lines of one recipe (design and version) form a group: set-up once, batches and practice by the
group's sum. Sheets are planned for the whole order, one job for each material. What a line uses by
itself stays with it; what is shared goes by items made, sheets by the area of pieces. Shares are
exact and add up to the order. An order of one line costs what `cost_of` says of that job.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from catalogue.calc.cutting.integers import split_into_problems
from catalogue.calc.cutting.job import CuttingJob, SheetPlan, check_job
from catalogue.calc.recipes.recipe import Basis, Recipe, RecipeStep
from catalogue.calc.sheets.use import PlanSheets
from catalogue.calc.supplies.shopping import Need
from maker.calc.explanation import Line
from maker.calc.money import with_working_precision
from maker.calc.refusal import Refusal
from pricing.calc.costing.rates import WorkshopRates
from pricing.calc.orders.charges import Charge
from pricing.calc.orders.groups import Group, OrderedLine, Part, as_decimal, group_lines
from pricing.calc.orders.needs import needs_of
from pricing.calc.orders.rows import (
    fixing_charges,
    packing_charges,
    unit_cost,
    wear_charges,
    work_charges,
)
from pricing.calc.orders.sheets import (
    SheetJob,
    SheetPlanning,
    sheet_charges,
    sheet_wear,
    sheet_work,
)
from pricing.calc.orders.words import say_line, say_order

__all__ = ["LineCost", "OrderCost", "OrderedLine", "cost_of_order", "refusals_of"]

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class LineCost:
    """A line's share of the order. `shares` has (charge, amount) of what it is charged, exactly.

    `quantity` are its good items, `group_quantity` those of all lines of its recipe; `made` is
    its part of those made; `names` are those it is charged for, none unless it `takes_names`.
    """

    place: int
    recipe: Recipe
    quantity: int
    group_quantity: int
    made: Fraction
    names: int
    takes_names: bool
    answers: Mapping[str, str]
    steps: tuple[RecipeStep, ...]
    shares: tuple[tuple[Charge, Fraction], ...]
    exact_cost: Fraction
    exact_minutes: Fraction
    wage_per_hour: Decimal
    explanation: Line

    @property
    @with_working_precision
    def cost(self) -> Decimal:
        """What the line costs, net, unrounded."""
        return as_decimal(self.exact_cost)

    @property
    @with_working_precision
    def cost_each(self) -> Decimal:
        """What one good item of it costs."""
        return as_decimal(self.exact_cost / self.quantity)

    @property
    @with_working_precision
    def minutes(self) -> Decimal:
        """Hands-on minutes."""
        return as_decimal(self.exact_minutes)

    @property
    @with_working_precision
    def labour_cost(self) -> Decimal:
        """The wage in its cost."""
        return as_decimal(self.exact_minutes * Fraction(self.wage_per_hour) / 60)


@dataclass(frozen=True, slots=True)
class OrderCost:
    """What a whole order costs, with every figure on the way; lines in the order of the asked ones.

    `cost` and `minutes` are the sums of the lines; `needs` are the materials to have, sheets whole.
    """

    lines: tuple[LineCost, ...]
    groups: tuple[Group, ...]
    charges: tuple[Charge, ...]
    jobs: tuple[SheetJob, ...]
    needs: tuple[Need, ...]
    rates: WorkshopRates
    explanation: Line

    @property
    @with_working_precision
    def cost(self) -> Decimal:
        """The cost of the order, net, unrounded."""
        return as_decimal(sum((line.exact_cost for line in self.lines), ZERO))

    @property
    @with_working_precision
    def minutes(self) -> Decimal:
        """Hands-on minutes."""
        return as_decimal(sum((line.exact_minutes for line in self.lines), ZERO))

    @property
    @with_working_precision
    def labour_cost(self) -> Decimal:
        """The wage in the cost."""
        return self.minutes * self.rates.wage_per_hour / 60

    @property
    @with_working_precision
    def name_minutes(self) -> Decimal:
        """Minutes of work on names."""
        named = (each.exact for each in self.charges if each.basis is Basis.NAME and each.is_work)
        return as_decimal(sum(named, ZERO))

    @property
    def quantity(self) -> int:
        """Good items in all."""
        return sum(line.quantity for line in self.lines)

    @property
    def sheets(self) -> int:
        """Whole sheets in all."""
        return sum(job.sheets for job in self.jobs)


def refusals_of(lines: Sequence[OrderedLine], rates: WorkshopRates) -> dict[int, Refusal]:
    """Return why lines cannot be costed, by place; found without planning a sheet."""
    found: dict[int, Refusal] = {}
    for place, line in enumerate(lines):
        try:
            cost_of_order([line], rates, _look_at)
        except Refusal as refusal:
            found[place] = refusal
    return found


def _look_at(job: CuttingJob) -> SheetPlan:
    """Refuse pieces that fit on no sheet; plan nothing."""
    check_job(job)
    split_into_problems(job)
    return SheetPlan(1, Decimal(1), Decimal(1), True, "", 0.0, ())


@with_working_precision
def cost_of_order(
    lines: Sequence[OrderedLine], rates: WorkshopRates, plan_sheets: PlanSheets
) -> OrderCost:
    """Return what an order costs, and each line's share of it.

    Refuses an order of nothing (NothingOrdered), and what `cost_of` refuses for one of its lines:
    an impossible quantity, an unknown option, a piece that fits on no sheet (from the planner) and
    a material without a cost.
    """
    groups = group_lines(lines)
    for group in groups:
        _refuse_without_cost(group)
    planning = SheetPlanning(groups, plan_sheets, rates.offcut_least_mm)
    charges = [
        *sheet_charges(planning.jobs, unit_cost, rates.offcut_least_mm),
        *(charge for group in groups for charge in fixing_charges(group)),
        *sheet_wear(planning),
        *(charge for group in groups for charge in wear_charges(group)),
        *(charge for group in groups for charge in packing_charges(group)),
        *sheet_work(planning),
        *(charge for group in groups for charge in work_charges(group)),
    ]
    charges = [charge for charge in charges if charge.shares]
    parts = sorted(
        ((group, part) for group in groups for part in group.parts), key=lambda each: each[1].place
    )
    made = {
        place: many for group in groups for place, many in group.made_shares(group.parts).items()
    }
    return OrderCost(
        lines=tuple(
            _line_cost(group, part, made[part.place], charges, rates) for group, part in parts
        ),
        groups=groups,
        charges=tuple(charges),
        jobs=planning.jobs,
        needs=needs_of(groups, planning.jobs, charges),
        rates=rates,
        explanation=say_order(groups, charges, rates),
    )


def _refuse_without_cost(group: Group) -> None:
    for part in group.parts:
        for piece in part.pieces.values():
            unit_cost(part.material(piece.role, piece.name))


def _hour(rates: WorkshopRates) -> Fraction:
    return Fraction(rates.wage_per_hour) + Fraction(rates.overhead_per_hour)


def _line_cost(
    group: Group,
    part: Part,
    made: Fraction,
    charges: Sequence[Charge],
    rates: WorkshopRates,
) -> LineCost:
    hour = _hour(rates)
    mine = [charge for charge in charges if part.place in charge.shares]
    cost = sum((charge.cost_of(part.place, hour) for charge in mine), ZERO)
    minutes = sum((charge.shares[part.place] for charge in mine if charge.is_work), ZERO)
    return LineCost(
        place=part.place,
        recipe=part.recipe,
        quantity=part.quantity,
        group_quantity=group.quantity,
        made=made,
        names=part.names,
        takes_names=part.takes_names,
        answers=part.answers,
        steps=tuple(part.steps.values()),
        shares=tuple((charge, charge.shares[part.place]) for charge in mine),
        exact_cost=cost,
        exact_minutes=minutes,
        wage_per_hour=rates.wage_per_hour,
        explanation=say_line(group, part, made, mine, cost, minutes, rates),
    )
