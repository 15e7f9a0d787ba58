"""Columns of the list of designs."""

from typing import Any

import django_tables2 as tables
from django.urls import NoReverseMatch, reverse
from django.utils.html import format_html

from catalogue.designs.models import Design
from maker.web.lists import NUMBER, ListTable, RowLink


class DesignTable(ListTable):
    """Designs with how much is in their newest recipe."""

    row_page = "catalogue:design"

    name = RowLink()
    newest = tables.Column(verbose_name="Version", attrs=NUMBER)
    piece_count = tables.Column(verbose_name="Pieces", attrs=NUMBER)
    step_count = tables.Column(verbose_name="Steps", attrs=NUMBER)
    cost = tables.Column(
        empty_values=(),
        orderable=False,
        verbose_name="Price",
    )

    class Meta:
        model = Design
        fields = ("name", "code", "newest", "piece_count", "step_count", "cost")
        order_by = ("name",)
        attrs = {"aria_label": "Designs"}

    def render_name(self, value: str, record: Design) -> Any:
        """Write the name, and say when it was put away."""
        if record.retired_on:
            return format_html('{} <span class="badge quiet">archived</span>', value)
        return value

    def render_cost(self, record: Design) -> Any:
        """Link to the page that says what it costs."""
        try:
            address = reverse("pricing:cost", args=[self.workshop.slug, record.pk])
        except NoReverseMatch:
            return ""
        return format_html(
            '<a href="{}">See price<span class="visually-hidden"> of {}</span></a>',
            address,
            record.name,
        )
