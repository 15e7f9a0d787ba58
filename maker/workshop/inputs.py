"""What the workshop's rows say about an hour, as plain values."""

from collections.abc import Iterable
from decimal import Decimal

from maker.calc.overhead import OverheadCost, Writing, rate_over_month, rate_over_year
from maker.workshop.models import OverheadItem, Workshop


def overhead_per_hour(workshop: Workshop, items: Iterable[OverheadItem]) -> tuple[Decimal, str]:
    """Return what overhead adds to an hour, not rounded, and how that comes about.

    Needs no query: the caller hands over the items. Refusals: NoHours, when there is overhead
    but no hours to share it over.
    """
    if workshop.overhead_basis == Workshop.OverheadBasis.STATED:
        return workshop.overhead_per_hour_stated, "stated by you, not worked out"
    costs = [
        OverheadCost(amount=item.amount, is_yearly=item.period == OverheadItem.Period.YEAR)
        for item in items
    ]
    writing = Writing(workshop.currency, workshop.locale)
    if workshop.overhead_basis == Workshop.OverheadBasis.MONTHLY:
        return rate_over_month(costs, workshop.planned_hours_per_month, writing)
    return rate_over_year(costs, workshop.hours_per_year, writing)
