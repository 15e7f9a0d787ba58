"""Invoices that are overdue, with what is still open of each, and their reminders."""

import datetime
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch
from django.db.models.fields.json import KT

from maker.calc.bank_numbers import in_fours
from maker.calc.dates import say_date
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.mail.services import MailNotSent, send_letter
from maker.sealing import SealBroken
from maker.workshop.models import Workshop
from pricing.calc.invoicing.overdue import Billed, open_amounts
from pricing.letters.models import Letter
from pricing.letters.services import write_letter
from pricing.orders.inputs import billed
from pricing.orders.models import Invoice, Order
from pricing.orders.services import paid_by_order, paid_on

ZERO = Decimal(0)
DAY = datetime.timedelta(days=1)


class AlreadyReminded(Refusal):
    """A reminder of this invoice was sent today."""


@dataclass(frozen=True, slots=True)
class OverdueInvoice:
    """An invoice whose date has passed, and what is open of it."""

    invoice: Invoice
    left: Decimal
    days: int


def overdue_invoices(workshop: Workshop, today: datetime.date) -> list[OverdueInvoice]:
    """Return invoices not paid by their date, the longest overdue first (four queries)."""
    found = [
        OverdueInvoice(invoice, left, (today - invoice.due_on).days)
        for invoice, left in open_invoices(workshop, until=today - DAY)
        if invoice.due_on and invoice.due_on < today
    ]
    return sorted(found, key=lambda each: (-each.days, each.invoice.pk))


def open_invoices(workshop: Workshop, *, until: datetime.date) -> list[tuple[Invoice, Decimal]]:
    """Return what is open of orders with an invoice due until a date (four queries)."""
    orders = Order.objects.of(workshop).open()
    orders = orders.filter(invoices__kind=Invoice.Kind.INVOICE, invoices__due_on__lte=until)
    rows = (
        Invoice.objects.filter(order__in=orders.values("pk"), kind=Invoice.Kind.INVOICE)
        .select_related("order__quote__customer__workshop")
        .prefetch_related(Prefetch("credit_notes", Invoice.objects.defer("document")))
        # as text: SQLite would give an amount as a float
        .annotate(deposit=KT("document__deposit_of_order"), ahead=KT("document__paid_before"))
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
            invoices,
            paid.get(key, ZERO),
            # the last one issued knows how much of the deposit is set against all of them
            invoices[-1].deposit,
            (row.ahead for row in invoices),
        )
        if each[1]
    ]


def open_of_order(order: Order, invoices: Sequence[Invoice]) -> dict[int, Decimal]:
    """Return key -> what is open of each invoice; `invoices` of the order, as issued (two queries).

    Empty for a cancelled order: what is owed then follows from her terms.
    """
    issued = [each for each in invoices if each.kind == Invoice.Kind.INVOICE]
    if not issued or order.state == Order.State.CANCELLED:
        return {}
    deposit = issued[-1].document["deposit_of_order"]
    ahead = (each.document.get("paid_before") for each in issued)
    return {each.pk: left for each, left in _open_of(issued, paid_on(order), deposit, ahead)}


def _open_of(
    invoices: Sequence[Invoice], paid: Decimal, deposit: str | None, ahead: Iterable[str | None]
) -> list[tuple[Invoice, Decimal]]:
    kept = Decimal(deposit or 0) + sum((Decimal(each or 0) for each in ahead), ZERO)
    in_turn = sorted(zip(invoices, billed(invoices), strict=True), key=_due_first)
    opened = open_amounts([each for _, each in in_turn], paid, kept)
    return [(invoice, left) for (invoice, _), left in zip(in_turn, opened, strict=True)]


def _due_first(pair: tuple[Invoice, Billed]) -> tuple[datetime.date, int]:
    return (pair[0].due_on or datetime.date.max, pair[0].pk)


def reminder_of(overdue: OverdueInvoice, workshop: Workshop) -> dict[str, str]:
    """Return the text of a reminder, ready to be changed; nothing is sent (one query)."""
    invoice = overdue.invoice
    customer = invoice.order.quote.customer
    account = "\n".join(
        filter(None, (workshop.account_name, in_fours(workshop.iban), workshop.bic))
    )
    values = {
        "customer": customer.contact or customer.name,
        "title": invoice.order.quote.title,
        "invoice": invoice.number,
        "order": invoice.order.number,
        "amount": format_money(overdue.left, workshop.currency, workshop.locale),
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
