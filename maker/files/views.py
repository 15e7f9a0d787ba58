"""Shows a stored picture or PDF to who may see its workshop."""

from django.http import Http404, HttpResponse
from django.views.decorators.http import require_safe

from maker.files.models import StoredPdf, StoredPicture
from maker.files.services import read
from maker.web.access import WorkshopRequest, may_see, row_or_404


@require_safe
@may_see
def picture(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Answer with the bytes of a picture: a fixed type, nothing that runs."""
    row = row_or_404(StoredPicture.objects.of(request.workshop), pk)
    try:
        data = read(row.digest)
    except FileNotFoundError as gone:
        raise Http404("The file of this picture is missing.") from gone
    return _answer(data, "image/jpeg", f'inline; filename="{row.digest[:12]}.jpg"')


@require_safe
@may_see
def pdf(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Answer with a PDF to keep or open: never shown inside a page of ours."""
    row = row_or_404(StoredPdf.objects.of(request.workshop), pk)
    try:
        data = read(row.digest, "pdf")
    except FileNotFoundError as gone:
        raise Http404("The file of this PDF is missing.") from gone
    return _answer(data, "application/pdf", f'attachment; filename="{row.digest[:12]}.pdf"')


def _answer(data: bytes, content_type: str, disposition: str) -> HttpResponse:
    response = HttpResponse(data, content_type=content_type)
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Disposition"] = disposition
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    # what has this address never changes; it is nobody else's
    response["Cache-Control"] = "private, max-age=604800, immutable"
    return response
