"""Small files that claim to be huge: refused by counting cells, before there is a grid of them."""

import io
import zipfile
from collections.abc import Callable

import pytest

from maker.documents import grid, xlsx_file
from maker.documents.csv_file import fill_from_csv
from maker.documents.grid import Grid, UnreadableFile
from maker.documents.spreadsheet import read_table
from maker.documents.xlsx_file import fill_from_xlsx

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
HEAD = '<?xml version="1.0" encoding="UTF-8"?>'
CELL = '<c r="{0}" t="inlineStr"><is><t>{1}</t></is></c>'
GOOD_ROWS = (
    f'<row r="1">{CELL.format("A1", "Name")}</row><row r="2">{CELL.format("A2", "Card")}</row>'
)


def workbook(
    rows: str = GOOD_ROWS,
    *,
    before: str = "",
    after: str = "",
    strings: str = "",
    sheets: int = 1,
    styles: str = "",
    pad: int = 0,
) -> bytes:
    """Return a workbook of the fewest parts, as another program could have written it."""
    kinds = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    parts = {
        "xl/workbook.xml": f'{HEAD}<workbook xmlns="{MAIN}" xmlns:r="{kinds}"><sheets>'
        + "".join(f'<sheet name="S{n}" sheetId="{n}" r:id="r{n}"/>' for n in range(1, sheets + 1))
        + "</sheets></workbook>",
        "xl/_rels/workbook.xml.rels": f"{HEAD}<Relationships>"
        + "".join(
            f'<Relationship Id="r{n}" Type="{kinds}/worksheet" Target="worksheets/sheet{n}.xml"/>'
            for n in range(1, sheets + 1)
        )
        + f'<Relationship Id="t" Type="{kinds}/sharedStrings" Target="sharedStrings.xml"/>'
        + f'<Relationship Id="s" Type="{kinds}/styles" Target="styles.xml"/></Relationships>',
        "xl/sharedStrings.xml": f'{HEAD}<sst xmlns="{MAIN}">{strings}</sst>',
        "xl/styles.xml": f'{HEAD}<styleSheet xmlns="{MAIN}">{styles}</styleSheet>',
        "xl/worksheets/sheet1.xml": f'{HEAD}<worksheet xmlns="{MAIN}">{before}<sheetData>'
        f"{rows}</sheetData>{after}</worksheet>" + " " * pad,
    }
    parts |= {
        f"xl/worksheets/sheet{n}.xml": f"{HEAD}<worksheet><sheetData/></worksheet>"
        for n in range(2, sheets + 1)
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    return out.getvalue()


def many_parts() -> bytes:
    out = io.BytesIO(workbook())
    with zipfile.ZipFile(out, "a") as packed:
        for number in range(40_000):
            packed.writestr(str(number), b"")
    return out.getvalue()


def lying_about_its_size() -> bytes:
    """A packed part that says it unpacks to ten bytes."""
    data = bytearray(workbook(pad=50_000_000))
    at = data.index(b"PK\x01\x02", data.index(b"PK\x01\x02") + 1)
    while b"sheet1.xml" not in data[at : at + 90]:
        at = data.index(b"PK\x01\x02", at + 1)
    data[at + 24 : at + 28] = (10).to_bytes(4, "little")
    return bytes(data)


def far_cell(row: int, letters: str) -> str:
    return f'<row r="{row}">{CELL.format(f"{letters}{row}", "x")}</row>'


ENTITIES = (
    '<!DOCTYPE s [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {n} "{f"&{chr(ord(n) - 1)};" * 10}">' for n in "bcdefgh")
    + "]>"
)

