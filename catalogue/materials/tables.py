"""Columns of the list of materials, and of the ledger and receipts of one."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.db.models import F
from django.urls import reverse
from django.utils.html import format_html

from catalogue.calc.sheets.paper import sheet_weight_g
from catalogue.materials.inputs import packs_of, price_per_unit, unit_cost_of
from catalogue.materials.models import Material
from catalogue.materials.swatches import swatch
from maker.calc.amounts import stock_unit, unit_cost_in
from maker.calc.money import format_money
from maker.calc.units import format_length
from maker.web.lists import NUMBER, DayColumn, ListTable, PartColumn, RowLink, on_phone
from maker.web.words import amount_text, unit_cost_text
from maker.workshop.models import Workshop

KEPT_COST = {
    Workshop.Valuation.AVERAGE: "average_cost",
    Workshop.Valuation.FIFO: "fifo_cost",
    Workshop.Valuation.LATEST: "latest_cost",
}


def size_of(material: Material, workshop: Workshop) -> str:
    """Write the size of a sheet, `12 × 12 in`; empty for anything else."""
    if material.width_mm is None or material.height_mm is None:
        return ""
    width, height = (
        format_length(side, workshop.unit, workshop.locale)
        for side in (material.width_mm, material.height_mm)
    )
    return f"{width.rsplit(' ', 1)[0]} × {height}"


def sheet_weight_of(material: Material) -> Decimal | None:
    """Return what one sheet weighs in grams, to a tenth; None when that is not known."""
    if not (material.width_mm and material.height_mm and material.grammage):
        return None
    weight = sheet_weight_g(material.width_mm, material.height_mm, material.grammage)
    return weight.quantize(Decimal("0.1"))


@dataclass(frozen=True, slots=True)
class StockFigure:
    """One figure of the material's page, as `components/figures.html` shows it."""

    label: str
    value_text: str
    unit: str = ""
    note: str = ""
    main: bool = False


def figures_of(material: Material, workshop: Workshop) -> list[StockFigure]:
    """Return what is on the shelf and the cost by each method, the workshop's own marked."""

    def written(value: Decimal | None) -> str:
        if value is None:
            return "–"
        value, _ = unit_cost_in(value, material.unit, workshop.unit)
        return format_money(value, workshop.currency, workshop.locale, extra_digits=2)

    per = stock_unit(material.unit, workshop.unit)
    level = material.reorder_level
    level_text = amount_text(level, material.unit, workshop, material.reorder_typed_in)
    low = bool(level) and material.on_hand < level
    on_hand, counted_in = amount_text(material.on_hand, material.unit, workshop).rsplit(" ", 1)
    figures = [
        StockFigure(
            "In stock",
            on_hand,
            counted_in,
            note=f"low: below {level_text}" if low else "",
        ),
        StockFigure(
            "Value", format_money(material.stock_value, workshop.currency, workshop.locale)
        ),
    ]
    names = (
        (Workshop.Valuation.AVERAGE, "Average", material.average_cost),
        (Workshop.Valuation.FIFO, "First in, first out", material.fifo_cost),
        (Workshop.Valuation.LATEST, "Latest", material.latest_cost),
    )
    used = unit_cost_of(material, workshop.valuation)
    if used and used.source and used.source[0] == "pack":
        note = "nothing bought yet, so the cheapest pack is used"
        return [
            *figures,
            StockFigure("List price", written(used.value), f"/ {per}", note, True),
        ]
    for method, label, value in names:
        is_used = method == workshop.valuation
        note = "used in your costs" if is_used else ""
        figures.append(StockFigure(label, written(value), f"/ {per}", note, is_used))
    return figures


@dataclass(frozen=True, slots=True)
class OfferRow:
    """A pack as the page shows it."""

    name: str
    holds: str
    price: str
    per_unit: str
    supplier: str
    is_cheapest: bool


