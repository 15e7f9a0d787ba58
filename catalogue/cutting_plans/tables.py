"""Columns of the list of cutting plans."""

from typing import Any

import django_tables2 as tables
from django.utils.html import format_html

from catalogue.cutting_plans.models import CuttingPlan
from maker.web.lists import DayColumn, ListTable, RowLink

State = CuttingPlan.State


class PlanTable(ListTable):
    """Plans with how far they are, the last asked for first."""

    row_page = "catalogue:plan"

    name = RowLink()
    asked_at = DayColumn(format="j M Y, H:i", verbose_name="Created")
    state = tables.Column(verbose_name="Plan")
    cut_on = DayColumn(verbose_name="Cut")

    class Meta:
        model = CuttingPlan
        fields = ("name", "asked_at", "state", "cut_on")
        order_by = ("-asked_at",)
        attrs = {"aria_label": "Cutting plans"}

    def render_state(self, record: CuttingPlan) -> Any:
        """Write the state; how far the work is while it goes on."""
        words = record.get_state_display()
        if record.state == State.WORKING:
            return format_html('<span class="badge">working, {}%</span>', record.percent)
        kind = {State.DONE: "good", State.REFUSED: "alarm"}.get(State(record.state), "quiet")
        return format_html('<span class="badge {}">{}</span>', kind, words)
