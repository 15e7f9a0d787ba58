"""Columns of the list of enquiries."""

import datetime

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from maker.web.lists import DatedTable, DayColumn, NameColumn, RowLink, on_phone
from pricing.enquiries.models import Enquiry

BADGE = {
    Enquiry.State.OPEN: "badge",
    Enquiry.State.QUOTED: "badge good",
    Enquiry.State.DECLINED: "badge quiet",
}


def state_badge(enquiry: Enquiry, today: datetime.date) -> SafeString:
    """Write the state as a tag; one whose date has passed unanswered says so."""
    if enquiry.retired_on:
        return format_html('<span class="badge quiet">{}</span>', "archived")
    if enquiry.is_late(today):
        return format_html('<span class="badge alarm">{}</span>', "date passed")
    state = Enquiry.State(enquiry.state)
    return format_html('<span class="{}">{}</span>', BADGE[state], state.label)


class EnquiryTable(DatedTable):
    """Enquiries with what was asked for and where they stand."""

    row_page = "pricing:enquiry"

    title = RowLink(verbose_name="Subject")
    customer = NameColumn(
        accessor="customer__name", verbose_name="Customer", attrs=on_phone("under")
    )
    quantities = tables.Column(verbose_name="Quantity", attrs=on_phone("under told"))
    needed_on = DayColumn(verbose_name="Date needed", place="under told")
    asked_on = DayColumn(verbose_name="Received", place="on-its-page")
    state = tables.Column(verbose_name="Status", attrs=on_phone("under"))

    class Meta:
        model = Enquiry
        fields = ("title", "customer", "quantities", "needed_on", "asked_on", "state")
        attrs = {"aria_label": "Enquiries"}

    def render_state(self, record: Enquiry) -> SafeString:
        """Write the state as a tag."""
        return state_badge(record, self.today)
