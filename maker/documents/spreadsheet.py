"""Columns and rows in, CSV or XLSX bytes out, and back.

CSV is written one way everywhere: UTF-8 with a byte order mark (without it common spreadsheets take
a file for the system's old one-byte letters), commas, decimal points, days like 2026-03-31. XLSX
carries numbers and days as such, so it opens right whatever the language of the spreadsheet.

Nothing a person typed can become a formula. In XLSX a text is stored as text. CSV has no types: a
text that a spreadsheet could take for a formula gets an apostrophe before it, and one that begins
with such an apostrophe gets another, so that reading takes exactly one away.
"""

import csv
import datetime
import io
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from pathlib import Path
from typing import IO, Any

from maker.calc.refusal import Refusal
from maker.calc.sums import plain_text
from maker.documents.csv_file import fill_from_csv
from maker.documents.grid import MOST_BYTES, Grid, Table, UnreadableFile
from maker.documents.scratch import scratch_file
from maker.documents.xlsx_file import fill_from_xlsx

# What a spreadsheet may hold: a million rows; we stop far before, where a browser still waits.
MOST_ROWS_WRITTEN = 100_000
CSV_TYPE = "text/csv; charset=utf-8"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

# Signs that begin a formula, also in full width; a tab or line break before them is skipped by some
# spreadsheets. Source: OWASP, "CSV Injection" (=, +, -, @, tab, carriage return); the full-width
# forms and blanks are ours, to be on the safe side.
_FORMULA = re.compile(r"'*(?:[\t\r\n]|\s*[=+\-@＝＋－＠])")
# XML 1.0 section 2.2 knows no other control characters, nor halves of a pair, nor the last two.
_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
# ECMA-376 part 1, 22.4.2.4 writes a sign as _xHHHH_; a text that looks so must say it is none.
_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")


class ColumnKind(Enum):
    """What the cells of a column hold."""

    TEXT = "text"
    NUMBER = "number"
    MONEY = "money"
    WHOLE = "whole number"
    DATE = "day"


