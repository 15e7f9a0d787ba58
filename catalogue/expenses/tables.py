"""Columns of the list of expenses."""

from decimal import Decimal

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from catalogue.expenses.models import Expense
from maker.web.lists import NUMBER, DayColumn, ListTable, RowLink, on_phone


class ExpenseTable(ListTable):
    """Expenses with what each cost."""

    row_page = "catalogue:expense"

    what = RowLink(verbose_name="Expense")
    paid_on = DayColumn(verbose_name="Date", place="under")
    category = tables.Column(verbose_name="Category", attrs=on_phone("under"))
    purpose = tables.Column(verbose_name="Belongs to", attrs=on_phone("under"))
    supplier = tables.Column(
        accessor="supplier__name", verbose_name="Paid to", attrs=on_phone("on-its-page")
    )
    cost = tables.Column(verbose_name="Cost", attrs=on_phone("beside", NUMBER))

    class Meta:
        model = Expense
        fields = ("what", "paid_on", "category", "purpose", "supplier", "cost")
        order_by = ("-paid_on",)
        attrs = {"aria_label": "Expenses"}

    def render_what(self, value: str, record: Expense) -> SafeString:
        """Write the name, and how it came here."""
        badge = expense_badge(record)
        return (
            format_html('{} <span class="badge quiet">{}</span>', value, badge)
            if badge
            else (format_html("{}", value))
        )

    def render_cost(self, value: Decimal) -> str:
        """Write what it cost."""
        return self.money(value)


def expense_badge(row: Expense) -> str:
    """Say in a word how an expense came here or goes on; empty for an ordinary one."""
    if row.deleted_at:
        return "deleted"
    if row.repeat_of_id:
        return "automatic"
    if row.repeats:
        return str(row.get_repeats_display()).lower()
    if row.purchase_id:
        return "on a receipt"
    if row.lasts_years:
        return "1 year" if row.lasts_years == 1 else f"{row.lasts_years} years"
    return ""