# name -> file, and what the refusal says
HOSTILE: dict[str, tuple[Callable[[], bytes], str]] = {
    "a cell at XFD5999": (lambda: workbook(GOOD_ROWS + far_cell(5999, "XFD")), "columns"),
    "a cell in the last row": (lambda: workbook(GOOD_ROWS + far_cell(1048576, "B")), "no heading"),
    "rows that are empty but for a look": (
        lambda: workbook("".join(f'<row r="{n}"><c s="1"/></row>' for n in range(1, 600_000))),
        "nothing on the first sheet|more than we can read",
    ),
    "too many rows": (
        lambda: workbook("".join(f"<row><c><v>{n}</v></c></row>" for n in range(400_000))),
        "more than 20,000 rows",
    ),
    "one text half a million cells point to": (
        lambda: workbook(
            "".join('<row><c t="s"><v>0</v></c></row>' for _ in range(2_900)),
            strings=f"<si><t>{'x' * 20_000}</t></si>",
        ),
        "more text",
    ),
    "shared texts without end": (
        lambda: workbook(strings=f"<si><t>{'x' * 1_000}</t></si>" * 20_000),
        "more text|more than we can read",
    ),
    "shared texts that are empty": (lambda: workbook(strings="<si/>" * 4_000_000), "than we can"),
    "styles without end": (
        lambda: workbook(styles="<cellXfs>" + '<xf numFmtId="14"/>' * 3_000_000 + "</cellXfs>"),
        "more styles",
    ),
    "merged cells without end": (
        lambda: workbook(after='<mergeCell ref="A1:XFD1"/>' * 2_000_000),
        "than we can",
    ),
    "marks inside marks": (
        lambda: workbook(after="<a>" * 3_000_000),
        "than we can",
    ),
    "a part that unpacks to more": (lambda: workbook(pad=100_000_000), "unpacks to more"),
    "a part that lies about its size": (lying_about_its_size, "damaged"),
    "parts without end": (many_parts, "too many parts"),
    "entities that multiply": (
        lambda: with_doctype(),
        "damaged",
    ),
    "rows backwards": (lambda: workbook(far_cell(5, "A") + far_cell(4, "A")), "damaged"),
    "a row before the first": (lambda: workbook('<row r="0"><c><v>1</v></c></row>'), "damaged"),
    "a row that is no number": (lambda: workbook('<row r="x"><c><v>1</v></c></row>'), "damaged"),
    "a row of ten thousand digits": (lambda: workbook(f'<row r="{"9" * 10_000}"/>'), "damaged"),
    "a text that is not there": (
        lambda: workbook('<row><c t="s"><v>7</v></c></row>'),
        "damaged",
    ),
    "commas in the heading": (lambda: b"Name" + b"," * 20_000 + b"\nCard\n", "columns"),
    "names in the heading": (lambda: b",".join([b"x"] * 20_000) + b"\nCard\n", "columns"),
    "commas in every row": (lambda: b"Name\n" + (b"x" + b"," * 900 + b"\n") * 3_000, "cells"),
    "commas alone": (lambda: (b"," * 900 + b"\n") * 5_000, "cells"),
    "five megabytes of commas": (lambda: b"," * (5 * 1024**2), "columns"),
    "five megabytes of line ends": (lambda: b"a" + b"\n" * (5 * 1024**2 - 2) + b"b", "cells"),
    "a quotation mark that is never closed": (
        lambda: b'Name\n"' + b'""' * 2_000_000 + b"x",
        "quotation mark",
    ),
    "a quoted cell without end": (lambda: b'Name\n"' + b"x" * 5_000_000 + b'"', "longer than"),
}


def with_doctype() -> bytes:
    data = workbook()
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as packed:
        for part in source.infolist():
            content = source.read(part).decode()
            if part.filename.endswith("sharedStrings.xml"):
                content = HEAD + ENTITIES + f'<sst xmlns="{MAIN}"><si><t>&h;</t></si></sst>'
            packed.writestr(part.filename, content)
    return out.getvalue()


def read_into(counted: Grid, data: bytes) -> None:
    if data.startswith(b"PK"):
        fill_from_xlsx(counted, data)
    else:
        fill_from_csv(counted, data, "", "")
    counted.table()


@pytest.mark.parametrize("name", HOSTILE)
def test_it_is_refused_by_counting(name: str) -> None:
    make, words = HOSTILE[name]
    data, counted = make(), Grid()
    assert len(data) <= grid.MOST_BYTES
    with pytest.raises(UnreadableFile, match=words):
        read_into(counted, data)
    # the last one is what it was refused for
    assert counted.cells_seen <= grid.MOST_CELLS + 1


def test_one_far_cell_costs_one_cell() -> None:
    counted = Grid()
    with pytest.raises(UnreadableFile):
        fill_from_xlsx(counted, workbook(GOOD_ROWS + far_cell(5999, "XFD")))
    assert counted.cells_seen == 3


def test_a_text_full_of_separators_is_one_cell() -> None:
    text = "," * 19_000
    assert read_table(f'Name,Notes\nCard,"{text}"\n'.encode()).rows == (("Card", text),)


def test_marks_are_counted_over_all_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(xlsx_file, "MOST_MARKS", 50)
    assert read_table(workbook()).rows == (("Card",),)
    with pytest.raises(UnreadableFile, match="than we can read"):
        read_table(workbook(strings="<si/>" * 40))


@pytest.mark.parametrize("dimension", ["A1:XFD1048576", "A1", "nonsense", ""])
def test_what_a_sheet_says_of_its_own_size_is_not_believed(dimension: str) -> None:
    data = workbook(before=f'<dimension ref="{dimension}"/>')
    assert read_table(data).rows == (("Card",),)


def test_only_the_first_sheet_in_sight_is_read() -> None:
    assert read_table(workbook(sheets=500)).rows == (("Card",),)


@pytest.mark.parametrize(
    "number", ["1e999", "-1e999", "nan", "inf", "1e-999", "9" * 10_000, "1e9999999999", "0x10"]
)
def test_a_number_that_is_none_stays_what_was_written(number: str) -> None:
    """What cannot be kept is refused beside its cell by the field that reads it."""
    rows = (
        f'<row r="1">{CELL.format("A1", "Name")}{CELL.format("B1", "Price")}</row>'
        f'<row r="2">{CELL.format("A2", "Card")}<c r="B2"><v>{number}</v></c></row>'
    )
    expected = "0" if number == "1e-999" else number
    assert read_table(workbook(rows)).rows == (("Card", expected),)