def offers_of(material: Material, workshop: Workshop) -> list[OfferRow]:
    """Return the packs on offer with what one unit costs in each; no query when loaded."""
    packs = packs_of(material)
    prices = [price for pack in packs if (price := price_per_unit(pack)) is not None]
    cheapest = min(prices) if len(prices) > 1 else None
    rows = []
    for pack in packs:
        price, supplier = price_per_unit(pack), pack.supplier or material.supplier
        rows.append(
            OfferRow(
                name=pack.name,
                holds=amount_text(pack.quantity, material.unit, workshop, pack.typed_in),
                price="–"
                if pack.price is None
                else format_money(pack.price, workshop.currency, workshop.locale),
                per_unit="–" if price is None else unit_cost_text(price, material.unit, workshop),
                supplier=supplier.name if supplier else "–",
                is_cheapest=price is not None and price == cheapest,
            )
        )
    return rows


class MaterialTable(ListTable):
    """Materials with what is on the shelf and what one unit costs."""

    row_page = "catalogue:material"

    name = RowLink()
    category = tables.Column(attrs=on_phone("under"))
    on_hand = tables.Column(verbose_name="In stock", attrs=on_phone("beside", NUMBER))
    unit_cost = tables.Column(
        verbose_name="Unit cost", empty_values=(), attrs=on_phone("under", NUMBER)
    )
    stock_value = tables.Column(verbose_name="Value", attrs=on_phone("on-its-page", NUMBER))
    supplier = tables.Column(
        accessor="supplier__name", verbose_name="Supplier", attrs=on_phone("on-its-page")
    )

    class Meta:
        model = Material
        fields = ("name", "category", "on_hand", "unit_cost", "stock_value", "supplier")
        order_by = ("name",)
        attrs = {"aria_label": "Materials"}

    def render_name(self, value: str, record: Material) -> str:
        """Write the name after a swatch, with the size of a sheet; say when it was put away."""
        parts = (value, size_of(record, self.workshop), "archived" if record.retired_on else "")
        return format_html(
            "{}{}", swatch(record, self.workshop), ", ".join(part for part in parts if part)
        )

    def render_on_hand(self, value: Decimal, record: Material) -> Any:
        """Write what is on the shelf, and say when that is too little."""
        text = self.amount(value, record.unit)
        if record.reorder_level and value < record.reorder_level:
            return format_html(
                '<span class="badge alarm">low</span> {}',
                text.replace(" ", "\N{NO-BREAK SPACE}"),
            )
        return text

    def render_stock_value(self, value: Decimal) -> str:
        """Write what the stock is worth."""
        return self.money(value)

    def render_unit_cost(self, record: Material) -> Any:
        """Write what one unit costs, and say when that is only a list price."""
        cost = unit_cost_of(record, self.workshop.valuation)
        if cost is None:
            return "–"
        text = unit_cost_text(cost.value, record.unit, self.workshop)
        if cost.source and cost.source[0] == "pack":
            return format_html('{} <span class="soft">list</span>', text)
        return text

    def order_unit_cost(self, queryset: Any, is_descending: bool) -> Any:
        """Sort by the cost kept from the ledger; those never bought come last."""
        cost = F(KEPT_COST[Workshop.Valuation(self.workshop.valuation)])
        order = cost.desc(nulls_last=True) if is_descending else cost.asc(nulls_last=True)
        return queryset.order_by(order), True


