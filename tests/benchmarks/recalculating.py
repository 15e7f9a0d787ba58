"""Lets LibreOffice recalculate a workbook without a window, and says how long that took.

A workbook is first opened and saved by LibreOffice itself, so that every formula's value stands in
the file. Then one input is changed in the file behind its back: what stands there cannot be right
any more, and only a program that really calculates gives other values.
"""

import csv
import re
import resource
import statistics
import subprocess
import time
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path

from openpyxl import Workbook

SECONDS = 900
# comma, quotation mark, UTF-8, from the first row, cells with all their digits, first sheet
# Source: LibreOffice help, "Filter Options for CSV Files"; 76 is UTF-8 there.
_CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false"
_LOAD = "/org.openoffice.Office.Calc/Formula/Load"
_SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry"
 xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
{items}
</oor:items>
"""
_SETTING = (
    '<item oor:path="{path}"><prop oor:name="{name}" oor:op="fuse"><value>{value}</value></prop>'
    "</item>"
)


class Recalculate(IntEnum):
    """What LibreOffice does with formulas of a file it opens; the numbers are its own."""

    ALWAYS = 0
    NEVER = 1


@dataclass(frozen=True, slots=True)
class Taken:
    """Seconds by the clock, and seconds of processor time."""

    clock: float
    cpu: float

    def less(self, other: "Taken") -> "Taken":
        """Return what is left without something that was measured apart; never below nothing."""
        return Taken(max(self.clock - other.clock, 0.0), max(self.cpu - other.cpu, 0.0))


def taken_by(call: Callable[[], object]) -> Taken:
    """Measure one call, the programs it runs included."""
    clock, cpu = time.perf_counter(), _cpu()
    call()
    return Taken(time.perf_counter() - clock, _cpu() - cpu)


def _cpu() -> float:
    used = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(each.ru_utime + each.ru_stime for each in used)


def middle(taken: list[Taken]) -> Taken:
    """Return the medians of several measurements."""
    return Taken(
        statistics.median(each.clock for each in taken),
        statistics.median(each.cpu for each in taken),
    )


class Office:
    """LibreOffice with profiles of its own in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for how in Recalculate:
            user = folder / how.name / "user"
            user.mkdir(parents=True)
            items = [
                _SETTING.format(path=_LOAD, name=name, value=how.value)
                for name in ("OOXMLRecalcMode", "ODFRecalcMode")
            ]
            text = _SETTINGS.format(items="\n".join(items))
            (user / "registrymodifications.xcu").write_text(text, encoding="utf-8")

    def calculated(self, workbook: Workbook, name: str) -> Path:
        """Save a workbook as LibreOffice does: with the value of every formula in the file."""
        source = self.folder / f"{name}.xlsx"
        workbook.save(source)
        return self._convert(source, "xlsx", Recalculate.ALWAYS, self.folder / "calculated")

    def values(
        self, workbook: Path, how: Recalculate = Recalculate.ALWAYS
    ) -> list[dict[str, float]]:
        """Open a workbook and return its first sheet's rows below the header, by column."""
        made = self._convert(workbook, _CSV, how, self.folder / "values" / how.name)
        with made.open(encoding="utf-8", newline="") as file:
            return [
                {name: _number(text) for name, text in row.items()} for row in csv.DictReader(file)
            ]

    def recalculate(self, workbook: Path, how: Recalculate = Recalculate.ALWAYS) -> None:
        """Open a workbook and write its first sheet; for measuring."""
        self._convert(workbook, _CSV, how, self.folder / "measured" / how.name)

    def _convert(self, source: Path, wanted: str, how: Recalculate, folder: Path) -> Path:
        subprocess.run(
            [
                "soffice",
                f"-env:UserInstallation={(self.folder / how.name).as_uri()}",
                "--headless",
                "--convert-to",
                wanted,
                "--outdir",
                str(folder),
                str(source),
            ],
            check=True,
            capture_output=True,
            timeout=SECONDS,
        )
        return folder / f"{source.stem}.{wanted.partition(':')[0]}"


def _number(text: str) -> float:
    try:
        return float({"TRUE": "1", "FALSE": "0"}.get(text, text))
    except ValueError:
        return float("nan")  # an empty cell, or a name


def with_input(workbook: Path, sheet: int, cell: str, value: object) -> Path:
    """Return a copy with another number in one cell; formulas keep the values they had."""
    changed = workbook.with_stem(f"{workbook.stem}-changed")
    part = f"xl/worksheets/sheet{sheet}.xml"
    written = re.compile(rf'(<c r="{cell}"[^>]*><v>)[^<]*(</v>)'.encode())
    with zipfile.ZipFile(workbook) as old, zipfile.ZipFile(changed, "w") as new:
        for entry in old.infolist():
            content = old.read(entry)
            if entry.filename == part:
                content, found = written.subn(rf"\g<1>{value}\g<2>".encode(), content)
                assert found == 1, f"{cell} of {part} holds no number"
            new.writestr(entry, content, zipfile.ZIP_DEFLATED)
    return changed
