"""Numbers of documents without gaps: a series for each kind of document and year."""

import datetime

from maker.workshop.models import Workshop
from pricing.quotes.models import DocumentSeries


def next_number(workshop: Workshop, series: str, prefix: str, on: datetime.date) -> str:
    """Return the next number of a series in the year of a date, such as Q-2026-0007.

    Call it inside the transaction that stores the document: if that is undone, so is the number.
    """
    row, _ = DocumentSeries.objects.get_or_create(workshop=workshop, name=series, year=on.year)
    row = DocumentSeries.objects.select_for_update().get(pk=row.pk)
    row.last += 1
    row.save(update_fields=["last"])
    return "-".join(part for part in (prefix, str(on.year), f"{row.last:04}") if part)
