"""Invoices: numbered without gaps, kept as they were issued.

An invoice's document is all it says: `maker`, `customer` and how prices and tax are written as the
quote had them, its `lines`, and the amounts as plain text.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.db import transaction

from maker.calc.dates import short_date
from maker.calc.explanation import plain_text
from maker.calc.money import minor_digits, to_minor
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.invoicing.invoices import SaleTerms, invoices_of
from pricing.calc.invoicing.overdue import deposit_missing, paid_ahead
from pricing.calc.invoicing.sharing import share_in_turn
from pricing.calc.price.tax import DocumentTotals, line_amount
from pricing.orders.change_fees import fees_of, invoiced_fees
from pricing.orders.inputs import billed, delivered, price_of, sale_terms
from pricing.orders.models import Invoice, Order, OrderDelivery
from pricing.orders.services import NotPossibleNow, locked, paid_on, restage
from pricing.quotes.documents import charges_in
from pricing.quotes.numbers import next_number

ZERO = Decimal(0)
SERIES, PREFIX = "invoice", "I"
# copied from the quote: who sells to whom, and how amounts are written
COPIED = (
    *("maker", "customer", "currency", "locale", "tax_name", "tax_rate", "tax_registered"),
    *("prices_include_tax", "tax_per_line", "title", "terms"),
)

# where it is paid, and who issues it, as the law of many countries asks
ACCOUNT = ("account_name", "iban", "bic", "country", "tax_number", "company_number")


class AlreadyInvoiced(Refusal):
    """The delivery has an invoice, or the same form was sent before."""


@transaction.atomic
def issue_invoice(
    *,
    delivery: OrderDelivery,
    on: datetime.date,
    today: datetime.date,
    due_on: datetime.date | None = None,
) -> Invoice:
    """Invoice one delivery with its share of the delivery charge and the deposit.

    The last delivery to be invoiced takes what is left of both. What was paid beyond the deposit
    and pays no earlier invoice is taken off whole, so that nobody is asked for it again. Refusals:
    AlreadyInvoiced, NotPossibleNow for what will not leave any more or a date that cannot be,
    BadInvoice for a discount above the goods that are left.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=delivery.order.workshop.pk)
    held = locked(delivery.order)
    if on > today:
        raise NotPossibleNow("That date is in the future.", where="issued_on")
    if due_on and due_on < on:
        raise NotPossibleNow("It would be due before it is issued.", where="due_on")
    row, share, deposit = _asked(held, delivery)
    refuse_earlier(held, on)
    document = document_head(held) | {
        "number": next_number(held.workshop, SERIES, PREFIX, on),
        "issued_on": on.isoformat(),
        "due_on": due_on.isoformat() if due_on else None,
        "delivered_on": row.delivered_on.isoformat() if row.delivered_on else None,
        "deposit_of_order": plain_text(deposit),
        "lines": _lines(row),
        **share,
    }
    made = Invoice.objects.create(
        order=held,
        delivery=row,
        number=document["number"],
        issued_on=on,
        due_on=due_on,
        document=document,
        total=Decimal(document["total"]),
        to_pay=Decimal(document["to_pay"]),
    )
    restage(held)
    return made


def invoice_asks(delivery: OrderDelivery) -> tuple[Decimal, Decimal]:
    """Return what an invoice of a delivery comes to today, and what of it is still to pay.

    Refusals: AlreadyInvoiced, NotPossibleNow, BadInvoice.
    """
    _, share, _ = _asked(delivery.order, delivery)
    return Decimal(share["total"]), Decimal(share["to_pay"])


def invoiced_on(order: Order) -> Decimal:
    """Return what the invoices of an order come to, less what was credited (one query)."""
    return sum(
        (
            -total if kind == Invoice.Kind.CREDIT else total
            for kind, total in order.invoices.values_list("kind", "total")
        ),
        ZERO,
    )