# characters that usually fit
_WIDTHS = {
    ColumnKind.TEXT: 24,
    ColumnKind.NUMBER: 12,
    ColumnKind.MONEY: 13,
    ColumnKind.WHOLE: 8,
    ColumnKind.DATE: 12,
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, what is in it; `decimals` for money, `width` in characters."""

    name: str
    kind: ColumnKind = ColumnKind.TEXT
    decimals: int = 2
    width: int = 0


class TooManyRows(Refusal):
    """More rows than a file takes."""


Row = Sequence[Any]


def write_csv(columns: Sequence[Column], rows: Iterable[Row]) -> bytes:
    """Return a CSV file. Errors: TooManyRows."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([_csv_text(column.name) for column in columns])
    for row in _limited(rows):
        writer.writerow(
            [_csv_cell(column, value) for column, value in zip(columns, row, strict=True)]
        )
    return out.getvalue().encode("utf-8-sig", errors="replace")


def _csv_cell(column: Column, value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime.date):
        return value.isoformat()[:10]
    if column.kind in (ColumnKind.TEXT, ColumnKind.DATE):
        return _csv_text(str(value))
    return plain_text(Decimal(value), column.decimals if column.kind is ColumnKind.MONEY else 0)


def _csv_text(text: str) -> str:
    text = text.replace("\0", " ")
    return f"'{text}" if _FORMULA.match(text) else text


def write_xlsx(columns: Sequence[Column], rows: Iterable[Row], *, title: str) -> bytes:
    """Return an XLSX file with one sheet, its heading row frozen. Errors: TooManyRows."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    book = Workbook(write_only=True)
    sheet = book.create_sheet(re.sub(r"[\\/*?:\[\]]", " ", title)[:31])
    sheet.freeze_panes = "A2"
    cells = []
    heading = []
    for number, column in enumerate(columns, 1):
        width = column.width or max(_WIDTHS[column.kind], len(column.name) + 2)
        sheet.column_dimensions[get_column_letter(number)].width = width
        cell = WriteOnlyCell(sheet, column.name)
        cell.font = Font(bold=True)
        cell.alignment = Alignment(
            vertical="top", horizontal=None if column.kind is ColumnKind.TEXT else "right"
        )
        heading.append(cell)
        # one cell for the whole column: a row is written at once, and a style is slow to set
        cells.append(WriteOnlyCell(sheet))
        cells[-1].number_format = _number_format(column)
    out = io.BytesIO()
    with _through_scratch_file(sheet) as finish:
        sheet.append(heading)
        for row in _limited(rows):
            sheet.append(
                [_xlsx_cell(*three) for three in zip(cells, columns, row, strict=True)],
            )
        finish()
        book.save(out)
    return out.getvalue()


class _Sink:
    """Takes what lxml writes, and keeps what the disk says: lxml would not tell that it is full."""

    def __init__(self, file: IO[bytes]) -> None:
        self.file = file
        self.error: OSError | None = None

    def write(self, data: bytes) -> int:
        if self.error is None:
            try:
                self.file.write(data)
            except OSError as error:
                self.error = error
        return len(data)

    def close(self) -> None:
        """Write the last of it. Errors: OSError, also of what was written before."""
        if self.error:
            raise self.error
        self.file.close()


@contextmanager
def _through_scratch_file(sheet: Any) -> Iterator[Callable[[], None]]:
    """Write a sheet as openpyxl does, but through a file of ours; one given up leaves none.

    Yields what is to be called after the last row.
    """
    from openpyxl.worksheet import _writer as sheet_writer

    path = scratch_file()
    sheet_writer.ALL_TEMP_FILES.append(path)
    try:
        with Path(path).open("wb", buffering=1 << 16) as file:
            sink: Any = _Sink(file)
            writer = sheet._writer = sheet_writer.WorksheetWriter(sheet, out=sink)
            writer.write_top()

            def finish() -> None:
                sheet.close()
                sink.close()
                # where the workbook takes it from
                writer.out = path

            try:
                yield finish
            finally:
                if not sheet.closed:
                    sheet.close()
    finally:
        if path in sheet_writer.ALL_TEMP_FILES:
            sheet_writer.ALL_TEMP_FILES.remove(path)
            Path(path).unlink()


def _number_format(column: Column) -> str:
    if column.kind is ColumnKind.MONEY:
        return "0." + "0" * column.decimals if column.decimals else "0"
    return {ColumnKind.TEXT: "@", ColumnKind.DATE: "yyyy-mm-dd", ColumnKind.WHOLE: "0"}.get(
        column.kind, "General"
    )


def _xlsx_cell(cell: Any, column: Column, value: Any) -> Any:
    if value is None or value == "":
        return None
    if isinstance(value, datetime.datetime):
        value = value.date()
    if column.kind is ColumnKind.TEXT and not isinstance(value, str):
        value = str(value)
    if isinstance(value, str):
        text = _NOT_IN_XML.sub(" ", value.replace("\r\n", "\n").replace("\r", "\n"))
        cell.value = _LOOKS_ESCAPED.sub("_x005F_", text)
        # openpyxl makes a formula of "=…" and an error of "#N/A" otherwise
        cell.data_type = "s"
    else:
        cell.value = value
    return cell


def _limited(rows: Iterable[Row]) -> Iterator[Row]:
    for number, row in enumerate(rows):
        if number >= MOST_ROWS_WRITTEN:
            raise TooManyRows(
                f"That is more than {MOST_ROWS_WRITTEN} rows. Filter the list and export it "
                "in parts."
            )
        yield row


# -- reading ---------------------------------------------------------------------------------


def read_table(data: bytes, *, encoding: str = "", separator: str = "") -> Table:
    """Read a CSV or XLSX file, told apart by what is in it and not by its name.

    Everything comes as text, exactly as it stands; numbers and days of a workbook as a number with
    a point and as 2026-03-31. Nothing is guessed from the looks of a cell. `encoding` and
    `separator` are found out when empty (CSV only). Errors: UnreadableFile.
    """
    if len(data) > MOST_BYTES:
        raise UnreadableFile(f"The file is larger than {MOST_BYTES // 1024**2} MB. Split it.")
    if not data.strip():
        raise UnreadableFile("The file is empty.")
    grid = Grid()
    if data.startswith(b"PK\x03\x04"):
        fill_from_xlsx(grid, data)
    elif data.startswith(b"\xd0\xcf\x11\xe0"):
        raise UnreadableFile("This is an old XLS workbook. Save it as XLSX or CSV.")
    else:
        fill_from_csv(grid, data, encoding, separator)
    return grid.table()
