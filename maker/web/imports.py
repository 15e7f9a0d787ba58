"""Files into rows: a file is sent, shown with what is wrong beside each cell, and taken in once.

Between the pages the rows travel in the form itself, signed: any process can answer the next
page, and nothing is kept of a file that is never taken in. All or nothing, unless she says that
what has an error shall be left out. Each import has a key, so that a second click does no harm.
"""

import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.contrib import messages
from django.core import signing
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from maker.calc.refusal import Refusal
from maker.documents.grid import MOST_BYTES, MOST_ROWS_READ, Table, UnreadableFile
from maker.documents.spreadsheet import read_table
from maker.web.file_columns import (
    ColumnsForm,
    Told,
    guessed_columns,
    own_columns,
    remembered_columns,
)
from maker.web.file_rows import FileRow, RowGroup

SALT = "maker.web.imports"
TABLE_SALT = f"{SALT}.table"
GOOD_FOR_SECONDS = 24 * 60 * 60
# what is shown of rows without an error, and of rows with one; the rest is counted
ROWS_SHOWN, WRONG_ROWS_SHOWN = 40, 200

DAY_ORDERS: dict[str, tuple[str, ...]] = {
    "": (),
    "day": ("%d/%m/%Y", "%d/%m/%y", "%d-%m-%Y", "%d.%m.%y"),
    "month": ("%m/%d/%Y", "%m/%d/%y", "%m-%d-%Y"),
}


class DayOrderField(forms.ChoiceField):
    """Which number comes first in a day like 3/4/2026; asked once for a file."""

    def __init__(self) -> None:
        super().__init__(
            label="Days like 3/4/2026",
            required=False,
            choices=[
                ("", "there are none"),
                ("day", "the day comes first"),
                ("month", "the month comes first"),
            ],
        )


class UploadForm(forms.Form):
    """The file, and what cannot always be found out about it."""

    use_required_attribute = False
    file = forms.FileField(
        label="File",
        help_text=f"CSV or XLSX, up to 5 MB and {MOST_ROWS_READ} rows.",
        allow_empty_file=True,
        error_messages={"required": "Choose a file."},
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,.txt,.tsv"}),
    )
    day_order = DayOrderField()
    encoding = forms.ChoiceField(
        label="Letters",
        required=False,
        help_text="Only for CSV whose accents come out wrong.",
        choices=[
            ("", "find out"),
            ("utf-8", "UTF-8"),
            ("cp1252", "western Europe (Windows)"),
            ("cp1250", "central Europe (Windows)"),
            ("iso8859-15", "western Europe (ISO 8859-15)"),
            ("mac_roman", "western Europe (old Macintosh)"),
        ],
    )
    separator = forms.ChoiceField(
        label="Between columns",
        required=False,
        help_text="Only for CSV.",
        choices=[
            ("", "find out"),
            (",", "comma"),
            (";", "semicolon"),
            ("\t", "tab"),
            ("|", "upright line"),
        ],
    )

    ask_columns = forms.BooleanField(
        label="Choose again which column is what",
        required=False,
        help_text="For a file whose columns came out wrong.",
    )

    def clean_separator(self) -> str:
        """Keep the tab, which is blank."""
        return str(self.data.get("separator", ""))

    def clean_file(self) -> Any:
        """Refuse what is too large before reading it."""
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError("The file is larger than 5 MB. Split it.")
        return file


@dataclass(frozen=True, slots=True)
class Importing:
    """How one kind of row is taken in; `fields` is heading -> field in the order shown.

    `read` gives the groups of the rows, `save` stores the values of those without an error and
    says so. `also_called` are usual names of our headings in other files. Where
    `sources` gives rows, a whole file may come from one of them, which stands for the column
    `source`.
    """

    title: str
    one: str
    list_url: str
    fields: Mapping[str, str]
    needed: Sequence[str]
    read: Callable[[Any, Sequence[FileRow], tuple[str, ...]], list[RowGroup]]
    save: Callable[[Any, Sequence[Any], uuid.UUID], None]
    advice: str = ""
    has_days: bool = False
    also_called: Mapping[str, Sequence[str]] = field(default_factory=dict)
    source: str = ""
    sources: Callable[[Any], Mapping[str, Any]] | None = None


