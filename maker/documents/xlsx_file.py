"""Reads the first sheet of an XLSX workbook, cell by cell, in one pass through its parts.

Own reading instead of openpyxl's, because that makes rows as wide as the widest cell and loads
every part of the workbook before anything can be counted. The format is ECMA-376 part 1: workbook
18.2, worksheet 18.3, shared strings 18.4, styles 18.8; packages part 2.
"""

import datetime
import io
import math
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from decimal import Decimal
from posixpath import join, normpath
from typing import Any
from xml.parsers import expat

from maker.documents.grid import MOST_BYTES, Grid, UnreadableFile

MOST_PARTS = 2_000
# A workbook is packed, so that a small file can hold much: what all of it, and the parts that are
# read, may unpack to, and how many marks they may hold (a cell has two or three).
MOST_UNPACKED = 64 * 1024 * 1024
MOST_READ = 24 * 1024 * 1024
MOST_MARKS = 600_000
DEEPEST = 50
# Excel's own limit of cell formats is 65,490
MOST_STYLES = 65_536
_PACKED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_CHUNK = 64 * 1024
_REFERENCE = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})")
_NUMBER = re.compile(r"-?(\d{1,400}(\.\d{0,400})?|\.\d{1,400})([eE][+-]?\d{1,4})?")
_ESCAPED = re.compile(r"_x(000D|005F)_")


class _NotOne(UnreadableFile):
    """The file is packed, but it is not a workbook that holds together."""

    def __init__(self) -> None:
        super().__init__("This isn't an XLSX workbook, or it is damaged.")


def fill_from_xlsx(grid: Grid, data: bytes) -> None:
    """Hand every cell of the first sheet to the grid. Errors: UnreadableFile."""
    # each part has a record that begins so; counted before there is an object for each of them
    if data.count(b"PK\x01\x02") > MOST_PARTS:
        raise UnreadableFile("The workbook has too many parts to be read. Save it again.")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_UNPACKED:
                raise UnreadableFile("The workbook unpacks to more than we can read. Split it.")
            _Workbook(packed).read_into(grid)
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError) as problem:
        # RuntimeError: a password
        raise _NotOne from problem


class _Workbook:
    """The parts of a workbook that say what is in its first sheet."""

    def __init__(self, packed: zipfile.ZipFile) -> None:
        self.packed = packed
        self.left = MOST_READ
        self.marks = 0
        self.title = ""
        self.epoch = datetime.datetime(1899, 12, 30)  # noqa: DTZ001  # a spreadsheet knows no zones

    def read_into(self, grid: Grid) -> None:
        sheet, others = self._first_sheet()
        strings = self._strings(others.get("sharedStrings", ""))
        dates = self._date_styles(others.get("styles", ""))
        reader = _Sheet(grid, strings, dates, self.epoch)
        self._parse(sheet, reader.start, reader.end, reader.text)
        if not grid.cells_seen:
            raise UnreadableFile(f"There is nothing on the first sheet, “{self.title[:60]}”.")

    def _parse(
        self,
        name: str,
        start: Callable[[str, Mapping[str, str]], None],
        end: Callable[[str], None] | None = None,
        text: Callable[[str], None] | None = None,
    ) -> None:
        """Read a part in pieces, its marks without their prefixes. Errors: UnreadableFile."""

        depth = 0

        def started(mark: str, attributes: Mapping[str, str]) -> None:
            nonlocal depth
            depth += 1
            self.marks += 1
            if self.marks > MOST_MARKS or depth > DEEPEST:
                raise UnreadableFile("The workbook holds more than we can read. Split it.")
            start(mark.rpartition(":")[2], attributes)

        def ended(mark: str) -> None:
            nonlocal depth
            depth -= 1
            if end:
                end(mark.rpartition(":")[2])

        parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = _refuse_doctype
        parser.StartElementHandler = started
        parser.EndElementHandler = ended
        if text:
            parser.CharacterDataHandler = text
        try:
            with self._opened(name) as part:
                while piece := part.read(_CHUNK):
                    self.left -= len(piece)
                    if self.left < 0:
                        raise UnreadableFile(
                            "The workbook unpacks to more than we can read. Split it."
                        )
                    parser.Parse(piece)
                parser.Parse(b"", True)
        except expat.ExpatError as problem:
            raise _NotOne from problem

    @contextmanager
    def _opened(self, name: str) -> Iterator[Any]:
        try:
            info = self.packed.getinfo(name)
        except KeyError as problem:
            raise _NotOne from problem
        if info.compress_type not in _PACKED:
            raise _NotOne
        with self.packed.open(info) as part:
            yield part

    def _first_sheet(self) -> tuple[str, dict[str, str]]:
        """Return the name of the first sheet in sight, and of the other parts by their kind."""
        folder = "xl"
        targets: dict[str, tuple[str, str]] = {}
        sheets: list[tuple[bool, str, str]] = []

        def relation(mark: str, attributes: Mapping[str, str]) -> None:
            if mark == "Relationship" and attributes.get("TargetMode") != "External":
                kind = attributes.get("Type", "").rpartition("/")[2]
                target = normpath(join("/", folder, attributes.get("Target", ""))).lstrip("/")
                targets[attributes.get("Id", "")] = (kind, target)

        def workbook(mark: str, attributes: Mapping[str, str]) -> None:
            if mark == "workbookPr" and attributes.get("date1904") in ("1", "true"):
                self.epoch = datetime.datetime(1904, 1, 1)  # noqa: DTZ001  # see above
            elif mark == "sheet":
                key = next((v for k, v in attributes.items() if k.endswith(":id")), "")
                hidden = attributes.get("state", "visible") != "visible"
                sheets.append((hidden, key, attributes.get("name", "")))

        self._parse("xl/workbook.xml", workbook)
        self._parse("xl/_rels/workbook.xml.rels", relation)
        for _, key, title in sorted(sheets, key=lambda sheet: sheet[0]):
            kind, target = targets.get(key, ("", ""))
            if kind == "worksheet":
                self.title = title
                return target, dict(targets.values())
        raise _NotOne

    def _strings(self, name: str) -> list[str]:
        """Return the texts that cells point to; each once, however many point to it."""
        found: list[str] = []
        parts: list[str] = []
        marks: list[str] = []
        letters = 0

        def start(mark: str, attributes: Mapping[str, str]) -> None:
            marks.append(mark)

        def text(piece: str) -> None:
            nonlocal letters
            # a phonetic run says how to read the text out
            if marks and marks[-1] == "t" and "rPh" not in marks[-3:]:
                letters += len(piece)
                if letters > MOST_BYTES:
                    raise UnreadableFile("There is more text than we can read. Split the file.")
                parts.append(piece)

        def end(mark: str) -> None:
            marks.pop()
            if mark == "si":
                found.append(_meant("".join(parts)))
                parts.clear()

        if name:
            self._parse(name, start, end, text)
        return found

    def _date_styles(self, name: str) -> dict[int, bool]:
        """Return the styles of cells that show a day; true for those that show a span of time."""
        from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format, is_timedelta_format

        formats: dict[str, str] = {str(key): code for key, code in BUILTIN_FORMATS.items()}
        styles: list[str] = []
        marks: list[str] = []

        def start(mark: str, attributes: Mapping[str, str]) -> None:
            if mark == "numFmt":
                formats[attributes.get("numFmtId", "")] = attributes.get("formatCode", "")[:255]
            elif mark == "xf" and marks[-1:] == ["cellXfs"]:
                styles.append(attributes.get("numFmtId", "0"))
                if len(styles) > MOST_STYLES:
                    raise UnreadableFile("The workbook has more styles than can be read.")
            marks.append(mark)

        def end(mark: str) -> None:
            marks.pop()

        if name:
            self._parse(name, start, end)
        kinds = {
            key: is_timedelta_format(code)
            for key in set(styles)
            if (code := formats.get(key)) and is_date_format(code)
        }
        return {place: kinds[key] for place, key in enumerate(styles) if key in kinds}


