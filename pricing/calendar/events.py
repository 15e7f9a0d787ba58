"""What is on which date in a workshop, from what is there already: nothing is typed twice."""

import datetime
from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import reverse

from maker.calc.money import format_money
from maker.workshop.models import CalendarDate, Workshop
from pricing.fairs.models import Fair, FairDay
from pricing.orders.models import Order, OrderDelivery
from pricing.orders.overdue import open_invoices
from pricing.quotes.models import Quote

DAY = datetime.timedelta(days=1)
MOST = 2000  # events of one reading, far beyond a workshop of one


@dataclass(frozen=True, slots=True)
class CalendarEvent:
    """Something on a date, or on several up to `until`; `key` stays the same for the same thing."""

    key: str
    kind: str
    on: datetime.date
    until: datetime.date
    text: str
    url: str = ""

    @property
    def dates(self) -> list[datetime.date]:
        """Return every date it is on."""
        return [self.on + DAY * place for place in range((self.until - self.on).days + 1)]


def events_between(
    workshop: Workshop, first: datetime.date, last: datetime.date
) -> list[CalendarEvent]:
    """Return what is on between two dates, in order (eight queries)."""
    found = [
        *_deliveries(workshop, first, last),
        *_quotes(workshop, first, last),
        *_invoices(workshop, first, last),
        *_own_dates(workshop, first, last),
        *_fairs(workshop, first, last),
    ]
    return sorted(found, key=lambda event: (event.on, event.kind, event.key))


def _one(
    key: str, kind: str, on: datetime.date, text: str, view: str, workshop: Workshop, pk: int
) -> CalendarEvent:
    return CalendarEvent(key, kind, on, on, text, reverse(view, args=[workshop.slug, pk]))


def _deliveries(
    workshop: Workshop, first: datetime.date, last: datetime.date
) -> Iterator[CalendarEvent]:
    rows = (
        OrderDelivery.objects.filter(
            order__in=Order.objects.of(workshop).exclude(state=Order.State.CANCELLED),
            due_on__range=(first, last),
        )
        # of hundreds of deliveries nothing but what is told
        .values_list(
            *("pk", "due_on", "delivered_on"),
            *("order_id", "order__number", "order__quote__customer__name"),
        )
        .order_by("due_on", "pk")
    )
    for pk, due_on, delivered_on, order, number, customer in rows[:MOST]:
        text = f"Deliver {number} to {customer}{' (delivered)' if delivered_on else ''}"
        if due_on:
            key = f"delivery-{pk}"
            yield _one(key, "delivery", due_on, text, "pricing:order", workshop, order)


def _quotes(
    workshop: Workshop, first: datetime.date, last: datetime.date
) -> Iterator[CalendarEvent]:
    rows = Quote.objects.of(workshop).for_list()
    rows = rows.filter(state=Quote.State.SENT, valid_until__range=(first, last))
    for row in rows.order_by("valid_until", "pk")[:MOST]:
        text = f"Quote {row} to {row.customer} expires"
        if row.valid_until:
            yield _one(
                f"quote-{row.pk}", "quote", row.valid_until, text, "pricing:quote", workshop, row.pk
            )


def _invoices(
    workshop: Workshop, first: datetime.date, last: datetime.date
) -> Iterator[CalendarEvent]:
    for each in open_invoices(workshop, until=last):
        row = each.invoice
        if row.due_on and first <= row.due_on <= last:
            amount = format_money(each.left, workshop.currency, workshop.locale)
            text = f"Invoice {row} to {row.order.quote.customer} is due: {amount}"
            key = f"invoice-{row.pk}"
            yield _one(key, "invoice", row.due_on, text, "pricing:order", workshop, row.order_id)


def _own_dates(
    workshop: Workshop, first: datetime.date, last: datetime.date
) -> Iterator[CalendarEvent]:
    rows = CalendarDate.objects.of(workshop).filter(first_on__lte=last, last_on__gte=first)
    for row in rows[:MOST]:
        text = row.get_kind_display() + (f": {row.note}" if row.note else "")
        yield CalendarEvent(f"date-{row.pk}", "own", row.first_on, row.last_on, text)


def _fairs(
    workshop: Workshop, first: datetime.date, last: datetime.date
) -> Iterator[CalendarEvent]:
    rows = FairDay.objects.of(workshop).filter(held_on__range=(first, last)).with_fair()
    for row in rows.exclude(fair__state=Fair.State.NOT_GOING).in_order()[:MOST]:
        maybe = " (thinking about it)" if row.fair.state == Fair.State.MAYBE else ""
        text = f"{row.fair}, {row.opens:%H:%M} to {row.closes:%H:%M}{maybe}"
        key = f"fair-{row.pk}"
        yield _one(key, "fair", row.held_on, text, "pricing:fair", workshop, row.fair_id)
