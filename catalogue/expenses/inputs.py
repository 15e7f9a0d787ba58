"""Rows to values: what overhead came to in twelve months beside what her prices count for it."""

import datetime
from decimal import Decimal

from django.db.models import Q, Sum

from catalogue.calc.supplies.repeating import (
    OverheadSoFar,
    Paid,
    months_on,
    overhead_so_far,
)
from catalogue.expenses.models import MOST_YEARS, Expense
from maker.calc.overhead import OverheadCost, yearly_total
from maker.exact_sums import Millionths, MonthOf, from_millionths
from maker.workshop.models import OverheadItem, Workshop


def overhead_counted(workshop: Workshop) -> Decimal:
    """Return what her prices count for overhead in a year, if she works the hours she plans."""
    if workshop.overhead_basis == Workshop.OverheadBasis.STATED:
        return workshop.overhead_per_hour_stated * workshop.hours_per_year
    return yearly_total(
        [
            OverheadCost(amount=item.amount, is_yearly=item.period == OverheadItem.Period.YEAR)
            for item in OverheadItem.objects.of(workshop)
        ]
    )


def as_paid(row: Expense) -> Paid:
    """Return an expense as overhead bears it."""
    return Paid(row.paid_on, row.cost, row.lasts_years)


def overhead_of_a_year(workshop: Workshop, month: datetime.date) -> OverheadSoFar:
    """Return overhead of the twelve months up to and with a month (two queries)."""
    last = month.replace(day=1)
    first = months_on(last, -11)
    end = months_on(last, 1) - datetime.timedelta(days=1)
    lasting = Q(lasts_years__isnull=False, paid_on__gte=months_on(first, -12 * MOST_YEARS))
    rows = (
        Expense.objects.of(workshop)
        .counted()
        .overhead()
        .filter(Q(paid_on__gte=first) | lasting, paid_on__lte=end)
        # a year of expenses is a few months of sums: overhead is borne by whole months
        .annotate(month=MonthOf("paid_on"))
        .values_list("month", "lasts_years")
        .annotate(sum=Sum(Millionths("cost")))
        .order_by()
    )
    paid = [Paid(month, from_millionths(total), years) for month, years, total in rows]
    return overhead_so_far(paid, first, last, overhead_counted(workshop))
