"""Columns of the list of suppliers."""

from decimal import Decimal

import django_tables2 as tables
from django.urls import reverse

from catalogue.suppliers.models import Supplier
from maker.web.lists import NUMBER, ListTable


class SupplierTable(ListTable):
    """Suppliers with what an order there takes."""

    name = tables.Column(linkify=lambda record, table: table.address(record))
    lead_days = tables.Column(verbose_name="Arrives in", attrs=NUMBER)
    carriage = tables.Column(verbose_name="Postage", attrs=NUMBER)
    carriage_free_from = tables.Column(verbose_name="Free from", attrs=NUMBER)
    material_count = tables.Column(verbose_name="Materials", attrs=NUMBER)

    class Meta:
        model = Supplier
        fields = ("name", "material_count", "lead_days", "carriage", "carriage_free_from")
        order_by = ("name",)
        attrs = {"aria_label": "Suppliers"}

    def address(self, record: Supplier) -> str:
        """Return the address of the supplier's page."""
        return reverse("catalogue:supplier", args=[self.workshop.slug, record.pk])

    def render_name(self, value: str, record: Supplier) -> str:
        """Write the name, and say when it was put away."""
        return f"{value}, put away" if record.retired_on else value

    def render_lead_days(self, value: int) -> str:
        """Write the days."""
        return f"{value} day" if value == 1 else f"{value} days"

    def render_carriage(self, value: Decimal) -> str:
        """Write the postage."""
        return self.money(value)

    def render_carriage_free_from(self, value: Decimal) -> str:
        """Write the value of an order that comes free of postage."""
        return self.money(value)
