"""Columns of the suppliers as a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from catalogue.suppliers.models import SupplierQuerySet
from maker.calc.money import minor_digits
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop


def supplier_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, money with the decimals of the workshop's currency."""
    digits = minor_digits(workshop.currency)
    return (
        Column("Name", width=32),
        Column("Materials", ColumnKind.WHOLE),
        Column("Delivery time (days)", ColumnKind.WHOLE),
        Column("Give or take (days)", ColumnKind.WHOLE),
        Column("Postage", ColumnKind.MONEY, digits),
        Column("Free postage from", ColumnKind.MONEY, digits),
        Column("Website", width=32),
        Column("E-mail"),
        Column("Phone"),
        Column("Notes", width=40),
        Column("Archived", ColumnKind.DATE),
    )


def supplier_rows(suppliers: SupplierQuerySet) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each supplier, by name (one query)."""
    for supplier in suppliers.with_material_count().by_name():
        yield (
            supplier.name,
            supplier.material_count,  # type: ignore[attr-defined]  # annotated
            supplier.lead_days,
            supplier.lead_spread_days,
            supplier.carriage,
            supplier.carriage_free_from,
            supplier.website,
            supplier.email,
            supplier.phone,
            supplier.notes,
            supplier.retired_on,
        )
