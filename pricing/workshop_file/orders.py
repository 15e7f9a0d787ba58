"""Orders of a workshop file, with their deliveries, needs, payments and invoices.

Lines are spoken of by their place in the quote, deliveries by their place in the order, from 1.
"""

from collections.abc import Callable
from typing import Any

from django.db import models

from maker.calc.strict_json import Fields, anything, count, decimal, shown, whole
from maker.workshop.models import Workshop
from pricing.orders.models import (
    Invoice,
    Order,
    OrderApproval,
    OrderChange,
    OrderChangeLess,
    OrderDelivery,
    OrderDeliveryLine,
    OrderExpense,
    OrderNeed,
    OrderPayment,
)
from pricing.orders.services import BY_HAND
from pricing.quotes.documents import deposit_in, minutes_in
from pricing.quotes.models import Quote, QuoteLine
from pricing.workshop_file import schema
from pricing.workshop_file.order_changes import change_values, lines_of_order, write_changes
from pricing.workshop_file.writing import Registry, create, read_columns

Values = dict[str, Any]
Numbers = dict[tuple[str, int], int]
MOST_ROWS = 100_000
# amounts of an invoice; older ones do not have the later ones
_AMOUNTS = ("net", "tax", "total", "goods", "delivery", "deposit", "to_pay")
_LATER_AMOUNTS = ("discount", "paid_before")
_INSIDE = ("deliveries", "needs", "expenses", "payments", "invoices", "changes", "approvals")


def ordered_quotes(workshop: Workshop) -> set[int]:
    """Return the quotes that became orders, which need a key in the file (one query)."""
    return set(Order.objects.of(workshop).values_list("quote_id", flat=True))


def order_values(
    workshop: Workshop,
    quotes: dict[int, str],
    expenses: dict[int, str],
    line_values: Callable[[QuoteLine], Values],
) -> list[Values]:
    """Return the orders of a workshop (eleven queries)."""
    changed = QuoteLine.objects.select_related("design", "version", "colourway")
    rows = (
        Order.objects.of(workshop)
        .prefetch_related(
            models.Prefetch("quote__lines", QuoteLine.objects.order_by("position", "pk")),
            models.Prefetch("changes", OrderChange.objects.in_order()),
            models.Prefetch("changes__lines", changed.order_by("position", "pk")),
            models.Prefetch("changes__less", OrderChangeLess.objects.order_by("pk")),
            models.Prefetch("approvals", OrderApproval.objects.order_by("pk")),
            models.Prefetch("deliveries", OrderDelivery.objects.order_by("position", "pk")),
            models.Prefetch("deliveries__lines", OrderDeliveryLine.objects.order_by("pk")),
            models.Prefetch("needs", OrderNeed.objects.select_related("material").order_by("pk")),
            models.Prefetch("expenses", OrderExpense.objects.order_by("pk")),
            models.Prefetch("payments", OrderPayment.objects.order_by("pk")),
            models.Prefetch("invoices", Invoice.objects.select_related("credits").order_by("pk")),
        )
        .order_by("pk")
    )
    return [_order(row, quotes[row.quote_id], expenses, line_values) for row in rows]


def _order(
    row: Order,
    quote: str,
    expenses: dict[int, str],
    line_values: Callable[[QuoteLine], Values],
) -> Values:
    places = {line.pk: place for place, line in enumerate(lines_of_order(row), 1)}
    deliveries = list(row.deliveries.all())
    parts = {delivery.pk: place for place, delivery in enumerate(deliveries, 1)}
    return {
        "quote": quote,
        **schema.ORDER.written(row),
        **change_values(row, places, line_values),
        "deliveries": [
            schema.ORDER_DELIVERY.written(delivery)
            | {
                "lines": [
                    {"line": places[line.line_id], **schema.ORDER_DELIVERY_LINE.written(line)}
                    for line in delivery.lines.all()
                ]
            }
            for delivery in deliveries
        ],
        "needs": [
            {"material": need.material.name, **schema.ORDER_NEED.written(need)}
            for need in row.needs.all()
        ],
        # said only where there is one: files of before know no such list
        **(
            {"expenses": [{"expense": expenses[one.expense_id]} for one in row.expenses.all()]}
            if row.expenses.all()
            else {}
        ),
        "payments": [schema.ORDER_PAYMENT.written(payment) for payment in row.payments.all()],
        "invoices": [
            {
                "delivery": parts[invoice.delivery_id] if invoice.delivery_id else None,
                "credits": invoice.credits.number if invoice.credits else None,
                **schema.INVOICE.written(invoice),
                "document": _with_lines(invoice.document, places),
            }
            for invoice in row.invoices.all()
        ],
    }


def _with_lines(document: Values, keys: dict[int, int]) -> Values:
    """Return a document whose lines speak of the quote's lines by other keys."""
    lines = [{**line, "line": keys[line["line"]]} for line in document["lines"]]
    return {**document, "lines": lines}


