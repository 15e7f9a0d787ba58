"""Columns of the offcuts box and of the ledger of one size."""

from typing import Any

import django_tables2 as tables
from django.db.models import F
from django.urls import reverse
from django.utils.html import format_html, format_html_join

from catalogue.offcuts.inputs import Fit
from catalogue.offcuts.models import Offcut
from maker.calc.units import format_length
from maker.web.lists import NUMBER, DayColumn, ListTable, PartColumn, RowLink
from maker.workshop.models import Workshop

MOST_FITS = 4


def size_text(width_mm: Any, height_mm: Any, workshop: Workshop) -> str:
    """Write a size, `5 × 7 1/2 in`."""
    width, height = (
        format_length(side, workshop.unit, workshop.locale) for side in (width_mm, height_mm)
    )
    return f"{width.rsplit(' ', 1)[0]} × {height}"


class OffcutTable(ListTable):
    """Offcuts in the box by material, with what could be cut from them."""

    row_page = "catalogue:offcut"

    material = tables.Column(accessor="material__name", verbose_name="Material")
    size = RowLink(empty_values=(), verbose_name="Size")
    count = tables.Column(verbose_name="In stock", attrs=NUMBER)
    fits = tables.Column(empty_values=(), orderable=False, verbose_name="Fits")

    class Meta:
        model = Offcut
        fields = ("size", "material", "count", "fits")
        attrs = {"aria_label": "Offcuts"}

    def __init__(self, *args: Any, **options: Any) -> None:
        self.fits_of: dict[int, list[Fit]] = {}
        super().__init__(*args, **options)

    def render_material(self, value: str, record: Offcut) -> Any:
        """Write the material, and say when its pattern has a direction."""
        if record.material.is_directional:
            return format_html('{} <span class="badge">↑ directional</span>', value)
        return value

    def render_size(self, record: Offcut) -> str:
        """Write the size as it lay on the sheet."""
        return size_text(record.width_mm, record.height_mm, self.workshop)

    def order_size(self, queryset: Any, is_descending: bool) -> Any:
        """Sort by area."""
        area = F("width_mm") * F("height_mm")
        return queryset.order_by(area.desc() if is_descending else area.asc()), True

    def render_fits(self, record: Offcut) -> Any:
        """Name the first few pieces that fit, and how many more there are."""
        fits = self.fits_of.get(record.pk, [])
        if not fits:
            return format_html('<span class="soft">{}</span>', "nothing you make")
        named = format_html_join(
            "; ",
            '<a href="{}">{}</a>: {}{}',
            (
                (
                    reverse("catalogue:design", args=[self.workshop.slug, fit.design_id]),
                    fit.design,
                    f"{fit.times} × " if fit.times > 1 else "",
                    fit.piece,
                )
                for fit in fits[:MOST_FITS]
            ),
        )
        more = f"; {len(fits) - MOST_FITS} more" if len(fits) > MOST_FITS else ""
        return format_html("{}{}", named, more)


class OffcutLedger(ListTable):
    """The movements of one size, the last first."""

    moved_on = DayColumn(verbose_name="Date")
    kind = tables.Column(verbose_name="Movement")
    change = tables.Column(attrs=NUMBER)
    back = PartColumn("catalogue/offcuts/_take_back.html", verbose_name="Undo")

    class Meta:
        fields = ("moved_on", "kind", "change", "back")
        order_by = ("-moved_on",)
        attrs = {"aria_label": "Movements"}

    def render_kind(self, record: Any) -> Any:
        """Write the kind, the reason, and the plan it belongs to."""
        words = record.get_kind_display()
        plan = ""
        if record.plan_id:
            address = reverse("catalogue:plan", args=[self.workshop.slug, record.plan_id])
            plan = format_html(' <a href="{}">{}</a>', address, record.plan.name)
        reason = (
            format_html(' <span class="soft">{}</span>', record.reason) if record.reason else ""
        )
        undone = (
            ""
            if record.counts
            else format_html(' <span class="badge quiet">{}</span>', "does not count")
        )
        return format_html("{}{}{}{}", words, plan, reason, undone)

    def render_change(self, value: int, record: Any) -> Any:
        """Write the change with its sign; struck out when it does not count any more."""
        text = f"{'+' if value > 0 else '−'}{abs(value)}"
        return text if record.counts else format_html("<del>{}</del>", text)
