"""Columns of the list of quotes."""

import datetime
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from maker.web.lists import NUMBER, DatedTable, DayColumn, NameColumn, RowLink, on_phone
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
    words = state.label
    return format_html('<span class="{}">{}</span>', BADGE[state], words)


class QuoteTable(DatedTable):
    """Quotes with their state and what they come to."""

    row_page = "pricing:quote"

    number = RowLink(empty_values=(), verbose_name="Quote")
    customer = NameColumn(
        accessor="customer__name", verbose_name="Customer", attrs=on_phone("under")
    )
    title = NameColumn(verbose_name="Subject", attrs=on_phone("under"))
    state = tables.Column(verbose_name="Status", attrs=on_phone("under"))
    valid_until = DayColumn(verbose_name="Valid until", place="under told")
    total = tables.Column(verbose_name="Total", attrs=on_phone("beside", NUMBER))

    class Meta:
        model = Quote
        fields = ("number", "customer", "title", "state", "valid_until", "total")
        attrs = {"aria_label": "Quotes"}

    def render_number(self, record: Quote) -> str:
        """Write the number and the revision; a new draft has none yet."""
        if not record.number:
            return "Draft quote"
        return str(record)

    def render_state(self, record: Quote) -> Any:
        """Write the state as a tag."""
        return state_badge(record, self.today)

    def render_total(self, value: Decimal) -> str:
        """Write what it comes to."""
        return self.money(value)
