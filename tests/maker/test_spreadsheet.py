"""Files written and read: what is in a cell stays what it is, and nothing becomes a formula."""

import csv
import datetime
import io
import zipfile
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maker.documents.grid import UnreadableFile
from maker.documents.spreadsheet import (
    MOST_ROWS_WRITTEN,
    Column,
    ColumnKind,
    TooManyRows,
    read_table,
    write_csv,
    write_xlsx,
)
from tests.office import cells_in_office, in_office
from tests.work import work_of

COLUMNS = (
    Column("Date", ColumnKind.DATE),
    Column("Text"),
    Column("Paid", ColumnKind.MONEY),
    Column("Amount", ColumnKind.NUMBER),
    Column("Count", ColumnKind.WHOLE),
)
# What spreadsheets have been seen to take for a formula: OWASP, "CSV Injection"; the rest is ours.
DANGEROUS = [
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(1+1)",
    "\t=1+1",
    "\n=1+1",
    " =1+1",
    "=cmd|' /C calc'!A0",
    '=HYPERLINK("x";"y")',
    '","=1+1',
    '"=1+1"',
    "＝1+1",
    "'=1+1",
    "''=1+1",
    "#N/A",
]
HARMLESS = ["00123", "TRUE", "NA", "", "a\nb", "_x0041_", "é 😀 שלום", "1;2,3", 'say "so"', "'tis"]


def rows_of(texts: list[str]) -> list[tuple[Any, ...]]:
    day = datetime.date(2026, 11, 3)
    return [(day, text, Decimal("-1234.5"), Decimal("7.125"), 60) for text in texts]


def written(form: str, columns: Any, rows: Any) -> bytes:
    return write_csv(columns, rows) if form == "csv" else write_xlsx(columns, rows, title="List")


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_what_is_written_is_read_back(form: str) -> None:
    texts = DANGEROUS + HARMLESS
    table = read_table(written(form, COLUMNS, rows_of(texts)))
    assert table.heading == ("Date", "Text", "Paid", "Amount", "Count")
    assert [row[1] for row in table.rows] == texts
    paid = "-1234.50" if form == "csv" else "-1234.5"
    assert {(row[0], *row[2:]) for row in table.rows} == {("2026-11-03", paid, "7.125", "60")}


@given(st.text(st.characters(blacklist_categories=["Cs", "Cc"]) | st.sampled_from("'=+-@\t\n ,\"")))
def test_any_text_comes_back_from_csv_as_it_was(text: str) -> None:
    data = write_csv([Column("Text"), Column("End")], [(text, "end")])
    assert read_table(data).rows == ((text, "end"),)


@pytest.mark.parametrize("text", DANGEROUS)
def test_no_cell_of_csv_begins_like_a_formula(text: str) -> None:
    data = write_csv([Column("Text")], [(text,)]).decode("utf-8-sig")
    _, [cell] = csv.reader(io.StringIO(data, newline=""))
    assert cell[0] not in "=+-@\t\r\n ＝＋－＠"


def test_a_number_below_zero_stays_a_number() -> None:
    data = write_csv([Column("Paid", ColumnKind.MONEY)], [(Decimal("-3"),)])
    assert data.decode("utf-8-sig") == "Paid\r\n-3.00\r\n"


def test_a_workbook_has_its_heading_frozen_and_columns_as_wide_as_needed() -> None:
    import openpyxl

    sheet = openpyxl.load_workbook(
        io.BytesIO(write_xlsx(COLUMNS, rows_of(["x"]), title="A/B"))
    ).active
    assert sheet is not None
    assert (sheet.title, sheet.freeze_panes) == ("A B", "A2")
    assert sheet.column_dimensions["B"].width == 24
    assert [cell.number_format for cell in sheet[2]] == ["yyyy-mm-dd", "@", "0.00", "General", "0"]
    assert sheet["C2"].value == -1234.5
    assert sheet["A2"].value == datetime.datetime(2026, 11, 3)  # noqa: DTZ001  # a day has no zone


@pytest.mark.parametrize("digits", [0, 3])
def test_money_has_the_decimals_of_its_currency(digits: int) -> None:
    data = write_csv([Column("Paid", ColumnKind.MONEY, digits)], [(Decimal("5"),)])
    assert data.decode("utf-8-sig").split()[1] == ("5" if digits == 0 else "5.000")


def test_more_rows_than_a_file_takes_are_refused() -> None:
    rows = (("x",) for _ in range(MOST_ROWS_WRITTEN + 1))
    with pytest.raises(TooManyRows):
        write_csv([Column("Text")], rows)


def test_a_refused_file_leaves_nothing_in_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("maker.documents.scratch._MEMORY", str(tmp_path))
    monkeypatch.setattr("maker.documents.spreadsheet.MOST_ROWS_WRITTEN", 3)
    assert write_xlsx([Column("Text")], [("x",)] * 3, title="List")
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(TooManyRows):
        write_xlsx([Column("Text")], [("x",)] * 4, title="List")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_fifty_thousand_rows_are_written() -> None:
    rows = rows_of(["=1+1"]) * 50_000
    csv_file = write_csv(COLUMNS, rows)
    book = write_xlsx(COLUMNS, rows, title="List")
    assert csv_file.count(b"\r\n") == 50_001
    with zipfile.ZipFile(io.BytesIO(book)) as packed:
        assert packed.read("xl/worksheets/sheet1.xml").count(b"<row ") == 50_001
    with pytest.raises(UnreadableFile, match="more than 20,000 rows"):
        read_table(csv_file[: 4 * 1024 * 1024])