class AlreadyImported(Refusal):
    """The same import was confirmed before."""


@dataclass(slots=True)
class _Upload:
    """What travels in the form from page to page."""

    key: uuid.UUID
    fields: list[str]
    rows: list[FileRow]
    day_order: str

    def signed(self, workshop: Any, title: str) -> str:
        content = {
            "of": [workshop.pk, title],
            "key": self.key.hex,
            "fields": self.fields,
            "days": self.day_order,
            "rows": [[r.number, *(r.cells[name] for name in self.fields)] for r in self.rows],
        }
        return signing.dumps(content, salt=SALT, compress=True)


def import_page(request: Any, importing: Importing) -> HttpResponse:
    """Answer every step: the file, which column is what, the preview, and the taking in."""
    if request.method == "POST" and "upload" in request.POST:
        return _next_step(request, importing)
    if request.method == "POST" and "table" in request.POST:
        return _columns_step(request, importing)
    if request.method == "POST" and "forget" in request.POST:
        return _forget(request, importing)
    form = UploadForm(request.POST or None, request.FILES or None)
    if not importing.has_days:
        form.fields["day_order"].widget = forms.HiddenInput()
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            table = read_table(
                typed["file"].read(), encoding=typed["encoding"], separator=typed["separator"]
            )
            if not table.rows:
                raise UnreadableFile("There is nothing under the headings.")
            told = None if typed["ask_columns"] else _known(request, importing, table)
            if told is None:
                return _ask_for_columns(request, importing, table, typed["day_order"])
            upload = _from_table(table, importing, told, typed["day_order"])
        except Refusal as refusal:
            form.add_error("file", refusal.message)
        else:
            return _preview(request, importing, upload)
    return _ask_for_file(request, importing, form)


def _told_before(request: Any, importing: Importing) -> Any:
    return request.workshop.file_columns.for_list(importing.title)


def _known(request: Any, importing: Importing, table: Table) -> Told | None:
    """Return which column is what if the headings say it, or she did before."""
    told = own_columns(table, importing.fields)
    if all(importing.fields[name] in told.places for name in importing.needed):
        return told
    return remembered_columns(table, _told_before(request, importing), importing.fields)


def _ask_for_file(request: Any, importing: Importing, form: UploadForm) -> HttpResponse:
    context = {
        "form": form,
        "importing": importing,
        "list_address": _list(request, importing),
        "told": _told_before(request, importing),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "components/import_file.html", context, status=status)


def _forget(request: Any, importing: Importing) -> HttpResponse:
    """Forget what was told of one kind of file; the next one asks again."""
    key = request.POST["forget"]
    gone = _told_before(request, importing).filter(pk=key[:18] if key.isdecimal() else 0)
    name = next((str(row) for row in gone), "")
    if gone.delete()[0]:
        messages.success(request, f"Forgot the columns of {name}. The next file asks again.")
    return redirect(request.path)


def _columns_form(
    request: Any, importing: Importing, table: Table, data: Any = None
) -> ColumnsForm:
    sources = importing.sources(request.workshop) if importing.sources else {}
    known = remembered_columns(table, _told_before(request, importing), importing.fields)
    guessed = guessed_columns(table, importing.fields, importing.also_called)
    if known:
        names = {wanted: name for name, wanted in importing.fields.items()}
        guessed = {place: names[wanted] for wanted, place in known.places.items()}
    first = {f"column-{place}": name for place, name in guessed.items()}
    if known and known.source:
        first["source"] = str(known.source.pk)
    return ColumnsForm(
        data,
        initial=first,
        table=table,
        fields=importing.fields,
        needed=importing.needed,
        sources=sources,
        source_heading=importing.source,
    )


