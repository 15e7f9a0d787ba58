"""Columns of a material's stock movements as a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from catalogue.materials.models import Material
from catalogue.stock.models import StockEntryQuerySet
from maker.calc.amounts import stock_unit, told_amount, told_unit_cost, unit_word
from maker.calc.money import minor_digits
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop


def ledger_columns(material: Material, workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, which say what the amounts are counted in and what one of it cost.

    Money has the decimals of the workshop's currency.
    """
    unit = stock_unit(material.unit, workshop.unit)
    many = unit_word(unit)
    digits = minor_digits(workshop.currency)
    return (
        Column("Date", ColumnKind.DATE),
        Column("Movement"),
        Column(f"Change, {many}", ColumnKind.NUMBER),
        Column(f"Unit cost, {unit}", ColumnKind.NUMBER, width=16),
        Column(f"In stock after, {many}", ColumnKind.NUMBER, width=20),
        Column("Value after", ColumnKind.MONEY, digits),
        Column("Counts", width=8),
        Column("Lot", width=16),
        Column("Reason", width=40),
        Column("Receipt", ColumnKind.WHOLE),
    )


def ledger_rows(
    entries: StockEntryQuerySet, material: Material, workshop: Workshop
) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each movement, the first one first (one query)."""
    unit, lengths = material.unit, workshop.unit
    for entry in entries.for_ledger().in_ledger_order().iterator(chunk_size=2000):
        line = entry.purchase_line
        yield (
            entry.moved_on,
            entry.get_kind_display(),
            told_amount(entry.change, unit, lengths),
            None if entry.unit_cost is None else told_unit_cost(entry.unit_cost, unit, lengths),
            told_amount(entry.balance, unit, lengths),
            entry.balance_value,
            "yes" if entry.counts else "no",  # type: ignore[attr-defined]  # annotated
            entry.of_lot,
            entry.reason,
            line.purchase_id if line else None,
        )
