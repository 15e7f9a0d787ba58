"""The pages of an import: the file, which column is what, the preview, and the taking in.

Between the pages the rows of a short file travel in the form itself, signed: any process can answer
the next page, and nothing is kept of a file that is never taken in. A file of many rows is checked
and taken in by a worker, and is kept with that work for some days. All or nothing, unless she says
that what has an error shall be left out. Each import has a key, so that a second click does no
harm.
"""

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.core import signing
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from maker.activity.models import Event
from maker.activity.services import record
from maker.calc.refusal import Refusal
from maker.documents.grid import Table, UnreadableFile
from maker.documents.spreadsheet import read_table
from maker.imports.forms import DayOrderField, UploadForm
from maker.imports.kinds import AlreadyImported, Importing, Upload
from maker.imports.preview import preview_of
from maker.imports.tasks import CHECKED, take_in
from maker.slow_work.models import Work
from maker.slow_work.services import ask_work, key_of
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
# what is checked within a second on a small machine
MOST_ROWS_AT_ONCE = 300
GONE = "That was too long ago. Choose the file again."


def import_page(request: Any, importing: Importing) -> HttpResponse:
    """Answer every step: the file, which column is what, the preview, and the taking in."""
    if request.method == "GET" and CHECKED in request.GET:
        return _show_checked(request, importing)
    if request.method == "POST" and ("upload" in request.POST or "work" in request.POST):
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
                raise UnreadableFile("There are no rows under the headings.")
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
    told = own_columns(table, importing.headings)
    if all(importing.fields[name] in told.places for name in importing.needed):
        return told
    return remembered_columns(table, _told_before(request, importing), importing.headings)


def _ask_for_file(request: Any, importing: Importing, form: UploadForm) -> HttpResponse:
    context = {
        "form": form,
        "importing": importing,
        "list_address": _list(request, importing),
        "told": _told_before(request, importing),
    }
    status = 422 if form.is_bound else 200
    return render(request, "components/import_file.html", context, status=status)


def _forget(request: Any, importing: Importing) -> HttpResponse:
    """Forget what was told of one kind of file; the next one asks again."""
    key = request.POST["forget"]
    gone = _told_before(request, importing).filter(pk=key[:18] if key.isdecimal() else 0)
    name = next((str(row) for row in gone), "")
    if gone.delete()[0]:
        messages.success(
            request, f"Forgot the columns of {name}. We'll ask again with the next file."
        )
    return redirect(request.path)


def _columns_form(
    request: Any, importing: Importing, table: Table, data: Any = None
) -> ColumnsForm:
    sources = importing.sources(request.workshop) if importing.sources else {}
    known = remembered_columns(table, _told_before(request, importing), importing.headings)
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


def _ask_once_more(request: Any, importing: Importing, why: str = GONE) -> HttpResponse:
    form = UploadForm({})
    form.full_clean()
    form.errors.clear()
    form.add_error("file", why)
    return _ask_for_file(request, importing, form)


def _list(request: Any, importing: Importing) -> str:
    return reverse(importing.list_url, args=[request.workshop.slug])


def _from_table(table: Table, importing: Importing, told: Told, day_order: str) -> Upload:
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
        raise UnreadableFile("The columns we know are empty.")
    ordered = [name for name in importing.fields.values() if name in places or name in fixed]
    return Upload(uuid.uuid4(), ordered, wanted_rows, day_order)


def _next_step(request: Any, importing: Importing) -> HttpResponse:
    """Check again with what was corrected, or take in."""
    checked = None
    try:
        if "work" in request.POST:
            checked = _checked(request, importing, request.POST["work"])
            upload = _upload_of(checked, importing)
        else:
            upload = _signed_upload(request, importing)
    except signing.BadSignature:
        return _ask_once_more(request, importing)
    upload = upload.as_typed(request.POST)
    then = request.POST.get("then")
    if then not in ("import", "import_rest"):
        return _preview(request, importing, upload, checked=checked)
    if _is_long(upload):
        return _in_background(request, importing, upload, then, checked)
    try:
        with transaction.atomic():
            groups = importing.groups_of(request.workshop, upload)
            if then == "import" and any(group.errors for group in groups):
                return _preview(request, importing, upload, groups)
            values = [g.value for g in groups if not g.errors and g.value is not None]
            store = importing.prepare(request.workshop, request.user, values, upload.key, iter)
            says = store()
    except AlreadyImported as already:
        messages.info(request, already.message)
    except Refusal as refusal:
        return _preview(request, importing, upload, problem=refusal.message)
    else:
        record(Event.Kind.IMPORTED, request=request, about=importing.title)
        for level, text in says:
            messages.add_message(request, messages.DEFAULT_LEVELS[level.upper()], text)
    return redirect(_list(request, importing))


