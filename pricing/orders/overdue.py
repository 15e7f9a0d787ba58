"""Invoices that are overdue, with what is still open of each, and their reminders."""

import datetime
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Exists, OuterRef, Prefetch

from maker.calc.bank_numbers import in_fours
from maker.calc.dates import say_date
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.mail.services import MailNotSent, send_letter
from maker.sealing import SealBroken
from maker.workshop.json_text import json_text
from maker.workshop.models import Workshop
from pricing.calc.invoicing.overdue import Billed, at_most, gone_again, open_amounts
from pricing.letters.models import Letter
from pricing.letters.services import write_letter
from pricing.orders.inputs import billed
from pricing.orders.models import Invoice, Order, OrderDelivery
from pricing.orders.services import paid_by_order, paid_on

ZERO = Decimal(0)
DAY = datetime.timedelta(days=1)


class AlreadyReminded(Refusal):
    """A reminder of this invoice was sent today."""


@dataclass(frozen=True, slots=True)
class OpenInvoice:
    """An invoice and what is open of it, with what it took off as paid and is gone."""

    invoice: Invoice
    left: Decimal
    gone: Decimal


@dataclass(frozen=True, slots=True)
class OverdueInvoice(OpenInvoice):
    """An invoice whose date has passed."""

    days: int


def overdue_invoices(workshop: Workshop, today: datetime.date) -> list[OverdueInvoice]:
    """Return invoices not paid by their date, the longest overdue first (five queries)."""
    found = [
        OverdueInvoice(each.invoice, each.left, each.gone, (today - each.invoice.due_on).days)
        for each in open_invoices(workshop, until=today - DAY)
        if each.invoice.due_on and each.invoice.due_on < today
    ]
    return sorted(found, key=lambda each: (-each.days, each.invoice.pk))


def open_invoices(workshop: Workshop, *, until: datetime.date) -> list[OpenInvoice]:
    """Return what is open of orders with an invoice due until a date (five queries)."""
    orders = Order.objects.of(workshop).may_owe()
    orders = orders.filter(invoices__kind=Invoice.Kind.INVOICE, invoices__due_on__lte=until)
    if not orders.exists():
        return []
    to_invoice = OrderDelivery.objects.filter(order=OuterRef("order"), invoice=None)
    rows = (
        Invoice.objects.filter(order__in=orders.values("pk"), kind=Invoice.Kind.INVOICE)
        .select_related("order__quote__customer__workshop")
        .prefetch_related(Prefetch("credit_notes", Invoice.objects.defer("document")))
        .annotate(
            deposit=json_text("document", "deposit_of_order"),
            taken=json_text("document", "deposit"),
            all_invoiced=~Exists(to_invoice),
        )
        .defer("document", "order__quote__frozen", "order__quote__terms", "order__quote__intro")
        .order_by("pk")
    )
    paid = paid_by_order(orders)
    of_order: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        of_order[row.order_id].append(row)
    return [
        each
        for key, invoices in of_order.items()
        for each in _open_of(
            invoices[0].order,
            invoices,
            paid.get(key, ZERO),
            [Decimal(row.taken or 0) for row in invoices],
            ZERO if invoices[0].all_invoiced else Decimal(invoices[0].deposit or 0),
        )
        if each.left
    ]


def open_of_order(order: Order, invoices: Sequence[Invoice]) -> dict[int, OpenInvoice]:
    """Return key -> what is open of each invoice of the order, as issued (three queries)."""
    issued = [each for each in invoices if each.kind == Invoice.Kind.INVOICE]
    if not issued:
        return {}
    to_come = order.deliveries.filter(invoice=None).exists()
    deposit = Decimal(issued[0].document["deposit_of_order"]) if to_come else ZERO
    deposits = [Decimal(each.document["deposit"]) for each in issued]
    found = _open_of(order, issued, paid_on(order), deposits, deposit)
    return {each.invoice.pk: each for each in found}


def _open_of(
    order: Order,
    invoices: Sequence[Invoice],
    paid: Decimal,
    deposits: Sequence[Decimal],
    deposit: Decimal,
) -> list[OpenInvoice]:
    """Return what is open; `deposits` were taken off, and of `deposit` the rest is kept."""
    in_turn = sorted(zip(invoices, billed(invoices, deposits), strict=True), key=_due_first)
    rows = [each for _, each in in_turn]
    is_cancelled = order.state == Order.State.CANCELLED
    held = sum((each.taken_off for each in rows), ZERO)
    if not is_cancelled:
        # no invoice follows in a cancelled order
        held += max(deposit - sum(deposits, ZERO), ZERO)
    opened, gone = open_amounts(rows, paid, held), gone_again(rows, paid, held)
    if is_cancelled:
        opened = at_most(opened, (order.cancel_owed or ZERO) - paid)
    return [
        OpenInvoice(invoice, left, min(again, left))
        for (invoice, _), left, again in zip(in_turn, opened, gone, strict=True)
    ]


def _due_first(pair: tuple[Invoice, Billed]) -> tuple[datetime.date, int]:
    return (pair[0].due_on or datetime.date.max, pair[0].pk)


def reminder_of(overdue: OverdueInvoice, workshop: Workshop) -> dict[str, str]:
    """Return the text of a reminder, ready to be changed; nothing is sent (one query)."""
    invoice = overdue.invoice
    customer = invoice.order.quote.customer
    account = "\n".join(
        filter(None, (workshop.account_name, in_fours(workshop.iban), workshop.bic))
    )
    amount = format_money(overdue.left, workshop.currency, workshop.locale)
    if overdue.gone:
        # the paper says less
        gone = format_money(overdue.gone, workshop.currency, workshop.locale)
        amount += f" (with {gone} that the invoice counted as paid)"
    values = {
        "customer": customer.contact or customer.name,
        "title": invoice.order.quote.title,
        "invoice": invoice.number,
        "order": invoice.order.number,
        "amount": amount,
        "due": say_date(invoice.due_on) if invoice.due_on else "",
        "account": account,
    }
    return {"to": customer.email, **write_letter(workshop, Letter.Kind.REMINDER, values)}


def send_reminder(
    *, invoice: Invoice, to: str, subject: str, text: str, today: datetime.date
) -> None:
    """Send a reminder, once a day at most. Refusals: AlreadyReminded, MailNotSent, SealBroken."""
    mine = Invoice.objects.filter(pk=invoice.pk)
    before = invoice.reminded_on
    # said before it is sent, so that a second click finds it said
    if not mine.exclude(reminded_on=today).update(reminded_on=today):
        raise AlreadyReminded(f"A reminder of invoice {invoice} was sent today already.")
    try:
        send_letter(to=to, subject=subject, text=text)
    except (MailNotSent, SealBroken):
        mine.update(reminded_on=before)
        raise
