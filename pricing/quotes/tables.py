"""Columns of the list of quotes."""

import datetime
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from maker.web.lists import NUMBER, ListTable
from pricing.quotes.models import Quote

BADGE = {
    Quote.State.DRAFT: "badge",
    Quote.State.SENT: "badge",
    Quote.State.REPLACED: "badge quiet",
    Quote.State.ACCEPTED: "badge good",
    Quote.State.DECLINED: "badge quiet",
    Quote.State.DISCARDED: "badge quiet",
}


def state_badge(quote: Quote, today: datetime.date) -> SafeString:
    """Write the state as a tag; a day that has passed without an answer is a state of its own."""
    if quote.is_expired(today):
        return format_html('<span class="badge alarm">{}</span>', "expired")
    state = Quote.State(quote.state)
    words = "waiting" if state is Quote.State.SENT else state.label
    return format_html('<span class="{}">{}</span>', BADGE[state], words)


class QuoteTable(ListTable):
    """Quotes with their state and what they come to."""

    number = tables.Column(
        empty_values=(), verbose_name="Quote", linkify=lambda record, table: table.address(record)
    )
    customer = tables.Column(accessor="customer__name", verbose_name="Customer")
    title = tables.Column(verbose_name="About", default="–")
    state = tables.Column(verbose_name="State")
    valid_until = tables.DateColumn(format="j M Y", verbose_name="Valid until", default="–")
    total = tables.Column(verbose_name="Total", attrs=NUMBER, default="–")

    class Meta:
        model = Quote
        fields = ("number", "customer", "title", "state", "valid_until", "total")
        attrs = {"aria_label": "Quotes"}

    def __init__(self, *args: Any, today: datetime.date, **options: Any) -> None:
        self.today = today
        super().__init__(*args, **options)

    def address(self, record: Quote) -> str:
        """Return the address of the quote."""
        return reverse("pricing:quote", args=[self.workshop.slug, record.pk])

    def render_number(self, record: Quote) -> str:
        """Write the number and the revision; a new draft has none yet."""
        if not record.number:
            return "not numbered yet"
        return str(record)

    def render_customer(self, value: str) -> Any:
        """Write the name so that any script keeps its own direction."""
        return format_html("<bdi>{}</bdi>", value)

    def render_title(self, value: str) -> Any:
        """Write what it is about."""
        return format_html("<bdi>{}</bdi>", value)

    def render_state(self, record: Quote) -> Any:
        """Write the state as a tag."""
        return state_badge(record, self.today)

    def render_total(self, value: Decimal) -> str:
        """Write what it comes to."""
        return self.money(value)
