"""Columns of the quotes as a spreadsheet; nothing of what was frozen for herself is in it."""

import datetime
from collections.abc import Iterator
from typing import Any

from maker.calc.money import minor_digits
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop
from pricing.quotes.models import QuoteQuerySet


def quote_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, money with the decimals of the workshop's currency."""
    digits = minor_digits(workshop.currency)
    return (
        Column("Number", width=16),
        Column("Revision", ColumnKind.WHOLE),
        Column("Customer", width=28),
        Column("Subject", width=32),
        Column("State", width=22),
        Column("Sent on", ColumnKind.DATE),
        Column("Valid until", ColumnKind.DATE),
        Column("Needed on", ColumnKind.DATE),
        Column("Total", ColumnKind.MONEY, digits),
        Column("Answered on", ColumnKind.DATE),
        Column("By", width=20),
        Column("Reason", width=16),
        Column("Note", width=32),
    )


def quote_rows(quotes: QuoteQuerySet, today: datetime.date) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each quote, the newest first (one query)."""
    for quote in quotes.for_list().newest_first():
        yield (
            quote.number,
            quote.revision,
            quote.customer.name,
            quote.title,
            "expired" if quote.is_expired(today) else quote.get_state_display(),
            quote.sent_on,
            quote.valid_until,
            quote.needed_on,
            quote.total,
            quote.decided_on,
            quote.decided_by,
            quote.get_reason_display() if quote.reason else "",
            quote.reason_note,
        )
