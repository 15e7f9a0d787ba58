"""Columns of the list of orders."""

import datetime
from typing import Any

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from maker.web.lists import NUMBER, DatedTable, DayColumn, NameColumn, RowLink, on_phone
from pricing.orders.models import Order

BADGE = {
    Order.State.PLANNED: "badge",
    Order.State.MAKING: "badge",
    Order.State.READY: "badge good",
    Order.State.DELIVERED: "badge good",
    Order.State.SETTLED: "badge quiet",
    Order.State.CANCELLED: "badge quiet",
}


def state_badge(order: Order, today: datetime.date) -> SafeString:
    """Write the stage as a tag; one that is late says so."""
    if order.is_late(today):
        return format_html('<span class="badge alarm">{}</span>', "late")
    state = Order.State(order.state)
    return format_html('<span class="{}">{}</span>', BADGE[state], state.label)


class OrderTable(DatedTable):
    """Orders with their date, stage and what they come to."""

    row_page = "pricing:order"

    number = RowLink(verbose_name="Order")
    customer = NameColumn(
        accessor="quote__customer__name", verbose_name="Customer", attrs=on_phone("under")
    )
    title = NameColumn(accessor="quote__title", verbose_name="Subject", attrs=on_phone("under"))
    due_on = DayColumn(verbose_name="Due date", place="under told")
    state = tables.Column(verbose_name="Status", attrs=on_phone("under"))
    total = tables.Column(
        accessor="total",
        order_by="quote__total",
        verbose_name="Total",
        attrs=on_phone("beside", NUMBER),
    )

    class Meta:
        model = Order
        fields = ("number", "customer", "title", "due_on", "state", "total")
        attrs = {"aria_label": "Orders"}

    def render_state(self, record: Order) -> SafeString:
        """Write the stage as a tag."""
        return state_badge(record, self.today)

    def render_total(self, value: Any) -> str:
        """Write the total."""
        return self.money(value)