def write_orders(
    rows: list[Fields],
    quotes: Registry,
    materials: Registry,
    expenses: Registry,
    numbers: Numbers,
    read_line: Callable[[Quote, Fields, Fields], QuoteLine],
) -> Registry:
    """Store orders as written, if they agree with quotes and numbers; return them by number."""
    known = Registry("order")
    taken: set[int] = set()
    invoices: list[Invoice] = []
    kept: dict[type[models.Model], list[Any]] = {
        model: []
        for model in (OrderDelivery, OrderDeliveryLine, OrderNeed, OrderExpense, OrderPayment)
    }
    pairs: list[tuple[Fields, Order]] = []
    for row in rows:
        quote: Quote = quotes.of(row, "quote")
        if quote.state != Quote.State.ACCEPTED or quote.pk in taken:
            raise row.refuse("An order is of an accepted quote, and a quote has one.", "quote")
        taken.add(quote.pk)
        order = Order(
            quote=quote,
            deposit=deposit_in(quote.frozen["public"]),
            quoted_minutes=minutes_in(quote.frozen["own"]),
            **read_columns(schema.ORDER, row, *_INSIDE),
        )
        _verify_number(order.number, "order", row, numbers)
        known.add(order.number, order, row, "number")
        pairs.append((row, order))
    create(Order, [order for _, order in pairs])
    lines_of = write_changes(pairs, read_line)
    for row, order in pairs:
        lines = lines_of[order.pk]
        deliveries = [_delivery(order, inner) for inner in row.rows("deliveries")]
        kept[OrderDelivery] += deliveries
        for delivery, inner in zip(deliveries, row.rows("deliveries"), strict=True):
            kept[OrderDeliveryLine] += [
                OrderDeliveryLine(
                    delivery=delivery,
                    line=lines[_place(line, "line", len(lines)) - 1],
                    **read_columns(schema.ORDER_DELIVERY_LINE, line),
                )
                for line in inner.rows("lines")
            ]
        for need in row.rows("needs"):
            needed = OrderNeed(
                order=order,
                material=materials.of(need, "material"),
                **read_columns(schema.ORDER_NEED, need),
            )
            if needed.lot_amount and (not needed.lot or order.state not in BY_HAND):
                raise need.refuse("Only a lot of an order still to be made is kept.", "lot_amount")
            kept[OrderNeed].append(needed)
        for inner in row.rows("expenses"):
            expense = expenses.of(inner, "expense")
            if any(one.expense is expense for one in kept[OrderExpense]):
                raise inner.refuse("This expense belongs to another order.", "expense")
            kept[OrderExpense].append(
                OrderExpense(
                    order=order,
                    expense=expense,
                    **read_columns(schema.ORDER_EXPENSE, inner, "expense"),
                )
            )
        kept[OrderPayment] += [
            OrderPayment(order=order, **read_columns(schema.ORDER_PAYMENT, payment))
            for payment in row.rows("payments")
        ]
        invoices += _invoices(order, row, deliveries, lines, numbers)
    for model, made in kept.items():
        create(model, made)
    create(Invoice, invoices, also=("credits",))
    return known


def _delivery(order: Order, row: Fields) -> OrderDelivery:
    return OrderDelivery(order=order, **read_columns(schema.ORDER_DELIVERY, row, "lines"))


def _invoices(
    order: Order,
    row: Fields,
    deliveries: list[OrderDelivery],
    lines: list[QuoteLine],
    numbers: Numbers,
) -> list[Invoice]:
    found = Registry("invoice")
    for inner in row.rows("invoices"):
        place = inner.take("delivery", anything)
        document = inner.take("document", Fields)
        _verify_amounts(document)
        values = dict(document.values)
        values["lines"] = [
            {**line.values, "line": lines[_place(line, "line", len(lines)) - 1].pk}
            for line in document.rows("lines")
        ]
        invoice = Invoice(
            order=order,
            delivery=None
            if place is None
            else deliveries[_place(inner, "delivery", len(deliveries)) - 1],
            credits=found.optional(inner, "credits"),
            document=values,
            **read_columns(schema.INVOICE, inner),
        )
        is_credit = invoice.kind == Invoice.Kind.CREDIT
        if is_credit != (invoice.credits is not None) or is_credit == (place is not None):
            raise inner.refuse("An invoice is of a delivery, a credit note on an invoice.", "kind")
        if invoice.credits is None:
            document.take("deposit_of_order", decimal())
        else:
            charged = len(invoice.credits.document.get("extras") or ())
            for credited in document.rows("extras"):
                credited.take("place", count(0, charged - 1))
        _verify_number(invoice.number, "credit" if is_credit else "invoice", inner, numbers)
        found.add(invoice.number, invoice, inner, "number")
    return list(found.rows.values())


def _verify_amounts(document: Fields) -> None:
    """Refuse amounts that are none: pages would fail where they add them up."""
    for key in _AMOUNTS:
        document.take(key, decimal())
    for key in _LATER_AMOUNTS:
        document.take(key, decimal(), None)
    for row in document.rows("rates"):
        for key in ("rate", "base", "tax"):
            row.take(key, decimal())
    for row in document.rows("extras"):
        row.take("amount", decimal())
    for line in document.rows("lines"):
        line.take("quantity", whole(1))
        for key in ("price_each", "amount"):
            line.take(key, decimal())


def _place(row: Fields, key: str, most: int) -> int:
    return row.take(key, whole(1, most))


def _verify_number(number: str, series: str, row: Fields, numbers: Numbers) -> None:
    """Refuse a number that its series has not reached: the next document would get it again."""
    *_, year, count = ["", "", *number.split("-")]
    if year.isdecimal() and count.isdecimal():
        last = numbers.get((series, int(year)), 0)
        if int(count) > last:
            raise row.refuse(
                f"The series {series} of {year} has only reached {shown(last)}.", "number"
            )
