"""Columns of a material's stock movements as a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from catalogue.materials.models import Material
from catalogue.stock.models import StockEntryQuerySet
from maker.calc.amounts import unit_word
from maker.calc.money import minor_digits
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop


def ledger_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, money with the decimals of the workshop's currency."""
    digits = minor_digits(workshop.currency)
    return (
        Column("Day", ColumnKind.DATE),
        Column("What"),
        Column("Change", ColumnKind.NUMBER),
        Column("Counted in", width=12),
        Column("Unit cost", ColumnKind.NUMBER),
        Column("On hand after", ColumnKind.NUMBER),
        Column("Worth after", ColumnKind.MONEY, digits),
        Column("Counts", width=8),
        Column("Reason", width=40),
        Column("Receipt", ColumnKind.WHOLE),
    )


def ledger_rows(entries: StockEntryQuerySet, material: Material) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each movement, the first one first (one query)."""
    unit = unit_word(material.unit)
    for entry in entries.for_ledger().in_ledger_order().iterator(chunk_size=2000):
        line = entry.purchase_line
        yield (
            entry.moved_on,
            entry.get_kind_display(),
            entry.change,
            unit,
            entry.unit_cost,
            entry.balance,
            entry.balance_value,
            "yes" if entry.counts else "no",  # type: ignore[attr-defined]  # annotated
            entry.reason,
            line.purchase_id if line else None,
        )