def _ask_for_columns(
    request: Any,
    importing: Importing,
    table: Table,
    day_order: str,
    form: ColumnsForm | None = None,
) -> HttpResponse:
    content = {
        "of": [request.workshop.pk, importing.title],
        "days": day_order,
        "heading": table.heading,
        "rows": [[number, *row] for number, row in zip(table.numbers, table.rows, strict=True)],
    }
    context = {
        "importing": importing,
        "form": form or _columns_form(request, importing, table),
        "table": signing.dumps(content, salt=TABLE_SALT, compress=True),
        "row_count": len(table.rows),
    }
    status = 422 if form else 200
    return render(request, "components/import_columns.html", context, status=status)


def _columns_step(request: Any, importing: Importing) -> HttpResponse:
    """Take in which column is what, remember it, and show what the file would do."""
    try:
        content = signing.loads(request.POST["table"], salt=TABLE_SALT, max_age=GOOD_FOR_SECONDS)
        if content["of"] != [request.workshop.pk, importing.title]:
            raise signing.BadSignature("of another workshop or list")
    except signing.BadSignature:
        return _ask_once_more(request, importing)
    numbers, rows = [], []
    for number, *cells in content["rows"]:
        numbers.append(number)
        rows.append(tuple(cells))
    table = Table(tuple(content["heading"]), tuple(rows), tuple(numbers))
    form = _columns_form(request, importing, table, request.POST)
    if not form.is_valid():
        return _ask_for_columns(request, importing, table, content["days"], form)
    told = form.told()
    try:
        upload = _from_table(table, importing, told, content["days"])
    except Refusal as refusal:
        form.add_error(None, refusal.message)
        return _ask_for_columns(request, importing, table, content["days"], form)
    request.workshop.file_columns.remember(importing.title, told.source, form.pairs())
    return _preview(request, importing, upload)


def _ask_once_more(request: Any, importing: Importing) -> HttpResponse:
    form = UploadForm({})
    form.full_clean()
    form.errors.clear()
    form.add_error("file", "That was too long ago, or got lost. Choose the file again.")
    return _ask_for_file(request, importing, form)


def _list(request: Any, importing: Importing) -> str:
    return reverse(importing.list_url, args=[request.workshop.slug])


def _from_table(table: Table, importing: Importing, told: Told, day_order: str) -> _Upload:
    places = dict(told.places)
    fixed = {importing.fields[importing.source]: str(told.source)} if told.source else {}
    rows = [
        FileRow(number, {name: row[place] for name, place in places.items()})
        for number, row in zip(table.numbers, table.rows, strict=True)
    ]
    wanted_rows = [
        FileRow(row.number, {**row.cells, **fixed}) for row in rows if any(row.cells.values())
    ]
    if not wanted_rows:
        raise UnreadableFile("There is nothing in the columns we know.")
    ordered = [name for name in importing.fields.values() if name in places or name in fixed]
    return _Upload(uuid.uuid4(), ordered, wanted_rows, day_order)


def _next_step(request: Any, importing: Importing) -> HttpResponse:
    """Check again with what was mended, or take in."""
    try:
        upload = _sent(request, importing)
    except signing.BadSignature:
        return _ask_once_more(request, importing)
    then = request.POST.get("then")
    if then not in ("import", "import_rest"):
        return _preview(request, importing, upload)
    try:
        with transaction.atomic():
            groups = _read(request, importing, upload)
            if then == "import" and any(group.errors for group in groups):
                return _preview(request, importing, upload, groups)
            values = [g.value for g in groups if not g.errors and g.value is not None]
            importing.save(request, values, upload.key)
    except AlreadyImported as already:
        messages.info(request, already.message)
    except Refusal as refusal:
        return _preview(request, importing, upload, problem=refusal.message)
    return redirect(_list(request, importing))


def _sent(request: Any, importing: Importing) -> _Upload:
    content = signing.loads(request.POST["upload"], salt=SALT, max_age=GOOD_FOR_SECONDS)
    if content["of"] != [request.workshop.pk, importing.title]:
        raise signing.BadSignature("of another workshop or list")
    names = content["fields"]
    rows = []
    for number, *cells in content["rows"]:
        row = dict(zip(names, cells, strict=True))
        for place, name in enumerate(names):
            typed = request.POST.get(f"cell-{number}-{place}")
            if typed is not None:
                row[name] = typed[:20_000]
        rows.append(FileRow(number, row))
    order = request.POST.get("day_order", content["days"])
    order = order if order in DAY_ORDERS else ""
    return _Upload(uuid.UUID(content["key"]), names, rows, order)


