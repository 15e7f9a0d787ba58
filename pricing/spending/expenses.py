"""What was spent besides supplies, by month and by category; and the two together."""

import datetime
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import models

from catalogue.calc.supplies.foreign_receipts import exchange_difference
from catalogue.expenses.models import Expense
from catalogue.purchases.models import Purchase
from catalogue.stock.models import StockEntry
from maker.calc.money import minor_digits, to_minor
from maker.exact_sums import Millionths, MonthOf, from_millionths
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import last_day

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class OtherSpending:
    """Expenses by month and category."""

    by_month: Mapping[datetime.date, Mapping[str, Decimal]]

    def total(self, months: Iterable[datetime.date], category: str | None = None) -> Decimal:
        """Add up some months, of all or of one category."""
        return sum(
            (
                amount
                for month in months
                for of_category, amount in self.by_month.get(month, {}).items()
                if category in (None, of_category)
            ),
            ZERO,
        )

    def categories(self, months: Sequence[datetime.date]) -> list[str]:
        """Return the categories there are in some months, the most first."""
        found = {
            category: self.total(months, category)
            for month in months
            for category in self.by_month.get(month, {})
        }
        return sorted(found, key=lambda category: (-found[category], category))


def other_spending(workshop: Workshop, first: datetime.date, last: datetime.date) -> OtherSpending:
    """Return expenses of some months (one query); those on receipts not in stock do not count."""
    rows = (
        Expense.objects.of(workshop)
        .counted()
        .between(first, last_day(last))
        .annotate(month=MonthOf("paid_on"))
        .values_list("month", "category")
        .annotate(sum=models.Sum(Millionths("cost")))
        .order_by()
    )
    by_month: dict[datetime.date, dict[str, Decimal]] = defaultdict(dict)
    for month, category, millionths in rows:
        by_month[month][category] = from_millionths(millionths)
    return OtherSpending(by_month)


@dataclass(frozen=True, slots=True)
class Apart:
    """What is never mixed into what was spent: refunds of returns, and what banks took besides."""

    refunds: Decimal
    exchange: Decimal


def shown_apart(workshop: Workshop, first: datetime.date, last: datetime.date) -> Apart:
    """Return refunds by the date goods went back, exchange differences by that of the receipt.

    Two queries.
    """
    refunds = (
        StockEntry.objects.of(workshop)
        .standing()
        .filter(
            kind=StockEntry.Kind.RETURNED,
            refund__isnull=False,
            moved_on__gte=first,
            moved_on__lte=last_day(last),
        )
        .values_list("refund", flat=True)
    )
    receipts = (
        Purchase.objects.of(workshop)
        .recorded()
        .between(first, last_day(last))
        .filter(charged__isnull=False)
        .with_totals()
    )
    digits = minor_digits(workshop.currency)
    exchange = ZERO
    for one in receipts:
        paid = to_minor(one.paid, digits)  # type: ignore[attr-defined]  # annotated
        exchange += exchange_difference(one.charged or ZERO, paid)
    return Apart(sum((refund or ZERO for refund in refunds), ZERO), exchange)
