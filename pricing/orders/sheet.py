"""Columns of the orders as a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop
from pricing.orders.models import OrderQuerySet


def order_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, amounts in the workshop's currency."""
    return (
        Column("Order", width=16),
        Column("Quote", width=16),
        Column("Customer", width=28),
        Column("About", width=36),
        Column("Status", width=16),
        Column("Due date", ColumnKind.DATE),
        Column(f"Total ({workshop.currency})", ColumnKind.MONEY),
    )


def order_rows(orders: OrderQuerySet) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each order (one query)."""
    for order in orders.for_list().most_urgent_first():
        yield (
            order.number,
            order.quote.number,
            order.quote.customer.name,
            order.quote.title,
            order.get_state_display(),
            order.due_on,
            order.total,
        )
