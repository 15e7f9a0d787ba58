"""Lists as files: the same rows as the page, all of them, as CSV or XLSX."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.http import content_disposition_header

from maker.activity.models import Event
from maker.activity.services import record
from maker.documents.spreadsheet import (
    CSV_TYPE,
    XLSX_TYPE,
    Column,
    TooManyRows,
    write_csv,
    write_xlsx,
)

FORMATS = ("csv", "xlsx")


def wanted_format(request: HttpRequest) -> str:
    """Return which file the address asks for, `csv` or `xlsx`; empty for the page itself."""
    asked = request.GET.get("format", "")
    return asked if asked in FORMATS else ""


def csv_response(*, name: str, columns: Sequence[Column], rows: Iterable[Any]) -> HttpResponse:
    """Answer with a CSV file. Errors: TooManyRows."""
    return _file(write_csv(columns, rows), CSV_TYPE, f"{name}.csv")


def xlsx_response(
    *, name: str, columns: Sequence[Column], rows: Iterable[Any], title: str
) -> HttpResponse:
    """Answer with an XLSX file whose sheet is called `title`. Errors: TooManyRows."""
    return _file(write_xlsx(columns, rows, title=title), XLSX_TYPE, f"{name}.xlsx")


def export_response(
    request: Any, *, title: str, columns: Sequence[Column], rows: Iterable[Any]
) -> HttpResponse:
    """Answer with the file the address asks for, called by workshop, title and today's day.

    More rows than a file takes lead back to the page, which then says so.
    """
    on = timezone.localdate().isoformat()
    name = f"{request.workshop.slug}-{title.lower().replace(' ', '-')}-{on}"
    try:
        if wanted_format(request) == "csv":
            answer = csv_response(name=name, columns=columns, rows=rows)
        else:
            answer = xlsx_response(name=name, columns=columns, rows=rows, title=title)
    except TooManyRows as refusal:
        messages.error(request, refusal.message)
        asked = request.GET.copy()
        del asked["format"]
        return redirect(f"{request.path}?{asked.urlencode()}")
    record(Event.Kind.EXPORTED, request=request, about=title)
    return answer


def _file(data: bytes, content_type: str, name: str) -> HttpResponse:
    answer = HttpResponse(data, content_type=content_type)
    answer["Content-Disposition"] = content_disposition_header(True, name)
    answer["Cache-Control"] = "private, no-store"
    return answer
