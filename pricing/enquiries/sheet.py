"""Columns of the enquiries as a spreadsheet; names on items are not in it."""

from collections.abc import Iterator
from typing import Any

from maker.calc.money import minor_digits
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop
from pricing.enquiries.models import EnquiryQuerySet


def enquiry_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, money with the decimals of the workshop's currency."""
    return (
        Column("Received on", ColumnKind.DATE),
        Column("Customer", width=28),
        Column("Subject", width=32),
        Column("Status", width=12),
        Column("Source", width=16),
        Column("Needed on", ColumnKind.DATE),
        Column("Quantity", width=24),
        Column("Budget each", ColumnKind.MONEY, minor_digits(workshop.currency)),
        Column("Contents", width=32),
        Column("Youngest recipient", ColumnKind.WHOLE),
        Column("Colours", width=24),
        Column("Declined on", ColumnKind.DATE),
        Column("Reason", width=32),
        Column("Notes", width=40),
    )


def enquiry_rows(enquiries: EnquiryQuerySet) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each enquiry, the newest first (one query)."""
    for row in enquiries.select_related("customer").newest_first():
        yield (
            row.asked_on,
            row.customer.name,
            row.title,
            row.get_state_display(),
            row.get_source_display() if row.source else "",
            row.needed_on,
            row.quantities,
            row.budget_each,
            row.contents,
            row.youngest,
            row.colours,
            row.declined_on,
            row.decline_reason,
            row.notes,
        )
