"""Columns of the designs as a spreadsheet."""

from collections.abc import Iterator
from typing import Any

from catalogue.designs.models import DesignQuerySet
from maker.documents.spreadsheet import Column, ColumnKind

DESIGN_COLUMNS = (
    Column("Name", width=32),
    Column("Code", width=14),
    Column("Version", ColumnKind.WHOLE),
    Column("Pieces", ColumnKind.WHOLE),
    Column("Steps", ColumnKind.WHOLE),
    Column("Description", width=48),
    Column("Care note"),
    Column("Caution", width=32),
    Column("Archived", ColumnKind.DATE),
)


def design_rows(designs: DesignQuerySet) -> Iterator[tuple[Any, ...]]:
    """Yield a row for each design, by name, with what is in its newest recipe (one query)."""
    for design in designs.with_versions().by_name():
        row: Any = design
        yield (
            row.name,
            row.code,
            row.newest,
            row.piece_count,
            row.step_count,
            row.description,
            row.care_line,
            row.caution,
            row.retired_on,
        )
