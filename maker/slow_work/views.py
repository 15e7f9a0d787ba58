"""Pages of slow work: what is under way, one piece of work, its file; stop and try again."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import redirect
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_POST

from maker.slow_work.models import Work
from maker.slow_work.services import stop_work, try_again
from maker.slow_work.showing import entries_of, may_handle, parts_of, shown
from maker.web.access import WorkshopRequest, may_compute, may_see, row_or_404
from maker.web.parts import asks_for_part, part_or_page
from maker.web.refusals import refusal_told


@require_GET
@may_see
def work_list(request: WorkshopRequest) -> HttpResponse:
    """List what is under way in the workshop, and what ended in the last days."""
    under_way, ended = entries_of(request.workshop)
    context = {"under_way": under_way, "ended": ended}
    return part_or_page(request, "maker/slow_work/_list.html", "maker/slow_work/list.html", context)


@require_GET
@may_see
def work(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Show how far a piece of work is, or how it ended; a page that asks again gets a part."""
    row = row_or_404(Work.objects.of(request.workshop).in_short(), pk)
    if asks_for_part(request) and not row.is_under_way:
        response = HttpResponse(status=204)
        response["HX-Refresh"] = "true"
        return response
    if row.state == Work.State.DONE and row.leads_at_once and row.leads_to:
        return redirect(row.leads_to)
    context = shown(row, request.membership, request.user)
    return part_or_page(
        request, "maker/slow_work/_progress.html", "maker/slow_work/work.html", context
    )


def _row_to_handle(request: WorkshopRequest, pk: int) -> Work:
    row = row_or_404(Work.objects.of(request.workshop).in_short(), pk)
    if not may_handle(row, request.membership, request.user):
        raise PermissionDenied("Your role in this workshop does not allow this.")
    return row


@require_POST
@may_compute
def work_stop(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Stop a piece of work."""
    row = _row_to_handle(request, pk)
    with refusal_told(request, messages.INFO):
        stop_work(work=row)
    return redirect("maker:work", request.workshop.slug, pk)


@require_POST
@may_compute
def work_again(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Try work again that was stopped, refused or failed."""
    row = _row_to_handle(request, pk)
    with refusal_told(request, messages.INFO):
        try_again(work=row)
    return redirect("maker:work", request.workshop.slug, pk)


@require_GET
@may_see
def work_file(request: WorkshopRequest, pk: int) -> HttpResponseBase:
    """Answer with the file a piece of work made."""
    row = row_or_404(Work.objects.of(request.workshop).defer("given", "data"), pk)
    if not row.has_file:
        raise Http404("This work has no file.")
    response: HttpResponseBase
    if row.file is None:
        response = StreamingHttpResponse(parts_of(row), content_type=row.file_type)
        response["Content-Length"] = str(row.file_bytes)
    else:
        response = HttpResponse(bytes(row.file), content_type=row.file_type)
    # a PDF is shown by the browser, a spreadsheet kept, as those that are made at once
    is_kept = row.kind == Work.Kind.EXPORT
    response["Content-Disposition"] = content_disposition_header(is_kept, row.file_name) or "inline"
    response["Cache-Control"] = "private, no-store"
    return response
