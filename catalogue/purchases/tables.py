"""Columns of the list of receipts, and the lines of one."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html

from catalogue.calc.supplies.unit_cost import LandedReceipt
from catalogue.purchases.models import Purchase, PurchaseLine
from maker.calc.money import format_money
from maker.calc.units import format_number
from maker.web.lists import NUMBER, ListTable
from maker.web.words import amount_text, unit_cost_text

BADGE = {
    Purchase.State.DRAFT: "badge",
    Purchase.State.RECORDED: "badge good",
    Purchase.State.REVERSED: "badge quiet",
}


class PurchaseTable(ListTable):
    """Receipts with what was paid."""

    bought_on = tables.DateColumn(
        format="j M Y",
        verbose_name="Day",
        linkify=lambda record, table: table.address(record),
    )
    supplier = tables.Column(accessor="supplier__name", verbose_name="Supplier")
    reference = tables.Column(verbose_name="Number", default="–")
    line_count = tables.Column(verbose_name="Lines", attrs=NUMBER)
    paid = tables.Column(verbose_name="Paid", attrs=NUMBER)
    state = tables.Column(verbose_name="State")

    class Meta:
        model = Purchase
        fields = ("bought_on", "supplier", "reference", "line_count", "paid", "state")
        order_by = ("-bought_on",)
        attrs = {"aria_label": "Receipts"}

    def address(self, record: Purchase) -> str:
        """Return the address of the receipt."""
        return reverse("catalogue:purchase", args=[self.workshop.slug, record.pk])

    def render_paid(self, value: Decimal) -> str:
        """Write what was paid."""
        return self.money(value)

    def render_state(self, record: Purchase) -> Any:
        """Write the state as a tag."""
        state = Purchase.State(record.state)
        return format_html('<span class="{}">{}</span>', BADGE[state], state.label)


@dataclass(frozen=True, slots=True)
class LineCell:
    """A figure under its heading."""

    label: str
    text: str


@dataclass(frozen=True, slots=True)
class LineRow:
    """A line of a receipt as the page shows it."""

    pk: int
    material_id: int
    name: str
    detail: str
    cells: tuple[LineCell, ...]


@dataclass(frozen=True, slots=True)
class ReceiptLines:
    """The lines of a receipt, their headings and what they come to."""

    headings: tuple[str, ...]
    rows: tuple[LineRow, ...]
    totals: tuple[LineCell, ...]


def receipt_lines(
    purchase: Purchase, lines: Sequence[PurchaseLine], landed: LandedReceipt | None
) -> ReceiptLines:
    """Write the lines with their shares; without shares while the receipt does not add up."""
    workshop = purchase.workshop
    tax_name = workshop.tax_name or "Tax"

    def money(value: Decimal, extra_digits: int = 0) -> str:
        return format_money(value, workshop.currency, workshop.locale, extra_digits)

    def shares(postage: Decimal, discount: Decimal, tax: Decimal) -> dict[str, str]:
        """Write the columns that this receipt has, in the same order for lines and totals."""
        cells = {}
        if purchase.postage:
            cells["Postage"] = money(postage)
        if purchase.discount:
            cells["Discount"] = f"−{money(discount)}"
        if purchase.tax:
            cells[tax_name] = money(tax)
        return cells

    rows = []
    for place, line in enumerate(lines):
        unit = line.material.unit
        cells = {
            "Bought": amount_text(line.quantity, unit, workshop, line.typed_in),
            "Paid": money(line.amount),
        }
        if landed is not None:
            cost = landed.lines[place]
            cells |= shares(cost.postage_share, cost.discount_share, cost.tax_share)
            cells["Cost"] = money(cost.landed)
            cells["Each"] = unit_cost_text(cost.unit_cost, unit, workshop)
        packs = format_number(line.packs_bought, workshop.locale, 3)
        detail = [f"{packs} × {line.pack.name}"] if line.pack else []
        detail += [f"lot {line.lot}"] if line.lot else []
        written = tuple(LineCell(label, text) for label, text in cells.items())
        name = line.material.name
        rows.append(LineRow(line.pk, line.material_id, name, ", ".join(detail), written))
    totals: dict[str, str] = {}
    if landed is not None:
        totals = {
            "Bought": "",
            "Paid": money(landed.goods),
            **shares(landed.postage, landed.discount, landed.tax),
            "Cost": money(landed.landed),
            "Each": "",
        }
    return ReceiptLines(
        headings=tuple(cell.label for cell in rows[0].cells) if rows else (),
        rows=tuple(rows),
        totals=tuple(LineCell(label, text) for label, text in totals.items()),
    )
