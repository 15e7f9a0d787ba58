"""Fees of changes of an order: charged once, on the next invoice after the change was accepted."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from pricing.orders.models import Invoice, Order, OrderChange

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Fee:
    """What a change charges beside its items, as prices are shown. `change` is its number."""

    change: int
    reason: str
    amount: Decimal


def fees_of(order: Order) -> list[Fee]:
    """Return the fees of accepted changes that no later one took back (one query)."""
    if not order.pk:
        return []
    rows = [
        change
        for change in order.changes.in_order().defer("document")
        if change.state == OrderChange.State.ACCEPTED
    ]
    taken_back = {change.waives_fee_of for change in rows}
    return [
        Fee(change.number, change.fee_reason, change.fee)
        for change in rows
        if change.fee and change.number not in taken_back
    ]


def fees_in(fees: Iterable[Fee]) -> Decimal:
    """Return what fees come to."""
    return sum((fee.amount for fee in fees), ZERO)


def invoiced_fees(invoices: Iterable[Invoice]) -> dict[int, str]:
    """Return the number of the invoice each fee is on, by the number of its change."""
    return {
        each["change"]: invoice.number
        for invoice in invoices
        for each in invoice.document.get("extras") or ()
        if each.get("change")
    }


def fee_effects(change: OrderChange) -> list[Fee]:
    """Return what a change adds, and below zero what it takes back (one query where it does)."""
    found = [Fee(change.number, change.fee_reason, change.fee)] if change.fee else []
    if change.waives_fee_of:
        found += [
            Fee(change.number, fee.reason, -fee.amount)
            for fee in fees_of(change.order)
            if fee.change == change.waives_fee_of
        ]
    return found


def said_fees(fees: Iterable[Fee], money: Any) -> list[dict[str, Any]]:
    """Return fees ready to be shown."""
    return [
        {"change": fee.change, "reason": fee.reason, "amount": money(fee.amount)} for fee in fees
    ]
