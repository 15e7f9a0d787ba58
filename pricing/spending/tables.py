"""The receipts of a month."""

import datetime
from typing import Any

import django_tables2 as tables
from django.db import models

from catalogue.purchases.models import Purchase
from maker.exact_sums import from_millionths
from maker.web.lists import NUMBER, DayColumn, ListTable, NameColumn, count_text, on_phone
from maker.workshop.models import Workshop
from pricing.spending.inputs import Narrowed, receipts_of


class MonthReceiptTable(ListTable):
    """Receipts with what counts of each."""

    row_page = "catalogue:purchase"

    bought_on = DayColumn(verbose_name="Date", linkify=lambda record, table: table.address(record))
    supplier = NameColumn(
        accessor="supplier__name", verbose_name="Supplier", attrs=on_phone("under")
    )
    reference = tables.Column(verbose_name="Receipt no.", attrs=on_phone("under"))
    lines_counted = tables.Column(verbose_name="Items", attrs=on_phone("under", NUMBER))
    millionths = tables.Column(verbose_name="Spent", attrs=on_phone("beside", NUMBER))

    class Meta:
        model = Purchase
        fields = ("bought_on", "supplier", "reference", "lines_counted", "millionths")
        order_by = ("bought_on",)
        attrs = {"aria_label": "Receipts this month"}

    def render_lines_counted(self, value: int) -> str:
        """Say how many lines count."""
        return count_text(value, "line")

    def render_millionths(self, value: int) -> str:
        """Write what counts."""
        return self.money(from_millionths(value))


def receipts_table(
    workshop: Workshop, month: datetime.date, narrowed: Narrowed
) -> MonthReceiptTable:
    """Return the receipts of a month."""
    rows: models.QuerySet[Purchase, Any] = receipts_of(workshop, month, narrowed)
    return MonthReceiptTable(rows, workshop=workshop)
