"""Rows of an order -> the values its sums speak of."""

from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.db.models import F, Q, Sum, prefetch_related_objects

from maker.calc.money import minor_digits
from pricing.calc.invoicing.invoices import Delivered, SaleTerms
from pricing.calc.invoicing.overdue import Billed
from pricing.calc.invoicing.payments import Account, Payment, account_of
from pricing.calc.price.tax import DocumentLine
from pricing.orders.models import (
    Invoice,
    Order,
    OrderChange,
    OrderChangeLess,
    OrderDelivery,
    OrderPayment,
)
from pricing.quotes.documents import charges_in, discount_in
from pricing.quotes.models import QuoteLine

ZERO = Decimal(0)


def sale_terms(frozen: Mapping[str, Any], deposit: Decimal = ZERO) -> SaleTerms:
    """Return what holds for a whole order: what its quote said, and the deposit that was paid."""
    return SaleTerms(
        discount=discount_in(frozen["public"]),
        delivery=Decimal(frozen["public"]["delivery"] or 0),
        deposit=deposit,
        prices_include_tax=frozen["prices_include_tax"],
        tax_per_line=frozen["tax_per_line"],
        digits=minor_digits(frozen["currency"]),
    )


def tax_rate_of(frozen: Mapping[str, Any]) -> Decimal:
    """Return the tax rate of a quote's lines, a share; zero where none is charged."""
    return Decimal(frozen["tax_rate"]) if frozen["tax_registered"] else ZERO


def delivered(
    deliveries: Iterable[OrderDelivery],
    frozen: Mapping[str, Any],
    charges: Mapping[int, Decimal] = MappingProxyType({}),
) -> tuple[Delivered, ...]:
    """Return what each delivery is invoiced for, at the prices that were accepted.

    `charges` are charged beside the goods, by the place of the delivery they are invoiced with.
    """
    rate = tax_rate_of(frozen)
    return tuple(
        Delivered(
            tuple(
                DocumentLine(price_of(row.line), Decimal(row.quantity), rate)
                for row in delivery.lines.all()
            ),
            (DocumentLine(charges[place], tax_rate=rate),) if charges.get(place) else (),
        )
        for place, delivery in enumerate(deliveries)
    )


def every_line(order: Order) -> list[QuoteLine]:
    """Return the lines of the quote, then those of accepted changes, as they were accepted."""
    rows = QuoteLine.objects.filter(
        Q(change=None) | Q(change__state=OrderChange.State.ACCEPTED),
        quote=order.quote_id,
        is_removed=False,
    )
    rows = rows.select_related("design", "change")
    # the lines of the quote first on every database
    by_change = F("change__number").asc(nulls_first=True)
    return list(rows.order_by(by_change, "position", "pk")) if order.pk else []


def lines_now(order: Order) -> list[QuoteLine]:
    """Return what is ordered now, lines of which nothing is left out (two queries).

    Each is a copy with the `quantity` of now, and never to be saved.
    """
    accepted = OrderChangeLess.objects.filter(
        change__order=order, change__state=OrderChange.State.ACCEPTED
    )
    fewer = dict(accepted.values_list("line").annotate(Sum("quantity")))
    found = []
    for line in every_line(order):
        now = copy(line)
        now.quantity -= fewer.get(line.pk, 0)
        if now.quantity > 0:
            found.append(now)
    return found


def goods_of(
    lines: Iterable[QuoteLine], frozen: Mapping[str, Any], fees: Decimal = ZERO
) -> Delivered:
    """Return what lines come to at the accepted prices, with the quote's charges and `fees`."""
    rate, charges = tax_rate_of(frozen), charges_in(frozen["public"]) + fees
    return Delivered(
        tuple(DocumentLine(price_of(line), Decimal(line.quantity), rate) for line in lines),
        (DocumentLine(charges, tax_rate=rate),) if charges else (),
    )


def price_of(line: QuoteLine) -> Decimal:
    """Return the price of one that was accepted."""
    return Decimal(line.frozen["price_each"])


def billed(invoices: Iterable[Invoice], deposits: Iterable[Decimal]) -> list[Billed]:
    """Return what invoices ask for and what was credited of each, as they were issued.

    `deposits` is what each took off of the deposit. One query, none where credit notes were
    fetched before.
    """
    rows = list(invoices)
    prefetch_related_objects(rows, "credit_notes")
    return [
        Billed(
            each.to_pay,
            sum((note.total for note in each.credit_notes.all()), ZERO),
            each.total - each.to_pay,
            each.total - each.to_pay - deposit,
        )
        for each, deposit in zip(rows, deposits, strict=True)
    ]


def account_of_order(
    order: Order,
    invoices: Sequence[Invoice],
    payments: Sequence[OrderPayment],
    *,
    fee_share: Decimal = ZERO,
    fee_fixed: Decimal = ZERO,
) -> Account:
    """Return what was invoiced, credited and paid. Payments that were undone are left out."""
    return account_of(
        [each.total for each in invoices if each.kind == Invoice.Kind.INVOICE],
        [each.total for each in invoices if each.kind == Invoice.Kind.CREDIT],
        [
            Payment(each.received_on, each.received, each.way == OrderPayment.Way.CARD)
            for each in payments
            if not each.is_undone
        ],
        fee_share=fee_share,
        fee_fixed=fee_fixed,
        digits=minor_digits(order.workshop.currency),
    )
