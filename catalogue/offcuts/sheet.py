"""Columns of the offcuts box as a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from catalogue.offcuts.models import OffcutQuerySet
from maker.calc.units import length_number
from maker.documents.spreadsheet import Column, ColumnKind
from maker.workshop.models import Workshop


def offcut_columns(workshop: Workshop) -> tuple[Column, ...]:
    """Return the columns, sizes in the workshop's unit."""
    return (
        Column("Material", width=30),
        Column(f"Width, {workshop.unit}", ColumnKind.NUMBER),
        Column(f"Height, {workshop.unit}", ColumnKind.NUMBER),
        Column("In stock", ColumnKind.WHOLE),
        Column("Directional pattern", width=14),
    )


def offcut_rows(offcuts: OffcutQuerySet, workshop: Workshop) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each size (one query)."""
    for row in offcuts.select_related("material").iterator(chunk_size=2000):
        yield (
            row.material.name,
            length_number(row.width_mm, workshop.unit),
            length_number(row.height_mm, workshop.unit),
            row.count,
            "yes" if row.material.is_directional else "no",
        )
