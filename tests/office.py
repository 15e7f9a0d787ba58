"""Opens files in LibreOffice without a window and says what is in their cells."""

import io
import shutil
import subprocess
import zipfile
from dataclasses import dataclass
from pathlib import Path
from xml.etree.ElementTree import Element

import pytest
from defusedxml import ElementTree

from tests.patience import PATIENCE_S

_O = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_T = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_X = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
# Comma, quotation mark, UTF-8, from the first row: what a person confirms in the window that asks.
# Source: LibreOffice help, "Filter Options for CSV Files"; 76 is UTF-8 there.
AS_CSV = "CSV:44,34,76,1"
# the same with semicolons, cells as they are shown
SAVED_AS = {"csv": "csv:Text - txt - csv (StarCalc):59,34,76,1,,0,false,true"}

in_office = [
    pytest.mark.office,
    pytest.mark.slow,
    pytest.mark.skipif(shutil.which("localc") is None, reason="LibreOffice is not installed here"),
]


@dataclass(frozen=True)
class Cell:
    """A cell as LibreOffice took it: its kind, its value, what it shows, its formula if any."""

    kind: str
    value: str
    shown: str
    formula: str | None = None


def cells_in_office(data: bytes, suffix: str, folder: Path) -> list[list[Cell]]:
    """Open a CSV or XLSX file and return the cells of its first sheet."""
    ods = saved_by_office(data, suffix, "ods", folder)
    with zipfile.ZipFile(io.BytesIO(ods)) as packed:
        sheet = ElementTree.fromstring(packed.read("content.xml")).find(f".//{_T}table")
    assert sheet is not None
    rows: list[list[Cell]] = []
    for row in sheet.iter(f"{_T}table-row"):
        cells: list[Cell] = []
        for cell in row.iter(f"{_T}table-cell"):
            times = int(cell.get(f"{_T}number-columns-repeated", "1"))
            cells += [_cell(cell)] * min(times, 50)
        while cells and cells[-1] == Cell("", "", ""):
            cells.pop()
        rows += [cells] * min(int(row.get(f"{_T}number-rows-repeated", "1")), 1_000)
    while rows and not rows[-1]:
        rows.pop()
    return rows


def saved_by_office(data: bytes, suffix: str, wanted: str, folder: Path) -> bytes:
    """Open a file and save it as another kind: `ods`, `xlsx`, or `csv` with semicolons."""
    source = folder / f"file.{suffix}"
    source.write_bytes(data)
    subprocess.run(
        [
            "soffice",
            # a profile of its own, so that two can run at a time and nothing of the user's is met
            f"-env:UserInstallation={(folder / 'profile').as_uri()}",
            "--headless",
            *([f"--infilter={AS_CSV}"] if suffix == "csv" else []),
            "--convert-to",
            SAVED_AS.get(wanted, wanted),
            "--outdir",
            str(folder / "out"),
            str(source),
        ],
        check=True,
        capture_output=True,
        timeout=PATIENCE_S,
    )
    return (folder / "out" / f"file.{wanted}").read_bytes()


def _cell(cell: Element) -> Cell:
    kind = cell.get(f"{_O}value-type", "")
    shown = "\n".join(_text(paragraph) for paragraph in cell.iter(f"{_X}p"))
    value = cell.get(f"{_O}date-value") or cell.get(f"{_O}value") or shown
    return Cell(kind, value, shown, cell.get(f"{_T}formula"))


def _text(paragraph: Element) -> str:
    parts = [paragraph.text or ""]
    for child in paragraph:
        if child.tag == f"{_X}s":
            parts.append(" " * int(child.get(f"{_X}c", "1")))
        elif child.tag == f"{_X}tab":
            parts.append("\t")
        else:
            parts.append(_text(child))
        parts.append(child.tail or "")
    return "".join(parts)