def _asked(held: Order, delivery: OrderDelivery) -> tuple[OrderDelivery, dict[str, Any], Decimal]:
    """Return a delivery with the amounts of its invoice and the deposit of the order so far."""
    open_rows, before = _open_and_invoiced(held)
    row = next((each for each in open_rows if each.pk == delivery.pk), None)
    if row is None:
        number = next(each for each in before if each.delivery_id == delivery.pk)
        raise AlreadyInvoiced(f"Delivery {delivery.position + 1} is on invoice {number} already.")
    if held.state == Order.State.CANCELLED and not row.delivered_on:
        raise NotPossibleNow(f"Order {held} is cancelled. Only what was delivered can be invoiced.")
    frozen = held.quote.frozen
    deposit = _deposit(held, before)
    share = _share_of(open_rows, row, before, sale_terms(frozen, deposit))
    share |= _paid_off(held, before, deposit, share)
    return row, share, deposit


def refuse_earlier(order: Order, on: datetime.date) -> None:
    """Refuse a date before the last invoice: numbers run with the dates."""
    last = Invoice.objects.of(order.workshop).order_by("-issued_on").first()
    if last is not None and on < last.issued_on:
        raise NotPossibleNow(
            f"Invoice {last} is dated {short_date(last.issued_on)}. "
            "Date this one the same or later.",
            where="issued_on",
        )


def _deposit(order: Order, before: Sequence[Invoice]) -> Decimal:
    """Return the deposit that invoices take off: what was asked, as far as it was paid.

    It stays what it was on the first invoice.
    """
    if before:
        return Decimal(before[0].document["deposit_of_order"])
    return max(min(order.deposit, paid_on(order)), ZERO)


def _paid_off(
    order: Order, before: Sequence[Invoice], deposit: Decimal, share: Mapping[str, Any]
) -> dict[str, Any]:
    """Return what an invoice takes off: its share of the deposit, and what else was paid ahead."""
    digits = minor_digits(order.quote.frozen["currency"])
    deposits = [Decimal(each.document["deposit"]) for each in before]
    earlier, paid = billed(before, deposits), paid_on(order)
    kept = deposit + sum_said(before, "paid_before")
    total, asked = Decimal(share["total"]), Decimal(share["deposit"])
    there = deposit - sum_said(before, "deposit") - deposit_missing(earlier, paid, kept)
    off = max(min(asked, there), ZERO)
    ahead = min(paid_ahead(earlier, paid, kept), total - off)
    return {
        "deposit": plain_text(off, digits),
        "paid_before": plain_text(ahead, digits),
        "to_pay": plain_text(total - off - ahead, digits),
    }


def _open_and_invoiced(order: Order) -> tuple[list[OrderDelivery], list[Invoice]]:
    """Return the deliveries without an invoice, and the invoices of the others as issued."""
    rows = order.deliveries.prefetch_related("lines__line__design", "invoice").order_by("position")
    found = [each for each in rows if not hasattr(each, "invoice")]
    before = [each.invoice for each in rows if hasattr(each, "invoice")]
    return found, sorted(before, key=lambda each: each.pk)


def _terms_left(terms: SaleTerms, before: Sequence[Invoice]) -> SaleTerms:
    """Return what earlier invoices left of discount, delivery charge and deposit."""
    return replace(
        terms,
        discount=terms.discount - sum_said(before, "discount"),
        delivery=terms.delivery - sum_said(before, "delivery"),
        deposit=terms.deposit - sum_said(before, "deposit"),
    )


def _share_of(
    open_rows: Sequence[OrderDelivery],
    row: OrderDelivery,
    before: Sequence[Invoice],
    terms: SaleTerms,
) -> dict[str, Any]:
    """Return the amounts of one delivery's invoice.

    What earlier invoices left of discount, delivery charge and deposit is shared over the
    deliveries that are still to invoice, so that the last one takes the rest. The deposit of a
    cancelled order is shared over what has left: no invoice follows for the others.
    """
    frozen, place, left = row.order.quote.frozen, open_rows.index(row), _terms_left(terms, before)
    extras = _charges(row.order, before, frozen, terms.digits)
    charges = {place: charges_in({"extras": extras})}
    invoices = invoices_of(delivered(open_rows, frozen, charges), left)
    invoice, deposit = invoices[place], invoices[place].deposit
    if row.order.state == Order.State.CANCELLED:
        gone = [at for at, each in enumerate(open_rows) if each.delivered_on]
        totals = [invoices[at].totals.gross for at in gone]
        shares = share_in_turn(min(left.deposit, sum(totals, ZERO)), totals, terms.digits)
        deposit = shares[gone.index(place)]
    return said_amounts(invoice.totals, terms.digits) | {
        "goods": plain_text(invoice.goods, terms.digits),
        "discount": plain_text(invoice.discount, terms.digits),
        "extras": extras,
        "delivery": plain_text(invoice.delivery, terms.digits),
        "deposit": plain_text(deposit, terms.digits),
    }


