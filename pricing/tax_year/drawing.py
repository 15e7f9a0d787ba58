"""A tax year in words and figures."""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from catalogue.expenses.models import Expense
from catalogue.materials.models import Material
from catalogue.suppliers.models import Supplier
from maker.calc.units import format_percent
from maker.web.words import amount_text
from maker.workshop.models import Workshop
from pricing.calc.finished_stock.would_fetch import MadeValue
from pricing.calc.spending.tax_year import TaxYear
from pricing.spending.drawing import SpendCell, SpendRow, TableText, Text, reckoned_lines
from pricing.spending.owners import used_by_order
from pricing.tax_year.inputs import (
    FinishedStock,
    HalfMade,
    StockTotal,
    YearBooks,
    expenses_by_category,
    finished_stock,
    half_made,
    spent_by,
    stock_total,
)
from pricing.tax_year.raw_stock import RawStock

ZERO = Decimal(0)
MOST = 12


@dataclass(frozen=True, slots=True)
class StockText:
    """A material at the year's end as written."""

    material: Material
    quantity: str
    cost: str
    value: str
    written_down: str


def share_table(sums: Mapping[str, Decimal], names: Mapping[str, str], text: Text) -> TableText:
    """Write sums with their share, the first twelve each by itself."""
    total = sum(sums.values(), ZERO)
    shown = list(sums.items())[:MOST]
    rest = total - sum((amount for _, amount in shown), ZERO)
    rows = [*((names.get(key, key), amount) for key, amount in shown)]
    if rest:
        rows.append(("All others", rest))

    def cells(amount: Decimal) -> tuple[SpendCell, ...]:
        share = format_percent(amount / total, text.workshop.locale, 0) if total else "–"
        return SpendCell(text.money(amount)), SpendCell(share)

    return TableText(
        ("Amount", "Share"),
        tuple(SpendRow(name, "", cells(amount)) for name, amount in rows),
        (SpendCell(text.money(total)), SpendCell("")),
    )


def _names(rows: QuerySet[Any], sums: Mapping[str, Decimal]) -> dict[str, str]:
    """Return the names of those of a table that are shown by key (one query)."""
    shown = rows.filter(pk__in=[key for key in list(sums)[:MOST] if key.isdecimal()])
    return {str(key): name for key, name in shown.values_list("pk", "name")}


def supplier_table(workshop: Workshop, year: TaxYear) -> TableText:
    """Write what was paid to each supplier for supplies."""
    sums = spent_by(workshop, year, "purchase__supplier")
    return share_table(sums, _names(Supplier.objects.of(workshop), sums), Text(workshop))


def material_table(workshop: Workshop, year: TaxYear) -> TableText:
    """Write what was paid for each material."""
    sums = spent_by(workshop, year, "material")
    return share_table(sums, _names(Material.objects.of(workshop), sums), Text(workshop))


def order_table(workshop: Workshop, year: TaxYear) -> TableText:
    """Write what was used for each order, at cost."""
    return share_table(used_by_order(workshop, year.first, year.last), {}, Text(workshop))


def stock_text(row: RawStock, material: Material, text: Text) -> StockText:
    """Write a material at the year's end."""
    return StockText(
        material=material,
        quantity=amount_text(row.quantity, material.unit, text.workshop),
        cost=text.money(row.worth.cost),
        value=text.money(row.worth.value),
        written_down=text.money(row.worth.written_down) if row.worth.written_down else "–",
    )


@dataclass(frozen=True, slots=True)
class MadeText:
    """Finished or half-made items at the year's end as written."""

    name: str
    state: str
    quantity: int
    materials: str
    in_all: str
    would_fetch: str
    value: str
    written_down: str


def made_text(
    finished: Iterable[FinishedStock], half: Iterable[HalfMade], text: Text
) -> list[MadeText]:
    """Write what was finished or under way at the end of a day."""

    def row(name: str, state: str, quantity: int, made: MadeValue, in_all: str) -> MadeText:
        return MadeText(
            name=name,
            state=state,
            quantity=quantity,
            materials=text.money(made.materials),
            in_all=in_all,
            would_fetch="no price" if made.would_fetch is None else text.money(made.would_fetch),
            value=text.money(made.value),
            written_down=text.money(made.written_down) if made.written_down else "–",
        )

    return [
        *(
            row(one.name, "finished", one.quantity, one.made, text.money(one.worth.total))
            for one in finished
        ),
        *(row(one.name, "half-made", one.planned, one.made, "–") for one in half),
    ]


def stock_parts(total: StockTotal, text: Text) -> list[tuple[str, str]]:
    """Write what each part of stock is worth."""
    return [
        ("Materials", text.money(total.materials)),
        ("Half-made", text.money(total.half_made)),
        ("Finished", text.money(total.finished)),
    ]


def year_text(
    workshop: Workshop,
    year: TaxYear,
    books: YearBooks,
    stock: Sequence[RawStock],
    today: datetime.date,
) -> dict[str, Any]:
    """Return what the page shows."""
    text = Text(workshop)
    other = expenses_by_category(workshop, year)
    total = stock_total(stock, half_made(workshop, year.last), finished_stock(workshop, year.last))
    categories = {key: str(label) for key, label in Material.Category.choices}
    kinds = {key: str(label) for key, label in Expense.Category.choices}
    figures = [
        {"label": "Spent on supplies", "value_text": text.money(books.spent), "main": True},
        {"label": "Other expenses", "value_text": text.money(sum(other.values(), ZERO))},
        {"label": "Used", "value_text": text.money(books.moves.used), "note": "in what you made"},
        {
            "label": "Stock now" if year.holds(today) else "Stock at the end",
            "value_text": text.money(total.value),
            "note": "materials, half-made and finished",
        },
    ]
    return {
        "year": year,
        "is_running": year.holds(today),
        "figures": figures,
        "by_category": share_table(books.by_category, categories, text),
        "other": share_table(other, kinds, text) if other else None,
        "report": books,
        "lines": reckoned_lines(books.reconciliation, text),
        "stock_parts": stock_parts(total, text),
        "written_down": text.money(total.written_down),
    }