def _signed_upload(request: Any, importing: Importing) -> Upload:
    content = signing.loads(request.POST["upload"], salt=SALT, max_age=GOOD_FOR_SECONDS)
    if content["of"] != [request.workshop.pk, importing.title]:
        raise signing.BadSignature("of another workshop or list")
    return Upload.of(content)


def _is_long(upload: Upload) -> bool:
    return len(upload.rows) > MOST_ROWS_AT_ONCE


def _checked(request: Any, importing: Importing, key: str) -> Work:
    """Return the work that checked a file. Errors: BadSignature."""
    number = int(key) if key.isascii() and key.isdecimal() and len(key) < 19 else 0
    work = (
        Work.objects.of(request.workshop)
        .filter(pk=number, kind=Work.Kind.IMPORT, state=Work.State.DONE, data__isnull=False)
        .first()
    )
    if work is None or work.given["importing"] != importing.place:
        raise signing.BadSignature("of another workshop or list, or cleared away")
    return work


def _shown_by(work: Work) -> dict[str, Any]:
    """Return the preview that work ended with."""
    shown: dict[str, Any] = work.data or {}
    return shown


def _upload_of(work: Work, importing: Importing) -> Upload:
    return Upload.of(work.given["upload"]).with_fields(_shown_by(work)["fields"], importing)


def _in_background(
    request: Any, importing: Importing, upload: Upload, then: str, checked: Work | None
) -> HttpResponse:
    """Let a worker check or take in a long file; the same click twice starts it once."""
    content = upload.content()
    count = f"{len(upload.rows):,} rows of {importing.title.lower()}"
    if checked and then != "check":
        count = f"{_shown_by(checked)['right_count']:,} {importing.one}s"
    try:
        work = ask_work(
            workshop=request.workshop,
            kind=Work.Kind.IMPORT,
            title=f"{'Check' if then == 'check' else 'Import'} {count}",
            doing=take_in,
            given={"importing": importing.place, "then": then, "upload": content},
            came_from=request.path,
            by=request.user,
            form_key=key_of(then, checked.pk if checked else 0, content, within=upload.key),
        )
    except Refusal as refusal:
        return _ask_once_more(request, importing, refusal.message)
    return redirect("maker:work", request.workshop.slug, work.pk)


def _preview(
    request: Any,
    importing: Importing,
    upload: Upload,
    groups: list[RowGroup] | None = None,
    problem: str = "",
    checked: Work | None = None,
) -> HttpResponse:
    """Show what the file would do; a long one is checked by a worker first."""
    if groups is None:
        if _is_long(upload):
            return _in_background(request, importing, upload, "check", checked)
        groups = importing.groups_of(request.workshop, upload)
    upload, shown = preview_of(importing, upload, groups)
    content = upload.content() | {"of": [request.workshop.pk, importing.title]}
    signed = {"upload": signing.dumps(content, salt=SALT, compress=True)}
    return _show(request, importing, upload, shown | signed, problem)


def _show_checked(request: Any, importing: Importing) -> HttpResponse:
    """Show what a worker found in a long file."""
    try:
        work = _checked(request, importing, request.GET[CHECKED])
    except signing.BadSignature:
        return _ask_once_more(request, importing)
    upload = Upload.of(work.given["upload"])
    return _show(request, importing, upload, _shown_by(work) | {"work": work.pk}, "")


def _show(
    request: Any, importing: Importing, upload: Upload, shown: dict[str, Any], problem: str
) -> HttpResponse:
    """Answer with the preview; cells with an error can be corrected there."""
    is_sent = "upload" in request.POST or "work" in request.POST
    form = forms.Form(request.POST if is_sent else None)
    form.fields["day_order"] = DayOrderField()
    form.initial["day_order"] = upload.day_order
    context = shown | {
        "importing": importing,
        "list_address": _list(request, importing),
        "day_form": form,
        "has_errors": bool(shown["wrong_count"]) or bool(problem),
        "more_errors": [problem] if problem else [],
    }
    status = 422 if context["has_errors"] else 200
    return render(request, "components/import_preview.html", context, status=status)
