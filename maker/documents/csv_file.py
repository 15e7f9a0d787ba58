"""Reads CSV as it comes out of other programs, cell by cell."""

import re
from collections.abc import Iterator

from maker.documents.grid import Grid, UnreadableFile

SEPARATORS = (",", ";", "\t", "|")
# Guessing among one-byte letters goes wrong in silence, so a file is UTF-8 or, failing that, what
# spreadsheets on western systems write; anything else she chooses.
ENCODINGS = ("utf-8", "cp1252", "cp1250", "iso8859-15", "mac_roman")
_MARKS = (("utf-8-sig", b"\xef\xbb\xbf"), ("utf-16", b"\xff\xfe"), ("utf-16", b"\xfe\xff"))
# what an export guards with an apostrophe, so that no spreadsheet takes it for a formula
_GUARDED = re.compile(r"'+(?:[\t\r\n]|\s*[=+\-@＝＋－＠])")


def fill_from_csv(grid: Grid, data: bytes, encoding: str, separator: str) -> None:
    """Hand every cell of the file to the grid. Errors: UnreadableFile."""
    text = _decoded(data, encoding)
    first = text.lstrip("\r\n").split("\n", 1)[0]
    # the heading says what parts the columns: the sign that makes most of them
    for row, column, cell in _cells(text, separator or max(SEPARATORS, key=first.count)):
        grid.add(row, column, cell[1:] if _GUARDED.match(cell) else cell)


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
            "This file's letters can't be read. Choose another encoding, or save it as CSV in "
            "UTF-8 or as XLSX."
        ) from None
    if "\0" in text:
        raise UnreadableFile("This isn't a CSV or XLSX file.")
    return text


def _cells(text: str, separator: str) -> Iterator[tuple[int, int, str]]:
    """Yield row, column and text of each cell, as RFC 4180 has it; rows and columns from 1.

    A quotation mark inside a cell that does not begin with one is a sign like any other (inches).
    """
    cell = re.compile(
        # atomic groups: a mark that is never closed costs one look at the rest, not many
        rf'(?:"(?P<quoted>(?>[^"]+|"")*+)"|(?P<plain>(?:[^"{re.escape(separator)}\r\n]'
        rf"[^{re.escape(separator)}\r\n]*+)?))(?P<end>{re.escape(separator)}|\r\n|\r|\n|\Z)"
    )
    place, row, column = 0, 1, 1
    while place < len(text):
        found = cell.match(text, place)
        if found is None:
            raise UnreadableFile(
                f"The file cannot be read as CSV: in row {row} a quotation mark is not closed,  "
                "or there is a single one inside a quoted cell."
            )
        quoted = found["quoted"]
        yield row, column, found["plain"] if quoted is None else quoted.replace('""', '"')
        place = found.end()
        if found["end"] == separator:
            column += 1
        else:
            row, column = row + 1, 1
