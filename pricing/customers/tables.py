"""Columns of the list of customers."""

import django_tables2 as tables
from django.urls import reverse

from maker.web.lists import NUMBER, ListTable
from pricing.customers.models import Customer


class CustomerTable(ListTable):
    """Customers with how many quotes they got."""

    name = tables.Column(linkify=lambda record, table: table.address(record))
    contact = tables.Column(verbose_name="Who decides", default="–")
    email = tables.Column(verbose_name="E-mail", default="–")
    quote_count = tables.Column(verbose_name="Quotes", attrs=NUMBER)

    class Meta:
        model = Customer
        fields = ("name", "contact", "email", "quote_count")
        order_by = ("name",)
        attrs = {"aria_label": "Customers"}

    def address(self, record: Customer) -> str:
        """Return the address of the customer's page."""
        return reverse("pricing:customer", args=[self.workshop.slug, record.pk])

    def render_name(self, value: str, record: Customer) -> str:
        """Write the name, and say when it was put away."""
        return f"{value}, put away" if record.retired_on else value
