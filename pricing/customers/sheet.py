"""Columns of the customers as a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from maker.documents.spreadsheet import Column, ColumnKind
from pricing.customers.models import CustomerQuerySet

CUSTOMER_COLUMNS = (
    Column("Name", width=28),
    Column("Contact person", width=24),
    Column("Email", width=28),
    Column("Phone", width=18),
    Column("Address", width=40),
    Column("Notes", width=40),
    Column("Archived on", ColumnKind.DATE),
)


def customer_rows(customers: CustomerQuerySet) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each customer, by name (one query)."""
    for customer in customers.by_name():
        yield (
            customer.name,
            customer.contact,
            customer.email,
            customer.phone,
            customer.address,
            customer.notes,
            customer.retired_on,
        )
