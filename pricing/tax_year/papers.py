"""Photos and PDFs of a tax year's receipts and expenses, and their names in its pack."""

import datetime
import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import models

from catalogue.expenses.models import Expense
from catalogue.purchases.models import Purchase
from catalogue.receipt_files.models import ReceiptFile
from maker.workshop.models import Workshop
from pricing.calc.spending.tax_year import TaxYear

FOLDER = "receipts"
# what every file system takes in a name
_OTHER = re.compile(r"[^A-Za-z0-9]+", re.ASCII)
MOST_LETTERS = 40


@dataclass(frozen=True, slots=True)
class Paper:
    """A photo or PDF of the pack: what it belongs to, and its place there."""

    row: ReceiptFile
    on: datetime.date
    reference: str
    paid_to: str
    place: str


def papers_of(workshop: Workshop, year: TaxYear) -> list[Paper]:
    """Return the photos and PDFs of a year's receipts and expenses, by date (one query).

    Named by date, receipt or expense, its number in the lists, its own number and their count.
    """
    receipts = Purchase.objects.of(workshop).recorded().between(year.first, year.last)
    expenses = Expense.objects.of(workshop).counted().between(year.first, year.last)
    rows = (
        ReceiptFile.objects.of(workshop)
        .standing()
        .filter(
            models.Q(purchase__in=receipts.values("pk"))
            | models.Q(expense__in=expenses.values("pk"))
        )
        .select_related("purchase__supplier", "expense__supplier")
        .in_order()
    )
    counts: dict[tuple[int | None, int | None], int] = {}
    papers = []
    for row in rows:
        said: Purchase | Expense
        if row.purchase is not None:
            kind, on, said = f"receipt-{row.purchase.pk}", row.purchase.bought_on, row.purchase
        elif row.expense is not None:
            kind, on, said = f"expense-{row.expense.pk}", row.expense.paid_on, row.expense
        else:
            continue
        key = (row.purchase_id, row.expense_id)
        counts[key] = counts.get(key, 0) + 1
        words = [f"{on:%Y-%m-%d}", kind, _OTHER.sub("-", said.reference)[:MOST_LETTERS].strip("-")]
        name = "-".join(word for word in (*words, str(counts[key])) if word)
        paid_to = said.supplier.name if said.supplier else ""
        place = f"{FOLDER}/{name}.{row.ending}"
        papers.append(Paper(row, on, said.reference, paid_to, place))
    return sorted(papers, key=lambda paper: (paper.on, paper.row.pk))


def places_by_owner(papers: Sequence[Paper], column: str) -> dict[int, str]:
    """Return the files of each receipt or expense, by its number, in one text."""
    found: dict[int, list[str]] = {}
    for paper in papers:
        key = getattr(paper.row, column)
        if key is not None:
            found.setdefault(key, []).append(paper.place)
    return {key: "; ".join(places) for key, places in found.items()}