def _read(request: Any, importing: Importing, upload: _Upload) -> list[RowGroup]:
    return importing.read(request.workshop, upload.rows, DAY_ORDERS[upload.day_order])


@dataclass(frozen=True, slots=True)
class _Cell:
    label: str
    text: str
    name: str
    errors: list[str]
    is_long: bool


@dataclass(frozen=True, slots=True)
class _ShownRow:
    number: int
    note: str
    is_first: bool
    cells: list[_Cell]


def _preview(
    request: Any,
    importing: Importing,
    upload: _Upload,
    groups: list[RowGroup] | None = None,
    problem: str = "",
) -> HttpResponse:
    """Show what the file would do; cells with an error can be mended there."""
    if groups is None:
        groups = _read(request, importing, upload)
    labels = {wanted: name for name, wanted in importing.fields.items()}
    wrong = [group for group in groups if group.errors]
    right = [group for group in groups if not group.errors]
    used = [name for name in upload.fields if any(row.cells[name] for row in upload.rows)]
    must_show = {name for group in wrong for _, name in group.errors}
    upload = _with_fields(upload, must_show, importing)
    shown_fields = [name for name in upload.fields if name in used or name in must_show]
    wrong_rows = list(_shown(wrong, upload, shown_fields, labels, WRONG_ROWS_SHOWN))
    form = forms.Form(request.POST if "upload" in request.POST else None)
    form.fields["day_order"] = DayOrderField()
    form.initial["day_order"] = upload.day_order
    counts: dict[str, int] = {}
    for group in right:
        counts[group.note.partition(":")[0]] = counts.get(group.note.partition(":")[0], 0) + 1
    context = {
        "importing": importing,
        "list_address": _list(request, importing),
        "upload": upload.signed(request.workshop, importing.title),
        "day_form": form,
        "headings": [labels[name] for name in shown_fields],
        "wrong_rows": wrong_rows,
        "right_rows": list(_shown(right, upload, shown_fields, labels, ROWS_SHOWN)),
        "wrong_count": len(wrong),
        "right_count": sum(1 for group in right if group.value is not None),
        "row_count": len(upload.rows),
        "counts": [f"{number} {note}" for note, number in counts.items()],
        "has_errors": bool(wrong) or bool(problem),
        "more_errors": [problem] if problem else [],
        "error_links": [
            (f"cell-{row.number}-{cell.name}", f"Row {row.number}, {cell.label}: {words}")
            for row in wrong_rows
            for cell in row.cells
            for words in cell.errors
        ][:50],
    }
    status = 422 if wrong or problem else 200
    return render(request, "components/import_preview.html", context, status=status)


def _with_fields(upload: _Upload, names: Iterable[str], importing: Importing) -> _Upload:
    """Give the rows empty cells for what is missing, so that it can be typed in the preview."""
    wanted = {*upload.fields, *names}
    fields = [name for name in importing.fields.values() if name in wanted]
    rows = [
        FileRow(row.number, {name: row.cells.get(name, "") for name in fields})
        for row in upload.rows
    ]
    return _Upload(upload.key, fields, rows, upload.day_order)


def _shown(
    groups: Iterable[RowGroup],
    upload: _Upload,
    names: Sequence[str],
    labels: Mapping[str, str],
    at_most: int,
) -> Iterable[_ShownRow]:
    count = 0
    places = {name: place for place, name in enumerate(upload.fields)}
    for group in groups:
        for row in group.rows:
            if count >= at_most:
                return
            count += 1
            yield _ShownRow(
                row.number,
                group.note,
                row is group.rows[0],
                [
                    _Cell(
                        labels[name],
                        row.cells.get(name, ""),
                        str(places[name]),
                        group.errors.get((row.number, name), []),
                        len(row.cells.get(name, "")) > 60,
                    )
                    for name in names
                ],
            )
