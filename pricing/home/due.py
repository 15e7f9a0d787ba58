"""What is to be done now, most urgent first: one line each, with the one thing to do."""

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import IntEnum
from itertools import islice

from django.db.models import F, Q
from django.urls import reverse
from django.utils import timezone

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from maker.calc.money import format_money
from maker.workshop.models import Workshop
from pricing.customer_pages.models import QuoteMessage
from pricing.enquiries.models import Enquiry
from pricing.fairs.models import Fair, FairDay
from pricing.orders.materials import reserved_for_orders
from pricing.orders.models import Order
from pricing.orders.overdue import overdue_invoices
from pricing.orders.services import deposits_missing
from pricing.quotes.models import Quote

ZERO = Decimal(0)
SOON = datetime.timedelta(days=7)  # a quote that ends within this needs a word
AHEAD = datetime.timedelta(days=21)  # orders due and fairs held within this are on the list
MOST = 12  # of a kind; the full list is one link away


class Urgency(IntEnum):
    """How urgent it is: a date has passed, a date is near, whenever there is time."""

    LATE = 0
    SOON = 1
    SOMETIME = 2


@dataclass(frozen=True, slots=True)
class Due:
    """A line: what about, since or until when, and the one button."""

    urgency: Urgency
    on: datetime.date
    text: str
    detail: str
    action: str
    url: str

    @property
    def is_late(self) -> bool:
        """Whether its date has passed."""
        return self.urgency is Urgency.LATE


def due_now(workshop: Workshop, today: datetime.date) -> list[Due]:
    """Return what is to be done, most urgent first (fourteen queries)."""
    found = [
        *_answers(workshop, today),
        *_enquiries(workshop, today),
        *_orders(workshop, today),
        *_fairs(workshop, today),
        *_deposits(workshop, today),
        *_invoices(workshop, today),
        *_quotes(workshop, today),
        *_receipts(workshop),
        *_low_stock(workshop, today),
        *_drafts(workshop),
    ]
    return sorted(found, key=lambda due: (due.urgency, due.on))


def _answers(workshop: Workshop, today: datetime.date) -> Iterator[Due]:
    words = {
        QuoteMessage.Kind.QUESTION: "asked about",
        QuoteMessage.Kind.ACCEPTED: "accepted",
        QuoteMessage.Kind.DECLINED: "declined",
        QuoteMessage.Kind.CHANGE_YES: "accepted a change of",
        QuoteMessage.Kind.CHANGE_NO: "declined a change of",
        QuoteMessage.Kind.PROOF: "approved the proof of",
        QuoteMessage.Kind.NAMED: "entered names of",
        QuoteMessage.Kind.NAMES: "approved the names of",
    }
    for said in QuoteMessage.objects.of(workshop).unread().for_list()[:MOST]:
        page = reverse("pricing:quote", args=[workshop.slug, said.quote_id])
        yield Due(
            Urgency.SOON,
            today,
            f"{said.name} {words[QuoteMessage.Kind(said.kind)]} {said.quote}",
            f"on {_day(timezone.localdate(said.said_at))}",
            "Read message",
            f"{page}#customer-page",
        )


def _enquiries(workshop: Workshop, today: datetime.date) -> Iterator[Due]:
    rows = Enquiry.objects.of(workshop).open().select_related("customer")
    for enquiry in rows.order_by("asked_on", "pk")[:MOST]:
        late = enquiry.is_late(today)
        needed = f", needed {_day(enquiry.needed_on)}" if enquiry.needed_on else ""
        yield Due(
            Urgency.LATE if late else Urgency.SOON,
            enquiry.needed_on if late and enquiry.needed_on else enquiry.asked_on,
            f"Enquiry from {enquiry.customer}",
            f"{enquiry.title}, asked {_day(enquiry.asked_on)}{needed}",
            "Answer enquiry",
            reverse("pricing:enquiry", args=[workshop.slug, enquiry.pk]),
        )


def _orders(workshop: Workshop, today: datetime.date) -> Iterator[Due]:
    undelivered = [Order.State.PLANNED, Order.State.MAKING, Order.State.READY]
    rows = Order.objects.of(workshop).filter(state__in=undelivered, due_on__lte=today + AHEAD)
    for order in rows.in_short().most_urgent_first()[:MOST]:
        due_on = order.due_on or today
        late = order.is_late(today)
        yield Due(
            Urgency.LATE if late else Urgency.SOON,
            due_on,
            f"Order {order} for {order.quote.customer}",
            f"{'was ' if late else ''}due {_day(due_on)}, {order.get_state_display()}",
            "Open order",
            reverse("pricing:order", args=[workshop.slug, order.pk]),
        )


