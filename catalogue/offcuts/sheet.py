"""Columns of the offcuts box as a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from catalogue.offcuts.models import OffcutQuerySet
from maker.documents.spreadsheet import Column, ColumnKind

OFFCUT_COLUMNS = (
    Column("Material", width=30),
    Column("Width mm", ColumnKind.NUMBER),
    Column("Height mm", ColumnKind.NUMBER),
    Column("In the box", ColumnKind.WHOLE),
    Column("Has an up side", width=14),
)


def offcut_rows(offcuts: OffcutQuerySet) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each size (one query)."""
    for row in offcuts.select_related("material").iterator(chunk_size=2000):
        yield (
            row.material.name,
            row.width_mm,
            row.height_mm,
            row.count,
            "yes" if row.material.is_directional else "no",
        )
