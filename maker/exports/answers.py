"""Answers a list asked for as a file: the same rows as the page, all of them, as CSV or XLSX."""

from collections.abc import Iterable, Sequence
from itertools import islice
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.http import content_disposition_header

from maker.activity.models import Event
from maker.activity.services import record
from maker.calc.refusal import Refusal
from maker.documents.spreadsheet import Column
from maker.exports.files import FORMATS, written
from maker.exports.tasks import Writing, make_export
from maker.slow_work.doing import File, name_of
from maker.slow_work.models import Work
from maker.slow_work.services import ask_work, key_of

# from 3,000 rows on a worker writes the file
MOST_ROWS_AT_ONCE = 2_999


def wanted_format(request: HttpRequest) -> str:
    """Return which file the address asks for, `csv` or `xlsx`; empty for the page itself."""
    asked = request.GET.get("format", "")
    return asked if asked in FORMATS else ""


def export_response(
    request: Any, *, title: str, columns: Sequence[Column], rows: Iterable[Any]
) -> HttpResponse:
    """Answer with the file the address asks for, called by workshop, title and today's day.

    A long one is left to a worker: the answer leads to the page that says how far it is. What
    cannot be had leads back to the list, which says why.
    """
    form = wanted_format(request)
    on = timezone.localdate().isoformat()
    name = f"{request.workshop.slug}-{title.lower().replace(' ', '-')}-{on}"
    writing: Writing | None = getattr(request, "writing", None)
    if writing is not None:
        writing.write(form, name=name, title=title, columns=columns, rows=rows)
        return HttpResponse()
    short = list(islice(rows, MOST_ROWS_AT_ONCE + 1))
    try:
        if len(short) > MOST_ROWS_AT_ONCE:
            answer = _left_to_a_worker(request, f"{title} as {form.upper()}")
        else:
            file = written(form, name=name, title=title, columns=columns, rows=short)
            answer = file_response(file)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect(_page_of(request))
    record(Event.Kind.EXPORTED, request=request, about=title)
    return answer


def file_response(file: File) -> HttpResponse:
    """Answer with a file to be kept."""
    answer = HttpResponse(file.content, content_type=file.content_type)
    answer["Content-Disposition"] = content_disposition_header(True, file.name)
    answer["Cache-Control"] = "private, no-store"
    return answer


def _left_to_a_worker(request: Any, title: str) -> HttpResponse:
    """Have the file made; asked again while that lasts, it is made once. Errors: TooMuchWaits."""
    asked = {"path": request.path, "query": request.GET.urlencode()}
    before = Work.objects.of(request.workshop).filter(runs=name_of(make_export), given=asked)
    # a link has no form key; what ended last tells this asking from those before
    last = before.ended().order_by("-pk").values_list("pk", flat=True).first()
    work = ask_work(
        workshop=request.workshop,
        kind=Work.Kind.EXPORT,
        title=title,
        doing=make_export,
        given=dict(asked),
        came_from=_page_of(request),
        by=request.user,
        form_key=key_of(asked, request.user.pk, last),
    )
    return redirect("maker:work", request.workshop.slug, work.pk)


def _page_of(request: Any) -> str:
    query = request.GET.copy()
    query.pop("format", None)
    return f"{request.path}?{query.urlencode()}" if query else request.path
