"""The only door to pandas and openpyxl: columns and rows in, CSV or XLSX bytes out, and back.

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
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from typing import Any

from maker.calc.refusal import Refusal

# What a spreadsheet may hold: a million rows; we stop far before, where a browser still waits.
MOST_ROWS_WRITTEN = 100_000
CSV_TYPE = "text/csv; charset=utf-8"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

# Signs that begin a formula, also in full width; a tab or line break before them is skipped by some
# spreadsheets. Source: OWASP, "CSV Injection" (=, +, -, @, tab, carriage return); the full-width
# forms and blanks are ours, to be on the safe side.
_FORMULA = re.compile(r"'*(?:[\t\r\n]|\s*[=+\-@＝＋－＠])")
_ESCAPED = re.compile(r"'+(?:[\t\r\n]|\s*[=+\-@＝＋－＠])")
# XML 1.0 section 2.2 knows no other control characters, nor halves of a pair, nor the last two.
_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
# ECMA-376 part 1, 22.4.2.4 writes a sign as _xHHHH_; a text that looks so must say it is none.
_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")


class Kind(Enum):
    """What the cells of a column hold."""

    TEXT = "text"
    NUMBER = "number"
    MONEY = "money"
    WHOLE = "whole number"
    DATE = "day"


# characters that usually fit
_WIDTHS = {Kind.TEXT: 24, Kind.NUMBER: 12, Kind.MONEY: 13, Kind.WHOLE: 8, Kind.DATE: 12}


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, what is in it; `decimals` for money, `width` in characters."""

    name: str
    kind: Kind = Kind.TEXT
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
    if column.kind in (Kind.TEXT, Kind.DATE):
        return _csv_text(str(value))
    return plain_number(Decimal(value), column.decimals if column.kind is Kind.MONEY else 0)


def _csv_text(text: str) -> str:
    text = text.replace("\0", " ")
    return f"'{text}" if _FORMULA.match(text) else text


def plain_number(value: Decimal, decimals: int = 0) -> str:
    """Write a number with a point, at least so many decimals, and no needless zeros after them."""
    text = f"{value:f}"
    whole, _, rest = text.partition(".")
    rest = rest.rstrip("0").ljust(decimals, "0")
    return f"{whole}.{rest}" if rest else whole


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
            vertical="top", horizontal=None if column.kind is Kind.TEXT else "right"
        )
        heading.append(cell)
        # one cell for the whole column: a row is written at once, and a style is slow to set
        cells.append(WriteOnlyCell(sheet))
        cells[-1].number_format = _number_format(column)
    sheet.append(heading)
    for row in _limited(rows):
        sheet.append(
            [_xlsx_cell(*three) for three in zip(cells, columns, row, strict=True)],
        )
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _number_format(column: Column) -> str:
    if column.kind is Kind.MONEY:
        return "0." + "0" * column.decimals if column.decimals else "0"
    return {Kind.TEXT: "@", Kind.DATE: "yyyy-mm-dd", Kind.WHOLE: "0"}.get(column.kind, "General")


def _xlsx_cell(cell: Any, column: Column, value: Any) -> Any:
    if value is None or value == "":
        return None
    if isinstance(value, datetime.datetime):
        value = value.date()
    if column.kind is Kind.TEXT and not isinstance(value, str):
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
                f"That is more than {MOST_ROWS_WRITTEN} rows. Narrow the list and take it in parts."
            )
        yield row


# -- reading ---------------------------------------------------------------------------------

MOST_BYTES = 5 * 1024 * 1024
# a workbook is packed: what it may unpack to, so that a small file cannot fill the memory
MOST_UNPACKED = 30 * 1024 * 1024
MOST_ROWS_READ = 3_000
MOST_COLUMNS = 100
MOST_CELL = 20_000

SEPARATORS = (",", ";", "\t", "|")
# Guessing among one-byte letters goes wrong in silence, so a file is UTF-8 or, failing that, what
# spreadsheets on western systems write; anything else she chooses.
ENCODINGS = ("utf-8", "cp1252", "cp1250", "iso8859-15", "mac_roman")
_MARKS = (("utf-8-sig", b"\xef\xbb\xbf"), ("utf-16", b"\xff\xfe"), ("utf-16", b"\xfe\xff"))


class UnreadableFile(Refusal):
    """This file is no table, or one too large."""


@dataclass(frozen=True, slots=True)
class Table:
    """What a file says: headings, and rows of text as wide as the headings.

    `numbers` are the rows as a spreadsheet counts them; empty rows are left out.
    """

    heading: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...]


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
    if data.startswith(b"PK\x03\x04"):
        grid = _read_xlsx(data)
    elif data.startswith(b"\xd0\xcf\x11\xe0"):
        raise UnreadableFile("This is a workbook of the old kind (XLS). Save it as XLSX or CSV.")
    else:
        grid = [[_csv_meant(cell) for cell in row] for row in _read_csv(data, encoding, separator)]
    return _as_table(grid)


