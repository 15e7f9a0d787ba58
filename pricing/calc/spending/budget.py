"""A monthly budget with what is left carried on: at most one month's, an overspend in full."""

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import with_working_precision
from pricing.calc.spending.spend import BudgetStep, months_between, months_later

ZERO = Decimal(0)
MONTHS_BACK = 120


@dataclass(frozen=True, slots=True)
class BudgetMonth:
    """What there was to spend in a month, what was spent and left, and what is carried on."""

    available: Decimal
    spent: Decimal
    left: Decimal
    carried: Decimal


def carried_over(budget: Decimal, spent: Sequence[Decimal]) -> list[BudgetMonth]:
    """Return each month of a budget; `spent` is by month, in order."""
    return over_months([budget] * len(spent), spent)


@with_working_precision
def over_months(budgets: Sequence[Decimal], spent: Sequence[Decimal]) -> list[BudgetMonth]:
    """Return each month of budgets that change; both by month, in order."""
    carry, months = ZERO, []
    for budget, each in zip(budgets, spent, strict=True):
        available = budget + carry
        left = available - each
        carry = min(left, budget)
        months.append(BudgetMonth(available, each, left, carry))
    return months


@dataclass(frozen=True, slots=True)
class Standing:
    """A category's budget in one month; `carried_in` is what earlier months left or overspent."""

    category: str
    budget: Decimal
    carried_in: Decimal
    spent: Decimal
    carries: bool

    @property
    def left(self) -> Decimal:
        """Return what is left to spend, below zero what is overspent."""
        return self.budget + self.carried_in - self.spent


def carrying_since(
    steps: Sequence[BudgetStep], category: str, month: datetime.date
) -> datetime.date | None:
    """Return the month from which a category's budget is carried on without a break to a month."""
    since: datetime.date | None = None
    for step in sorted(steps, key=lambda one: one.month):
        if step.category != category or step.month > month:
            continue
        if step.amount is None or not step.carries:
            since = None
        elif since is None:
            since = step.month
    return since if since is None else max(since, months_later(month, -MONTHS_BACK))


@with_working_precision
def standings(
    steps: Sequence[BudgetStep],
    month: datetime.date,
    spent: Callable[[str, datetime.date], Decimal],
) -> list[Standing]:
    """Return how each category with a budget stands in a month, in the order of its steps."""
    found = []
    ordered = sorted(steps, key=lambda one: one.month)
    for category in dict.fromkeys(step.category for step in ordered):
        mine = [step for step in ordered if step.category == category and step.month <= month]
        if not mine or mine[-1].amount is None:
            continue
        since = carrying_since(steps, category, month)
        carried_in = ZERO
        if since is not None and since < month:
            months = [
                months_later(since, count) for count in range(months_between(since, month) - 1)
            ]
            carried_in = over_months(
                [_holding(mine, each) for each in months],
                [spent(category, each) for each in months],
            )[-1].carried
        found.append(
            Standing(
                category, mine[-1].amount, carried_in, spent(category, month), since is not None
            )
        )
    return found


def _holding(steps: Sequence[BudgetStep], month: datetime.date) -> Decimal:
    """Return the amount that holds in a month; steps are of one category, the earliest first."""
    amounts = [step.amount for step in steps if step.month <= month]
    return (amounts[-1] or ZERO) if amounts else ZERO