class LedgerTable(ListTable):
    """The movements of one material, the last first."""

    moved_on = DayColumn(verbose_name="Date")
    kind = tables.Column(verbose_name="Movement")
    change = tables.Column(attrs=NUMBER)
    unit_cost = tables.Column(verbose_name="Unit cost", attrs=NUMBER)
    balance = tables.Column(verbose_name="In stock after", attrs=NUMBER, orderable=False)
    balance_value = tables.Column(verbose_name="Value after", attrs=NUMBER, orderable=False)
    back = PartColumn("catalogue/materials/_take_back.html", verbose_name="Undo")

    class Meta:
        fields = ("moved_on", "kind", "change", "unit_cost", "balance", "balance_value", "back")
        order_by = ("-moved_on",)
        prefix = "stock-"
        attrs = {"aria_label": "Stock movements"}

    def __init__(self, *args: Any, material: Material, **options: Any) -> None:
        self.material = material
        super().__init__(*args, **options)

    def render_kind(self, record: Any) -> Any:
        """Write the kind, lot and reason, and the receipt behind goods that were bought."""
        words = record.get_kind_display()
        if record.counted is not None:
            words = self._count_words(record)
        if record.purchase_line_id:
            address = reverse(
                "catalogue:purchase",
                args=[self.workshop.slug, record.purchase_line.purchase_id],
            )
            words = format_html('<a href="{}">{}</a>', address, words)
        told = ", ".join(
            part
            for part in (f"lot {record.of_lot}" if record.of_lot else "", record.reason)
            if part
        )
        reason = format_html(' <span class="soft">{}</span>', told) if told else ""
        undone = (
            ""
            if record.counts
            else format_html(' <span class="badge quiet">{}</span>', "does not count")
        )
        return format_html("{}{}{}", words, reason, undone)

    def _count_words(self, record: Any) -> str:
        """Say what was counted, and what was missing then if something came in before it since."""
        counted = self.amount(record.counted, self.material.unit, record.typed_in)
        words = f"counted: {counted}"
        if record.counts and record.change != record.change_at_count:
            words += f", then {self._signed(record.change_at_count)}; entered since before it: "
            words += self._signed(record.change_at_count - record.change)
        return words

    def _signed(self, value: Decimal, typed_in: str = "") -> str:
        sign = "+" if value > 0 else "−" if value else "±"
        return f"{sign}{amount_text(abs(value), self.material.unit, self.workshop, typed_in)}"

    def render_change(self, value: Decimal, record: Any) -> Any:
        """Write the change with its sign; struck out when it does not count any more."""
        # what a count found missing was not typed
        typed_in = "" if record.counted is not None else record.typed_in
        text = self._signed(value, typed_in)
        return text if record.counts else format_html("<del>{}</del>", text)

    def render_unit_cost(self, value: Decimal) -> str:
        """Write what one unit cost."""
        return unit_cost_text(value, self.material.unit, self.workshop)

    def render_balance(self, value: Decimal) -> str:
        """Write what was on the shelf after it."""
        return self.amount(value, self.material.unit)

    def render_balance_value(self, value: Decimal) -> str:
        """Write what that was worth."""
        return self.money(value)


class BoughtTable(ListTable):
    """The receipts that bought one material, the last first."""

    bought_on = DayColumn(
        accessor="purchase__bought_on",
        verbose_name="Date",
        linkify=lambda record, table: table.address(record),
    )
    supplier = tables.Column(accessor="purchase__supplier__name", verbose_name="Supplier")
    quantity = tables.Column(attrs=NUMBER)
    landed = tables.Column(verbose_name="Cost", attrs=NUMBER)
    unit_cost = tables.Column(verbose_name="Each", attrs=NUMBER)
    lot = tables.Column()

    class Meta:
        fields = ("bought_on", "supplier", "quantity", "landed", "unit_cost", "lot")
        order_by = ("-bought_on",)
        prefix = "bought-"
        attrs = {"aria_label": "Purchases"}

    def __init__(self, *args: Any, material: Material, **options: Any) -> None:
        self.material = material
        super().__init__(*args, **options)

    def address(self, record: Any) -> str:
        """Return the address of the receipt."""
        return reverse("catalogue:purchase", args=[self.workshop.slug, record.purchase_id])

    def render_quantity(self, value: Decimal, record: Any) -> str:
        """Write how much was bought."""
        return self.amount(value, self.material.unit, record.typed_in)

    def render_landed(self, value: Decimal) -> str:
        """Write what the line cost in all."""
        return self.money(value)

    def render_unit_cost(self, value: Decimal) -> str:
        """Write what one unit cost."""
        return unit_cost_text(value, self.material.unit, self.workshop)