def delivered_asks(order: Order) -> Decimal:
    """Return what invoices of all that has left and has none come to, one after the other.

    A discount above the goods that are left takes them whole.
    """
    frozen = order.quote.frozen
    open_rows, before = _open_and_invoiced(order)
    left, found = _terms_left(sale_terms(frozen), before), ZERO
    charges = charges_in({"extras": _charges(order, before, frozen, left.digits)})
    for row in [each for each in open_rows if each.delivered_on]:
        place = open_rows.index(row)
        parts = delivered(open_rows, frozen, {place: charges})
        goods = sum((line_amount(each, left.digits) for part in parts for each in part.goods), ZERO)
        left = replace(left, discount=min(left.discount, goods))
        invoice = invoices_of(parts, left)[place]
        found += invoice.totals.gross
        left = replace(
            left,
            discount=left.discount - invoice.discount,
            delivery=left.delivery - invoice.delivery,
        )
        charges = ZERO
        open_rows.remove(row)
    return found


def _charges(
    order: Order, before: Sequence[Invoice], frozen: Mapping[str, Any], digits: int
) -> list[dict[str, Any]]:
    """Return what is charged once and on no invoice yet: of the quote, then of its changes."""
    rows = () if before else frozen["public"].get("extras") or ()
    invoiced = invoiced_fees(before)
    return [each for each in rows if not each["is_discount"]] + [
        {
            "reason": fee.reason,
            "is_discount": False,
            "share": None,
            "amount": plain_text(fee.amount, digits),
            "change": fee.change,
        }
        for fee in fees_of(order)
        if fee.change not in invoiced
    ]


def sum_said(invoices: Sequence[Invoice], key: str) -> Decimal:
    """Return what an amount comes to over invoices or credit notes."""
    # older invoices have neither discounts nor payments ahead
    return sum((Decimal(each.document.get(key) or 0) for each in invoices), ZERO)


def said_amounts(totals: DocumentTotals, digits: int) -> dict[str, Any]:
    """Return totals as a document says them."""
    return {
        "net": plain_text(totals.net, digits),
        "tax": plain_text(totals.tax, digits),
        "total": plain_text(totals.gross, digits),
        "rates": [
            {
                "rate": plain_text(each.rate),
                "base": plain_text(each.base, digits),
                "tax": plain_text(each.tax, digits),
            }
            for each in totals.rates
        ],
    }


def document_head(order: Order) -> dict[str, Any]:
    """Return who sells what to whom, as the quote said, and where it is paid."""
    frozen = order.quote.frozen
    return {key: frozen[key] for key in COPIED} | {
        # as it is when it is issued
        "account": {name: getattr(order.workshop, name) for name in ACCOUNT},
        "order": order.number,
        "quote": order.quote.number,
    }


def _lines(row: OrderDelivery) -> list[dict[str, Any]]:
    digits = minor_digits(row.order.quote.frozen["currency"])
    return [
        {
            "line": each.line_id,
            "design": each.line.design.name,
            "code": each.line.design.code,
            "colourway": each.line.colourway_name,
            "description": each.line.description,
            "quantity": each.quantity,
            "price_each": plain_text(price_of(each.line), digits),
            "amount": amount_of_line(price_of(each.line), each.quantity, digits),
        }
        for each in row.lines.all()
    ]


def amount_of_line(price: Decimal, count: int, digits: int) -> str:
    """Return what a line comes to: a price may be finer than the currency, an amount is not."""
    return plain_text(to_minor(price * count, digits), digits)