def _fairs(workshop: Workshop, today: datetime.date) -> Iterator[Due]:
    """Say which days of fairs are to be closed, which is today, and which fair comes next."""
    days = FairDay.objects.of(workshop).with_fair().not_closed(today + AHEAD).in_order()
    coming: set[int] = set()  # of a fair still to come the first day speaks for all
    for day in days:
        fair = day.fair
        where = [workshop.slug, fair.pk]
        if day.held_on > today:
            if fair.pk in coming:
                continue
            coming.add(fair.pk)
            if fair.state == Fair.State.MAYBE:
                detail, action = "still to decide", "Decide"
                url = reverse("pricing:fair", args=where)
            else:
                detail, action = f"opens at {day.opens:%H:%M}", "Choose what to take"
                url = reverse("pricing:fair_take", args=where)
        elif fair.state == Fair.State.MAYBE:
            continue
        elif day.held_on == today:
            detail, action = f"today until {day.closes:%H:%M}", "Open sales"
            url = reverse("pricing:fair_day_sales", args=[*where, day.pk])
        else:
            detail, action = "isn’t closed yet", "Count till"
            url = reverse("pricing:fair_day", args=[*where, day.pk])
        yield Due(
            Urgency.LATE if day.held_on < today else Urgency.SOON,
            day.held_on,
            str(fair),
            f"on {_day(day.held_on)}, {detail}" if day.held_on != today else detail,
            action,
            url,
        )


def _deposits(workshop: Workshop, today: datetime.date) -> Iterator[Due]:
    for order, missing in deposits_missing(workshop, MOST):
        amount = format_money(missing, workshop.currency, workshop.locale)
        accepted_on = order.quote.decided_on or today
        yield Due(
            Urgency.SOON,
            accepted_on,
            f"Deposit for order {order} from {order.quote.customer}",
            f"{amount} not paid, accepted {_day(accepted_on)}",
            "Record payment",
            reverse("pricing:payment_new", args=[workshop.slug, order.pk]),
        )


def _invoices(workshop: Workshop, today: datetime.date) -> Iterator[Due]:
    for each in overdue_invoices(workshop, today)[:MOST]:
        invoice = each.invoice
        amount = format_money(each.left, workshop.currency, workshop.locale)
        due_on = invoice.due_on or invoice.issued_on
        yield Due(
            Urgency.LATE,
            due_on,
            f"Invoice {invoice} to {invoice.order.quote.customer}",
            f"{amount} was due {_day(due_on)}",
            "Write reminder",
            reverse("pricing:invoice_remind", args=[workshop.slug, invoice.order_id, invoice.pk]),
        )


def _quotes(workshop: Workshop, today: datetime.date) -> Iterator[Due]:
    waiting = Quote.objects.of(workshop).in_short().running_out(today, today + SOON)
    for quote in waiting.order_by("valid_until", "pk")[:MOST]:
        ends = quote.valid_until or today
        yield Due(
            Urgency.SOON,
            ends,
            f"Quote {quote} to {quote.customer}",
            f"runs out on {_day(ends)}",
            "Open quote",
            reverse("pricing:quote", args=[workshop.slug, quote.pk]),
        )


def _receipts(workshop: Workshop) -> Iterator[Due]:
    drafts = Purchase.objects.of(workshop).drafts().select_related("supplier").newest_first()
    for purchase in drafts[:MOST]:
        yield Due(
            Urgency.SOMETIME,
            purchase.bought_on,
            f"Receipt from {purchase.supplier}",
            f"of {_day(purchase.bought_on)} isn’t finished",
            "Finish receipt",
            reverse("catalogue:purchase", args=[workshop.slug, purchase.pk]),
        )


def _low_stock(workshop: Workshop, today: datetime.date) -> Iterator[Due]:
    """Say what is below its level, or is not enough for the orders to be made."""
    reserved = reserved_for_orders(Order.objects.of(workshop))
    # without a level it is low only when orders need more than there is
    may_be = Q(on_hand__lt=F("reorder_level")) | Q(pk__in=reserved)
    rows = Material.objects.of(workshop).in_use().filter(may_be).by_name()
    amounts = rows.values_list("pk", "name", "on_hand", "reorder_level").iterator(chunk_size=50)
    low = (
        name
        for key, name, on_hand, level in amounts
        if on_hand - reserved.get(key, ZERO) < level and (level or key in reserved)
    )
    # no more than is told of them
    names = list(islice(low, MOST + 1))
    if not names:
        return
    listed = ", ".join(names[:3]) + ("…" if len(names) > 3 else "")
    count = f"more than {MOST}" if len(names) > MOST else str(len(names))
    is_one = len(names) == 1
    yield Due(
        Urgency.SOMETIME,
        today,
        names[0] if is_one else f"{count} materials are running low",
        "is running low" if is_one else listed,
        "See what to buy",
        reverse("pricing:to_buy", args=[workshop.slug]),
    )


def _drafts(workshop: Workshop) -> Iterator[Due]:
    for quote in Quote.objects.of(workshop).in_short().drafts().newest_first()[:MOST]:
        yield Due(
            Urgency.SOMETIME,
            timezone.localdate(quote.created_at),
            f"Quote to {quote.customer}",
            f"{quote.title or 'a draft'}, not sent",
            "Finish quote",
            reverse("pricing:quote", args=[workshop.slug, quote.pk]),
        )


def _day(on: datetime.date) -> str:
    return f"{on.day} {on:%b}"
