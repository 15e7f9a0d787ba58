"""The items of an order, and what is open of its invoices, as pages and papers show them."""

from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import Any

from django.urls import reverse

from maker.calc.money import format_money
from pricing.calc.papers.choices import tells_something
from pricing.orders.change_fees import Fee, fees_in
from pricing.orders.inputs import every_line, lines_now, price_of
from pricing.orders.models import Order, OrderDelivery
from pricing.orders.overdue import OpenInvoice
from pricing.quotes.drawing import Words, rows_to_total
from pricing.quotes.inputs import names_of

ZERO = Decimal(0)


def item_rows(order: Order) -> list[dict[str, Any]]:
    """Return what is ordered now, with names as they are now; no figure of the maker's own.

    `order` comes from `with_people()` (four queries).
    """
    frozen, shop = order.quote.frozen, order.workshop
    said = frozen["public"]["lines"]
    quoted = [line for line in every_line(order) if line.change_id is None]
    choices = {
        line.pk: list(filter(tells_something, row["choices"]))
        for line, row in zip(quoted, said, strict=False)
    }

    def money(amount: Any) -> str:
        return format_money(amount, frozen["currency"], shop.locale)

    rows = []
    for line in lines_now(order):
        names = names_of(line.names)
        each = price_of(line)
        rows.append(
            {
                "line": line,
                "design": line.design.name,
                "colourway": line.colourway_name,
                "choices": choices.get(
                    line.pk, list(filter(tells_something, line.frozen.get("choices", [])))
                ),
                "description": line.description,
                "change": line.change.number if line.change else None,
                "names": names,
                "names_count": len(names),
                "quantity": line.quantity,
                "quantity_text": str(line.quantity),
                "each_text": money(each),
                "amount": each * line.quantity,
                "amount_text": money(each * line.quantity),
            }
        )
    return rows


def sum_rows(
    order: Order, lines: list[dict[str, Any]], fees: Iterable[Fee]
) -> list[tuple[str, str, bool]]:
    """Return what lies between items and total: label, amount, and whether it is the total.

    As long as the items are those of the quote, as its own page says it.
    """
    frozen = order.quote.frozen
    items = sum((line["amount"] for line in lines), fees_in(fees))
    quoted = sum((Decimal(line["amount"]) for line in frozen["public"]["lines"]), ZERO)
    if items == quoted and not order.changes_total:
        return rows_to_total(frozen)
    words = Words(frozen["currency"], order.workshop.locale)
    total = ("Total", words.money(order.total), True)
    if between := order.total - items:
        return [("Discounts, charges, delivery, tax", words.signed_money(between), False), total]
    return [total]


def open_words(found: OpenInvoice | None, money: Callable[[Decimal], str]) -> list[str]:
    """Say what is open of an invoice, and why that is more than its paper says."""
    if found is None:
        return []
    words = [f"{money(found.left)} to pay" if found.left else "nothing to pay"]
    if found.gone:
        words.append(f"It counted {money(found.gone)} as paid that is not there any more.")
    return words


def next_page(order: Order, deliveries: list[OrderDelivery]) -> tuple[str, str] | None:
    """Return what is done next on a page of its own, once everything is made: label, address."""
    ready, done = order.state == Order.State.READY, order.state == Order.State.DELIVERED
    for delivery in deliveries:
        if ready and not delivery.delivered_on:
            label, view = "Mark as delivered", "pricing:delivery_left"
        elif done and getattr(delivery, "invoice", None) is None:
            label, view = "Create invoice", "pricing:invoice_new"
        else:
            continue
        return label, reverse(view, args=[order.workshop.slug, order.pk, delivery.pk])
    return None
