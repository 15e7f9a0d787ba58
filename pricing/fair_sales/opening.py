"""Opening a day: its prices are fixed from then on."""

import datetime

from django.db import transaction

from maker.calc.refusal import Refusal
from pricing.fair_sales.models import TablePrice
from pricing.fair_sales.prices_now import prices_now
from pricing.fairs.models import FairDay, FairDesign


class CannotOpen(Refusal):
    """A day that cannot be opened, or not be taken back."""


@transaction.atomic
def open_day(*, day: FairDay, now: datetime.datetime) -> FairDay:
    """Open a day for selling: items and bundles keep today's prices for it.

    A day that was closed opens again at the prices it had, and what its till was over or short is
    not booked any more. Refusals: CannotOpen.
    """
    row = (
        FairDay.objects.select_for_update(of=("self",))
        .select_related("fair__workshop", "fair__channel")
        .get(pk=day.pk)
    )
    if row.is_open:
        return row
    if not FairDesign.objects.filter(fair=row.fair_id).exists():
        raise CannotOpen("Put items on the table first.")
    if not row.prices.exists():
        TablePrice.objects.bulk_create(prices_now(row))
    row.opened_at = row.opened_at or now
    row.closed_at = row.till_difference = None
    row.save(update_fields=["opened_at", "closed_at", "till_difference"])
    return row


@transaction.atomic
def take_back_opening(*, day: FairDay) -> FairDay:
    """Undo the opening of a day on which nothing was sold: its prices are free again.

    Refusals: CannotOpen.
    """
    row = FairDay.objects.select_for_update(of=("self",)).get(pk=day.pk)
    if row.sales.exists():
        raise CannotOpen("Something was stored for this day already. Close it instead.")
    row.prices.all().delete()
    row.opened_at = row.closed_at = row.till_difference = None
    row.save(update_fields=["opened_at", "closed_at", "till_difference"])
    return row