def _as_table(grid: list[list[str]]) -> Table:
    filled = [(number, row) for number, row in enumerate(grid, 1) if any(row)]
    if not filled:
        raise UnreadableFile("There is nothing in the file.")
    if len(filled) - 1 > MOST_ROWS_READ:
        raise UnreadableFile(f"There are more than {MOST_ROWS_READ} rows. Split the file.")
    heading = tuple(" ".join(cell.split()) for cell in filled[0][1])
    width = max((place for place, name in enumerate(heading, 1) if name), default=0)
    if width > MOST_COLUMNS:
        raise UnreadableFile(f"There are more than {MOST_COLUMNS} columns.")
    for number, row in filled:
        if any(len(cell) > MOST_CELL for cell in row):
            raise UnreadableFile(f"A cell in row {number} is longer than {MOST_CELL} characters.")
        if any(row[width:]):
            raise UnreadableFile(f"A cell in row {number} stands under no heading.")
    rows = [(*row[:width], *[""] * (width - len(row))) for _, row in filled[1:]]
    return Table(heading[:width], tuple(rows), tuple(number for number, _ in filled[1:]))


def _decoded(data: bytes, encoding: str) -> str:
    for name, mark in _MARKS:
        if data.startswith(mark):
            encoding = name
    try:
        for wanted in [encoding] if encoding else ENCODINGS[:2]:
            try:
                text = data.decode(wanted)
                break
            except UnicodeDecodeError:
                if wanted != "utf-8" or encoding:
                    raise
    except UnicodeDecodeError:
        raise UnreadableFile(
            "The letters of this file cannot be read. Choose how they are written, or save it as "
            "CSV in UTF-8 or as XLSX."
        ) from None
    if "\0" in text:
        raise UnreadableFile("This is neither CSV nor XLSX.")
    return text


def _read_csv(data: bytes, encoding: str, separator: str) -> list[list[str]]:
    import pandas

    text = _decoded(data, encoding)
    first = text.lstrip("\r\n").split("\n", 1)[0]
    # the heading says what parts the columns: the sign that makes most of them
    separator = separator or max(SEPARATORS, key=first.count)
    most = max(
        # a line break inside a cell makes this count too many lines, never too few signs
        (line.count(separator) for line in text.splitlines()[: MOST_ROWS_READ * 2]),
        default=0,
    )
    if most > MOST_CELL:
        raise UnreadableFile(f"There are more than {MOST_COLUMNS} columns.")
    try:
        frame = pandas.read_csv(
            io.StringIO(text, newline=""),
            sep=separator,
            header=None,
            names=list(range(most + 1)),
            index_col=False,
            dtype=str,
            keep_default_na=False,
            na_filter=False,
            skip_blank_lines=False,
            nrows=MOST_ROWS_READ * 2,
        )
    except (pandas.errors.ParserError, ValueError, csv.Error) as problem:
        raise UnreadableFile(
            "The file cannot be read as CSV: a quotation mark is not closed, perhaps."
        ) from problem
    return [
        [cell if isinstance(cell, str) else "" for cell in row]
        for row in frame.itertuples(index=False, name=None)
    ]


def _csv_meant(cell: str) -> str:
    """Return the text a cell of CSV stands for: without the apostrophe that guards it."""
    return cell[1:] if _ESCAPED.match(cell) else cell


def _read_xlsx(data: bytes) -> list[list[str]]:
    import zipfile
    from xml.etree.ElementTree import ParseError

    import pandas
    from defusedxml.common import DefusedXmlException

    not_one = UnreadableFile("This is no XLSX workbook, or it is damaged.")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
            if sum(part.file_size for part in parts) > MOST_UNPACKED:
                raise UnreadableFile("The workbook unpacks to more than we can read. Split it.")
            if "xl/workbook.xml" not in packed.namelist():
                raise not_one
        frame = pandas.read_excel(
            io.BytesIO(data),
            engine="openpyxl",
            header=None,
            dtype=object,
            keep_default_na=False,
            na_filter=False,
            nrows=MOST_ROWS_READ * 2,
        )
    except (
        zipfile.BadZipFile,
        DefusedXmlException,
        ParseError,
        KeyError,
        ValueError,
        TypeError,
        IndexError,
        EOFError,
        NotImplementedError,
    ) as problem:
        # what openpyxl raises for a workbook that is none, or whose parts do not fit
        raise not_one from problem
    return [[_as_text(cell) for cell in row] for row in frame.itertuples(index=False, name=None)]


def _as_text(value: Any) -> str:
    if isinstance(value, str):
        # openpyxl leaves the signs that are written as _xHHHH_; these two come from spreadsheets
        return value.replace("_x000D_", "\r").replace("_x005F_", "_").replace("\r\n", "\n")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else str(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        # a spreadsheet keeps 15 digits; the 16th and 17th are how it counts in twos
        return "#N/A" if math.isnan(value) else f"{Decimal(f'{value:.15g}'):f}"
    return "" if value is None else str(value)
