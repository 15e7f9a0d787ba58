"""Planned against actual over a whole batch or order: prices, use, wage, pace, volume.

The plan is flexed to what was really made before use and pace are judged; what making more or
fewer items changes by itself is the volume. Source: OpenStax, Principles of Accounting 2, chapter 8
(flexible budget, material and labour variances).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import with_working_precision
from pricing.calc.times.variances import Variance, variance_of

ZERO = Decimal(0)
HOUR = Decimal(60)


@dataclass(frozen=True, slots=True)
class MaterialUse:
    """A material: planned use of an item and unit cost, actual use in all and unit cost."""

    name: str
    planned_each: Decimal
    planned_price: Decimal
    actual_amount: Decimal
    actual_price: Decimal


@dataclass(frozen=True, slots=True)
class WorkDone:
    """Work: planned minutes of set-up and of an item, wage an hour, and the actual ones."""

    setup_minutes: Decimal
    minutes_each: Decimal
    planned_wage: Decimal
    actual_hours: Decimal
    actual_wage: Decimal

    def planned_hours(self, made: Decimal) -> Decimal:
        """Return the hours so many items should have taken."""
        return (self.setup_minutes + made * self.minutes_each) / HOUR


@dataclass(frozen=True, slots=True)
class OrderActuals:
    """Costs planned, planned for what was made, and actual; money, unrounded.

    planned + volume + all variances = actual.
    """

    planned_amounts: tuple[Decimal, ...]
    materials: tuple[Variance, ...]
    planned_hours: Decimal
    work: Variance
    planned_cost: Decimal
    flexed_cost: Decimal
    actual_cost: Decimal

    @property
    def volume(self) -> Decimal:
        """Return what it cost more because more items were made than planned."""
        return self.flexed_cost - self.planned_cost

    @property
    def unexplained(self) -> Decimal:
        """Return what the parts do not explain: nothing but the last digit of a division."""
        explained = sum((each.total for each in (*self.materials, self.work)), self.volume)
        return self.planned_cost + explained - self.actual_cost


@with_working_precision
def actuals_of(
    planned: Decimal, made: Decimal, materials: Sequence[MaterialUse], work: WorkDone
) -> OrderActuals:
    """Return how the actual cost of `made` items differs from the plan for `planned` ones."""

    def cost_of(count: Decimal) -> Decimal:
        used = sum((count * each.planned_each * each.planned_price for each in materials), ZERO)
        return used + work.planned_hours(count) * work.planned_wage

    amounts = tuple(made * each.planned_each for each in materials)
    variances = tuple(
        variance_of(
            each.name,
            planned_amount=amount,
            planned_price=each.planned_price,
            actual_amount=each.actual_amount,
            actual_price=each.actual_price,
        )
        for each, amount in zip(materials, amounts, strict=True)
    )
    hours = work.planned_hours(made)
    labour = variance_of(
        "work",
        planned_amount=hours,
        planned_price=work.planned_wage,
        actual_amount=work.actual_hours,
        actual_price=work.actual_wage,
    )
    paid = sum((each.actual_amount * each.actual_price for each in materials), ZERO)
    return OrderActuals(
        planned_amounts=amounts,
        materials=variances,
        planned_hours=hours,
        work=labour,
        planned_cost=cost_of(planned),
        flexed_cost=cost_of(made),
        actual_cost=paid + work.actual_hours * work.actual_wage,
    )
