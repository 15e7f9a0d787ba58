"""Columns of the list of suppliers."""

from decimal import Decimal

import django_tables2 as tables

from catalogue.suppliers.models import Supplier
from maker.web.lists import NUMBER, ListTable, RowLink, on_phone

TOLD = on_phone("under told", NUMBER)


class SupplierTable(ListTable):
    """Suppliers with what an order there takes."""

    row_page = "catalogue:supplier"

    name = RowLink()
    lead_days = tables.Column(verbose_name="Delivery time", attrs=TOLD)
    carriage = tables.Column(verbose_name="Postage", attrs=TOLD)
    carriage_free_from = tables.Column(verbose_name="Free postage from", attrs=TOLD)
    material_count = tables.Column(verbose_name="Materials", attrs=TOLD)

    class Meta:
        model = Supplier
        fields = ("name", "material_count", "lead_days", "carriage", "carriage_free_from")
        order_by = ("name",)
        attrs = {"aria_label": "Suppliers"}

    def render_name(self, value: str, record: Supplier) -> str:
        """Write the name, and say when it was put away."""
        return f"{value}, archived" if record.retired_on else value

    def render_lead_days(self, value: int) -> str:
        """Write the days."""
        return f"{value} day" if value == 1 else f"{value} days"

    def render_carriage(self, value: Decimal) -> str:
        """Write the postage."""
        return self.money(value)

    def render_carriage_free_from(self, value: Decimal) -> str:
        """Write the value of an order that comes free of postage."""
        return self.money(value)
