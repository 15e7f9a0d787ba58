"""Columns of the price list."""

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.utils.html import format_html

from maker.web.lists import NUMBER, DayColumn, ListTable, PartColumn, on_phone
from maker.web.words import NOTHING, lowest_price
from pricing.costs.addresses import cost_address
from pricing.prices.inputs import item_words
from pricing.prices.models import PriceListEntry


class PriceTable(ListTable):
    """Asked prices with what they were set against."""

    design = tables.Column(
        accessor="design__name",
        linkify=lambda record, table: table.cost_url(record),
        verbose_name="Design",
    )
    item = tables.Column(
        accessor="colourway__name",
        verbose_name="Colourway and options",
        empty_values=(),
        order_by=("colourway__name", "choices"),
        attrs=on_phone("under"),
    )
    channel = tables.Column(
        accessor="channel__name", verbose_name="Channel", attrs=on_phone("under")
    )
    bought_at_once = tables.Column(
        verbose_name="Bought at once, from", attrs=on_phone("under told", NUMBER)
    )
    price = tables.Column(verbose_name="Price", attrs=on_phone("beside", NUMBER))
    floor_each = tables.Column(
        verbose_name="Lowest price when set", attrs=on_phone("under told", NUMBER)
    )
    cost_each = tables.Column(verbose_name="Cost when set", attrs=on_phone("on-its-page", NUMBER))
    set_at = DayColumn(verbose_name="Date set", place="on-its-page")
    why = PartColumn("pricing/prices/_why.html", verbose_name="Changes")
    remove = PartColumn("pricing/prices/_remove.html", verbose_name="Remove")

    class Meta:
        model = PriceListEntry
        fields = ()
        sequence = (
            "design",
            "item",
            "channel",
            "bought_at_once",
            "price",
            "floor_each",
            "cost_each",
            "set_at",
            "why",
            "remove",
        )
        order_by = ("channel", "design", "item", "bought_at_once")

    def render_item(self, record: PriceListEntry) -> str:
        """Write what sets the item apart."""
        return item_words(record) or NOTHING

    def cost_url(self, record: PriceListEntry) -> str:
        """Return the address of the cost this price was set against, as it is today."""
        return cost_address(
            self.workshop,
            design_pk=record.design_id,
            version=record.version.number,
            quantity=record.made_at_once,
            bought_at_once=record.bought_at_once,
            channel_pk=record.channel_id,
            colourway_pk=record.colourway_id,
            choices=record.choices,
        )

    def render_price(self, value: Decimal) -> str:
        """Write the price."""
        return self.money(value)

    def render_floor_each(self, value: Decimal, record: PriceListEntry) -> Any:
        """Write the floor, and say when the price is below it."""
        text = lowest_price(value, self.workshop)
        if record.price >= value:
            return text
        return format_html('{} <span class="badge alarm">price below</span>', text)

    def render_cost_each(self, value: Decimal) -> str:
        """Write the cost of one."""
        return self.money(value)