def test_each_row_written_is_little_work() -> None:
    rows = rows_of(["=1+1"]) * 500
    write_xlsx(COLUMNS, rows[:1], title="List")
    # measured: 29 and 294 calls a row; fifty thousand rows take 0.3 s and 2.5 s
    assert work_of(lambda: write_csv(COLUMNS, rows)).calls < 500 * 60
    assert work_of(lambda: write_xlsx(COLUMNS, rows, title="List")).calls < 500 * 600


@pytest.mark.parametrize(
    ("data", "rows"),
    [
        (b"a;b\n1,5;2", (("1,5", "2"),)),
        (b'a\tb\n1\t"x\ny"', (("1", "x\ny"),)),
        (b"a|b\r\n1|2\r\n\r\n3|", (("1", "2"), ("3", ""))),
        ("a,b\né,€".encode("cp1252"), (("é", "€"),)),
        ("a,b\né,€".encode(), (("é", "€"),)),
        ("a,b\né,€".encode("utf-16"), (("é", "€"),)),
        (b"a,,b,,\n1,,2,,\n", (("1", "", "2"),)),
        (b"a,b\n00123,NA", (("00123", "NA"),)),
        (b"only\nx", (("x",),)),
    ],
    ids=["semicolon", "tab", "line", "cp1252", "utf-8", "utf-16", "gaps", "untyped", "one column"],
)
def test_csv_of_other_programs_is_read(data: bytes, rows: Any) -> None:
    assert read_table(data).rows == rows


def test_letters_and_separator_can_be_said() -> None:
    data = "a;b\nž;1,5".encode("cp1250")
    assert read_table(data, encoding="cp1250", separator=";").rows == (("ž", "1,5"),)
    with pytest.raises(UnreadableFile, match="letters"):
        read_table(data, encoding="utf-8")


def test_numbers_and_days_of_a_workbook_are_read_as_typed_ones_are() -> None:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["a", "b", "c", "d", "e", "f"])
    day = datetime.datetime(2026, 3, 4)  # noqa: DTZ001  # a spreadsheet knows no zones
    sheet.append([0.1 + 0.2, 12.0, day, True, "007", 1e-7])
    out = io.BytesIO()
    book.save(out)
    expected = ("0.3", "12", "2026-03-04", "yes", "007", "0.0000001")
    assert read_table(out.getvalue()).rows == (expected,)


def zipped(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(name.replace("__", "/").replace("_xml", ".xml"), content)
    return out.getvalue()


def with_entities() -> bytes:
    """A workbook whose sheet multiplies itself when its entities are followed."""
    lines = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 9))
    evil = f'<!DOCTYPE x [<!ENTITY e0 "ha">{lines}]><worksheet>&e8;</worksheet>'.encode()
    good = write_xlsx([Column("Text")], [("x",)], title="List")
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(good)) as source, zipfile.ZipFile(out, "w") as packed:
        for part in source.infolist():
            is_sheet = part.filename == "xl/worksheets/sheet1.xml"
            packed.writestr(part.filename, evil if is_sheet else source.read(part))
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (lambda: zipped(xl__workbook_xml=b"<a/>", bomb=b"0" * 200_000_000), "unpacks to more"),
        (lambda: zipped(word__document_xml=b"<a/>"), "an XLSX workbook, or it is damaged"),
        (lambda: zipped(xl__workbook_xml=b"<a/>"), "an XLSX workbook, or it is damaged"),
        (with_entities, "an XLSX workbook, or it is damaged"),
        (lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "an old XLS workbook"),
        (lambda: b"a,b\n1,2,3", "has no heading"),
        (lambda: b'a,b\n"1,2', "cannot be read as CSV"),
        (lambda: b"," * 30_000 + b"\n1", "more than 100 columns"),
        (lambda: b"a\n" + b"x" * 20_001, "longer than 20000"),
        (lambda: b"\x81\x8d\n\x81", "letters"),
    ],
    ids=["bomb", "letter", "bare", "entities", "old", "wide", "quote", "columns", "cell", "bytes"],
)
def test_a_hostile_file_is_refused_at_once(data: Any, words: str) -> None:
    file = data()

    def read() -> None:
        with pytest.raises(UnreadableFile, match=words):
            read_table(file)

    work = work_of(read)
    # measured: 150 thousand for the bomb, and openpyxl may have to be imported first
    assert work.calls < 1_000_000
    assert work.peak_bytes < 50_000_000


@pytest.mark.parametrize("form", ["csv", "xlsx"])
class TestInLibreOffice:
    """The files opened by another program than the one that wrote them."""

    pytestmark = in_office

    def test_cells_are_what_they_were(self, form: str, tmp_path: Path) -> None:
        texts = [text for text in DANGEROUS + HARMLESS if text]
        heading, *cells = cells_in_office(written(form, COLUMNS, rows_of(texts)), form, tmp_path)
        assert [cell.shown for cell in heading] == [column.name for column in COLUMNS]
        assert len(cells) == len(texts)
        for text, (day, typed, paid, amount, count) in zip(texts, cells, strict=True):
            assert (day.kind, day.value) == ("date", "2026-11-03")
            assert (paid.kind, paid.value) == ("float", "-1234.5")
            assert (amount.kind, amount.value, count.value) == ("float", "7.125", "60")
            if form == "xlsx":
                assert paid.shown == "-1234.50"
                assert (typed.kind, typed.shown) == ("string", text)
            elif text != "00123":  # CSV has no types, so this is read as a number
                assert typed.shown.lstrip("'") == text.lstrip("'")
            assert typed.formula is None
