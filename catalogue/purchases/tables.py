"""Columns of the list of receipts, and the lines of one."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.utils.html import format_html

from catalogue.calc.supplies.foreign_receipts import exchange_difference
from catalogue.calc.supplies.unit_cost import LandedReceipt
from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.stock.models import StockEntry
from maker.calc.money import format_money
from maker.calc.units import format_number
from maker.web.lists import NUMBER, DayColumn, ListTable, on_phone
from maker.web.words import amount_text, unit_cost_text

ZERO = Decimal(0)
BADGE = {
    Purchase.State.DRAFT: "badge",
    Purchase.State.RECORDED: "badge good",
    Purchase.State.REVERSED: "badge quiet",
}


class PurchaseTable(ListTable):
    """Receipts with what was paid."""

    row_page = "catalogue:purchase"

    bought_on = DayColumn(
        verbose_name="Date",
        linkify=lambda record, table: table.address(record),
    )
    supplier = tables.Column(
        accessor="supplier__name", verbose_name="Supplier", attrs=on_phone("under")
    )
    reference = tables.Column(verbose_name="Number", attrs=on_phone("under"))
    line_count = tables.Column(verbose_name="Lines", attrs=on_phone("on-its-page", NUMBER))
    paid = tables.Column(verbose_name="Paid", attrs=on_phone("beside", NUMBER))
    state = tables.Column(verbose_name="State", attrs=on_phone("under"))

    class Meta:
        model = Purchase
        fields = ("bought_on", "supplier", "reference", "line_count", "paid", "state")
        order_by = ("-bought_on",)
        attrs = {"aria_label": "Receipts"}

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
    material: Material | None
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
    purchase: Purchase,
    lines: Sequence[PurchaseLine],
    expenses: Sequence[Expense],
    landed: LandedReceipt | None,
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
        detail = []
        if line.pack and line.comes_in_whole_packs:
            detail.append(f"{format_number(line.packs_bought, workshop.locale)} × {line.pack.name}")
        detail += [f"lot {line.lot}"] if line.lot else []
        for words, damaged in (
            ("credited", line.damaged_credited),
            ("scrapped", line.damaged_kept),
        ):
            if damaged:
                amount = amount_text(damaged, unit, workshop)
                detail.append(f"{amount} arrived damaged, {words}")
        written = tuple(LineCell(label, text) for label, text in cells.items())
        name = line.material.name
        rows.append(LineRow(line.pk, line.material, name, ", ".join(detail), written))
    for place, one in enumerate(expenses, len(lines)):
        cells = {"Bought": "", "Paid": money(one.amount or ZERO)}
        if landed is not None:
            cost = landed.lines[place]
            cells |= shares(cost.postage_share, cost.discount_share, cost.tax_share)
            cells |= {"Cost": money(cost.landed), "Each": ""}
        written = tuple(LineCell(label, text) for label, text in cells.items())
        category = str(Expense.Category(one.category).label)
        rows.append(LineRow(one.pk, None, one.what, f"{category}, not stock", written))
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


@dataclass(frozen=True, slots=True)
class LeftRow:
    """Goods of a receipt that went back or were scrapped as damaged."""

    entry: StockEntry
    amount: str
    refund: str
    lost: str


def goods_left(purchase: Purchase) -> list[LeftRow]:
    """Write what went back or was damaged, the first first (one query)."""
    workshop = purchase.workshop

    def money(value: Decimal | None) -> str:
        return "–" if value is None else format_money(value, workshop.currency, workshop.locale)

    entries = (
        StockEntry.objects.of_receipt(purchase)
        .standing()
        .filter(change__lt=0)
        .select_related("material")
    )
    rows = []
    for entry in entries:
        cost = entry.cost_out
        if cost is None:
            cost = None if entry.unit_cost is None else -entry.change * entry.unit_cost
        lost = None if cost is None else cost - (entry.refund or ZERO)
        amount = amount_text(-entry.change, entry.material.unit, workshop)
        rows.append(LeftRow(entry, amount, money(entry.refund), money(lost)))
    return rows


def foreign_words(
    purchase: Purchase,
    lines: Sequence[PurchaseLine],
    expenses: Sequence[Expense],
    landed: LandedReceipt | None,
) -> dict[str, str]:
    """Write what a receipt in another currency came to there, and what the bank took besides."""
    if not purchase.currency or purchase.rate is None or landed is None:
        return {}
    workshop = purchase.workshop
    amounts = [*(line.foreign_amount for line in lines), *(one.foreign_amount for one in expenses)]
    total = sum((amount or ZERO for amount in amounts), ZERO)
    total += (purchase.foreign_postage or ZERO) + (purchase.foreign_tax or ZERO)
    total -= purchase.foreign_discount or ZERO
    words = {
        "foreign_total": format_money(total, purchase.currency, workshop.locale),
        "rate_text": format_number(purchase.rate, workshop.locale, 8),
    }
    if purchase.charged is not None:
        more = exchange_difference(purchase.charged, landed.paid)
        sign = "+" if more > 0 else "−" if more < 0 else ""
        words["difference"] = sign + format_money(abs(more), workshop.currency, workshop.locale)
    return words
