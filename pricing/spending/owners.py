"""What orders and fairs cost between two dates: materials, expenses, and costs of a fair."""

import datetime
from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.db import models

from catalogue.expenses.models import Expense
from catalogue.stock.models import StockEntry
from maker.workshop.models import Workshop
from pricing.fairs.models import Fair, FairCost, FairDay
from pricing.orders.models import Order, OrderExpense

ZERO = Decimal(0)
OF_ORDER = "order "


@dataclass(frozen=True, slots=True)
class OrderSpend:
    """An order: materials that left stock for it at cost, and its expenses."""

    order: Order
    materials: Decimal
    expenses: Decimal

    @property
    def together(self) -> Decimal:
        """Return both."""
        return self.materials + self.expenses


@dataclass(frozen=True, slots=True)
class FairSpend:
    """A fair: what was entered as its expenses, and costs that were only noted."""

    fair: Fair
    expenses: Decimal
    noted: Decimal

    @property
    def together(self) -> Decimal:
        """Return both."""
        return self.expenses + self.noted


def _used(
    workshop: Workshop, first: datetime.date, last: datetime.date
) -> dict[int | str, Decimal]:
    """Return what left stock for orders at cost: with batches by the order's key, else by number.

    One query.
    """
    entries = StockEntry.objects.of(workshop).standing().filter(
        kind=StockEntry.Kind.USED, moved_on__gte=first, moved_on__lte=last
    )  # fmt: skip
    with_batch = models.Q(
        of_batch__batch__order__isnull=False, of_batch__batch__undone_at__isnull=True
    )
    used: dict[int | str, Decimal] = defaultdict(Decimal)
    for key, reason, change, cost in (
        entries.filter(with_batch | models.Q(reason__startswith=OF_ORDER, of_batch__isnull=True))
        # in no order: one asked for makes SQLite read every ledger of the database
        .order_by()
        .values_list("of_batch__batch__order", "reason", "change", "unit_cost")
    ):
        used[key or reason.removeprefix(OF_ORDER)] -= change * (cost or ZERO)
    return used


def used_by_order(
    workshop: Workshop, first: datetime.date, last: datetime.date
) -> dict[str, Decimal]:
    """Return what left stock for orders at cost, by number, the most first (two queries).

    A number nobody has an order of is one that was written beside a stock movement.
    """
    used = _used(workshop, first, last)
    keys = [key for key in used if isinstance(key, int)]
    numbers = dict(Order.objects.of(workshop).filter(pk__in=keys).values_list("pk", "number"))
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for key, cost in used.items():
        sums[numbers[key] if isinstance(key, int) else key] += cost
    return dict(sorted(sums.items(), key=lambda each: (-each[1], each[0])))


def spent_by_order(
    workshop: Workshop, first: datetime.date, last: datetime.date
) -> list[OrderSpend]:
    """Return the orders that cost something between two dates, the most first (three queries)."""
    used = _used(workshop, first, last)
    paid: dict[int, Decimal] = defaultdict(Decimal)
    expenses = Expense.objects.of(workshop).counted().between(first, last)
    for key, cost in (
        OrderExpense.objects.filter(expense__in=expenses)
        .order_by("pk")
        .values_list("order", "expense__cost")
    ):
        paid[key] += cost
    numbers = [key for key in used if isinstance(key, str)]
    keys = [*paid, *(key for key in used if isinstance(key, int))]
    rows = Order.objects.of(workshop).with_people()
    found = [
        OrderSpend(row, used.get(row.pk, ZERO) + used.get(row.number, ZERO), paid.get(row.pk, ZERO))
        for row in rows.filter(models.Q(pk__in=keys) | models.Q(number__in=numbers))
    ]
    some = [one for one in found if one.materials or one.expenses]
    return sorted(some, key=lambda one: (-one.together, one.order.pk))


def spent_by_fair(workshop: Workshop, first: datetime.date, last: datetime.date) -> list[FairSpend]:
    """Return the fairs that cost something between two dates, the most first (one query).

    An expense counts on its date, what was only noted on the first day of the fair.
    """
    days = FairDay.objects.filter(fair=models.OuterRef("fair")).order_by("held_on")
    costs = (
        FairCost.objects.filter(fair__workshop=workshop)
        .exclude(kind=FairCost.Kind.DRAWING)
        .annotate(first_on=models.Subquery(days.values("held_on")[:1]))
        .select_related("expense", "fair")
        .order_by("pk")
    )
    fairs: dict[int, Fair] = {}
    expenses: dict[int, Decimal] = defaultdict(Decimal)
    noted: dict[int, Decimal] = defaultdict(Decimal)
    for cost in costs:
        fairs[cost.fair_id] = cost.fair
        if cost.expense is not None:
            on, sums = cost.expense.paid_on, expenses
        else:
            on, sums = cost.first_on, noted
        if on is not None and first <= on <= last:
            sums[cost.fair_id] += cost.counted
    found = [
        FairSpend(row, expenses.get(key, ZERO), noted.get(key, ZERO)) for key, row in fairs.items()
    ]
    some = [one for one in found if one.expenses or one.noted]
    return sorted(some, key=lambda one: (-one.together, one.fair.pk))
