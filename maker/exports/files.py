"""Rows written as CSV or XLSX, by the format an address asks for."""

from collections.abc import Iterable, Sequence
from typing import Any

from maker.documents.spreadsheet import CSV_TYPE, XLSX_TYPE, Column, write_csv, write_xlsx
from maker.slow_work.doing import File

FORMATS = ("csv", "xlsx")


def written(
    form: str, *, name: str, title: str, columns: Sequence[Column], rows: Iterable[Any]
) -> File:
    """Return the file; the sheet of an XLSX is called `title`. Errors: TooManyRows."""
    if form == "csv":
        return File(f"{name}.csv", CSV_TYPE, write_csv(columns, rows))
    return File(f"{name}.xlsx", XLSX_TYPE, write_xlsx(columns, rows, title=title))
