"""Columns of the list of customers."""

import django_tables2 as tables

from maker.web.lists import NUMBER, ListTable, RowLink, on_phone
from pricing.customers.models import Customer


class CustomerTable(ListTable):
    """Customers with how many quotes they got."""

    row_page = "pricing:customer"

    name = RowLink()
    contact = tables.Column(verbose_name="Contact person", attrs=on_phone("under"))
    email = tables.Column(verbose_name="Email", attrs=on_phone("under"))
    quote_count = tables.Column(verbose_name="Quotes", attrs=on_phone("under told", NUMBER))

    class Meta:
        model = Customer
        fields = ("name", "contact", "email", "quote_count")
        order_by = ("name",)
        attrs = {"aria_label": "Customers"}

    def render_name(self, value: str, record: Customer) -> str:
        """Write the name, and say when it is archived."""
        return f"{value}, archived" if record.retired_on else value
