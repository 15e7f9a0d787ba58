"""One customer's data: taken out as a file, or erased but for what the law keeps."""

import datetime
import hashlib
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from maker.calc.refusal import Refusal
from pricing.customer_pages.models import QuoteLink, QuoteMessage
from pricing.customers.models import Customer
from pricing.enquiries.models import Enquiry
from pricing.orders.models import (
    Invoice,
    Order,
    OrderApproval,
    OrderChange,
    OrderDelivery,
    OrderPayment,
)
from pricing.personal_data.at_tables import erase_at_tables
from pricing.personal_data.names import clear_names
from pricing.quotes.models import Quote
from pricing.workshop_file import schema

ERASED = "erased customer"
NOBODY = {"name": ERASED, "contact": "", "address": "", "email": ""}


class StillOpen(Refusal):
    """An order or quote of the customer is not finished."""


def erased_list() -> Path:
    """Return the file that remembers erased customers, so that a restore cannot bring them back.

    It holds digests, from which nobody is found who is not there again.
    """
    return Path(settings.DATA_DIR) / "erased_customers.txt"


def _digest(customer: Customer) -> str:
    said = f"{customer.workshop_id}:{customer.pk}:{customer.name}"
    return hashlib.sha256(said.encode()).hexdigest()


def data_of(customer: Customer) -> dict[str, Any]:
    """Return everything that is kept about a customer, as plain values (ten queries)."""
    quotes = Quote.objects.filter(customer=customer).order_by("pk")
    orders = Order.objects.filter(quote__customer=customer).order_by("pk")
    return {
        "customer": schema.CUSTOMER.written(customer),
        "enquiries": [
            schema.ENQUIRY.written(row)
            for row in Enquiry.objects.filter(customer=customer).order_by("pk")
        ],
        "quotes": [
            {
                **schema.QUOTE.written(row),
                "lines": [
                    {"quantity": line.quantity, "names": line.names, "text": line.description}
                    for line in row.lines.all()
                ],
                # what the customer was told, nothing of the maker's own
                "sent": {
                    key: value for key, value in row.frozen.items() if key not in ("own", "basis")
                },
            }
            for row in quotes.prefetch_related("lines")
        ],
        "messages": [
            schema.QUOTE_MESSAGE.written(row)
            for row in QuoteMessage.objects.filter(quote__customer=customer).order_by("pk")
        ],
        "orders": [
            {
                **schema.ORDER.written(row),
                "deliveries": [
                    schema.ORDER_DELIVERY.written(each) for each in row.deliveries.all()
                ],
                "approvals": [schema.ORDER_APPROVAL.written(each) for each in row.approvals.all()],
                "payments": [schema.ORDER_PAYMENT.written(each) for each in row.payments.all()],
                "changes": [schema.ORDER_CHANGE.written(each) for each in row.changes.all()],
                "invoices": [
                    {**schema.INVOICE.written(each), "document": each.document}
                    for each in row.invoices.all()
                ],
            }
            for row in orders.prefetch_related(
                "deliveries", "approvals", "payments", "changes", "invoices"
            )
        ],
    }


@transaction.atomic
def erase_customer(*, customer: Customer, today: datetime.date) -> int:
    """Erase who a customer is, everywhere but on invoices; return how many invoices stay.

    Refusals: StillOpen while an order is not finished or a quote waits.
    """
    held = Customer.objects.select_for_update().get(pk=customer.pk)
    orders = Order.objects.filter(quote__customer=held)
    if orders.open().exists():
        raise StillOpen("An order of this customer isn’t finished. Settle or cancel it first.")
    if Quote.objects.filter(customer=held).waiting(today).exists():
        raise StillOpen("A quote waits for this customer’s answer. Mark it as declined first.")
    remember_erased(held)
    erase_at_tables(held, ERASED)
    _erase_row(held, today)
    for quote in Quote.objects.select_for_update(of=("self",)).filter(customer=held):
        _erase_quote(quote)
    QuoteMessage.objects.filter(quote__customer=held).delete()
    QuoteLink.objects.filter(quote__customer=held).delete()
    Enquiry.objects.filter(customer=held).delete()
    OrderDelivery.objects.filter(order__in=orders).update(address="", note="")
    OrderApproval.objects.filter(order__in=orders).update(decided_by=ERASED)
    OrderPayment.objects.filter(order__in=orders).update(note="")
    orders.update(notes="", cancel_reason="", names_deleted_on=today)
    for change in OrderChange.objects.filter(order__in=orders):
        change.note, change.decline_note = "", ""
        change.decided_by = ERASED if change.decided_by else ""
        if change.document:
            change.document["note"] = ""
            for line in (*change.document["lines"], *change.document["less"]):
                line["description"] = ""
        change.save()
    return Invoice.objects.filter(order__in=orders).count()


def _erase_row(customer: Customer, today: datetime.date) -> None:
    customer.name = f"{ERASED.capitalize()} {customer.pk}"
    for name in ("contact", "email", "phone", "address", "notes"):
        setattr(customer, name, "")
    customer.erased_on = today
    customer.retired_on = customer.retired_on or today
    customer.edit_number += 1
    customer.save()


def _erase_quote(quote: Quote) -> None:
    quote.title = quote.intro = quote.own_notes = quote.reason_note = ""
    quote.decided_by = ERASED if quote.decided_by else ""
    if quote.frozen:
        quote.frozen |= {"customer": dict(NOBODY), "intro": "", "title": ""}
        for line in quote.frozen["public"]["lines"]:
            line["description"] = ""
    quote.lines.update(description="")
    quote.drops.update(address="")
    quote.save()
    clear_names(quote)


def remember_erased(customer: Customer) -> None:
    """Write down that a customer was erased, beside the database: it outlives a restore."""
    path = erased_list()
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a", encoding="ascii") as file:
        file.write(_digest(customer) + "\n")


def erase_again(today: datetime.date) -> int:
    """Erase those a restore brought back; one with something open waits for the next hour."""
    path = erased_list()
    if not path.exists():
        return 0
    erased = set(path.read_text(encoding="ascii").split())
    found = 0
    for customer in Customer.objects.filter(erased_on=None).select_related("workshop"):
        if _digest(customer) in erased:
            try:
                erase_customer(customer=customer, today=today)
            except StillOpen:
                continue
            found += 1
    return found