class _Sheet:
    """Hears the marks of a sheet and hands over its cells; empty ones are not looked at."""

    def __init__(
        self, grid: Grid, strings: list[str], dates: dict[int, bool], epoch: datetime.datetime
    ) -> None:
        self.grid, self.strings, self.dates, self.epoch = grid, strings, dates, epoch
        self.row = self.column = 0
        self.kind = self.mark = ""
        self.style = 0
        self.parts: list[str] = []
        self.is_reading_aloud = False

    def start(self, mark: str, attributes: Mapping[str, str]) -> None:
        if mark == "row":
            number = int(attributes.get("r", self.row + 1))
            if number <= self.row:
                raise _NotOne
            self.row, self.column = number, 0
        elif mark == "c":
            self._start_cell(attributes)
        elif mark == "rPh":
            self.is_reading_aloud = True
        self.mark = mark

    def _start_cell(self, attributes: Mapping[str, str]) -> None:
        column = self.column + 1
        if reference := attributes.get("r"):
            found = _REFERENCE.fullmatch(reference)
            if not found or int(found[2]) != self.row:
                raise _NotOne
            column = _column_number(found[1])
        if column <= self.column:
            raise _NotOne
        self.column = column
        self.kind, self.style = attributes.get("t", "n"), int(attributes.get("s", 0))
        self.parts.clear()

    def text(self, piece: str) -> None:
        if self.mark in ("v", "t") and not self.is_reading_aloud:
            self.parts.append(piece)

    def end(self, mark: str) -> None:
        self.mark = ""
        if mark == "rPh":
            self.is_reading_aloud = False
        elif mark == "c" and self.parts:
            # a cell that only has a look is not a cell
            self.grid.add(self.row, self.column, self._said("".join(self.parts)))
            self.parts.clear()

    def _said(self, value: str) -> str:
        if self.kind == "s":
            place = int(value)
            if not 0 <= place < len(self.strings):
                raise _NotOne
            return self.strings[place]
        if self.kind == "n":
            return self._number(value.strip())
        if self.kind == "b":
            return "yes" if value.strip() == "1" else "no"
        return _meant(value)

    def _number(self, value: str) -> str:
        """Write a number with a point and a day as 2026-03-04; what is neither as it stands."""
        if not _NUMBER.fullmatch(value):
            return value
        number = float(value)
        if not math.isfinite(number):
            return value
        if self.style in self.dates:
            return self._day(number) or value
        if value.lstrip("-").isdigit():
            return value
        # a spreadsheet keeps 15 digits; the 16th and 17th are how it counts in twos
        return f"{Decimal(f'{number:.15g}'):f}"

    def _day(self, number: float) -> str:
        from openpyxl.utils.datetime import from_excel

        try:
            day = from_excel(number, self.epoch, timedelta=self.dates[self.style])
        except (OverflowError, ValueError):
            return ""
        if isinstance(day, datetime.datetime) and day.time() == datetime.time():
            return day.date().isoformat()
        return str(day)


def _column_number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def _meant(text: str) -> str:
    """Return a text without the two escapes that spreadsheets write, its line ends as ours."""
    signs = {"000D": "\r", "005F": "_"}
    return _ESCAPED.sub(lambda found: signs[found[1]], text).replace("\r\n", "\n")


def _refuse_doctype(*args: Any) -> None:
    """Refuse what no part of a workbook has: entities could multiply it."""
    raise _NotOne
