"""Columns of the expenses as a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from catalogue.expenses.models import ExpenseQuerySet
from maker.calc.money import minor_digits
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop


def expense_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, money with the decimals of the workshop's currency."""
    digits = minor_digits(workshop.currency)
    return (
        Column("Date", ColumnKind.DATE),
        Column("Expense", width=32),
        Column("Category", width=20),
        Column("Belongs to", width=20),
        Column("Paid to", width=24),
        Column("Receipt no.", width=18),
        Column("Amount", ColumnKind.MONEY, digits),
        Column("Tax", ColumnKind.MONEY, digits),
        Column("Cost", ColumnKind.MONEY, digits),
        Column("Lasts (years)", ColumnKind.WHOLE),
        Column("Repeats"),
        Column("Added by itself"),
        Column("Notes", width=40),
    )


def expense_rows(expenses: ExpenseQuerySet) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each expense, the oldest first (one query)."""
    for row in expenses.select_related("supplier").order_by("paid_on", "pk"):
        yield (
            row.paid_on,
            row.what,
            row.get_category_display(),
            row.get_purpose_display(),
            row.supplier.name if row.supplier else None,
            row.reference,
            row.net,
            row.tax_paid or None,
            row.cost,
            row.lasts_years,
            row.get_repeats_display() if row.repeats else None,
            "yes" if row.repeat_of_id else None,
            row.notes,
        )
