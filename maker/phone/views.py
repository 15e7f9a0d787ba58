"""The page “On your phone”: address, square code, and the steps to trust the certificate."""

from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from maker.phone.certificates import authority_file, fingerprint
from maker.phone.door import CERTIFICATE, CERTIFICATE_TYPE
from maker.web.code_square import code_square

THIS_MACHINE = ("127.0.0.1", "localhost", "::1")


@login_required
@require_safe
def on_your_phone(request: HttpRequest) -> HttpResponse:
    """Show how a phone gets here, as the program was started."""
    # behind a server of somebody's own the address is the one in the browser
    address = settings.OWN_ADDRESS or f"{request.scheme}://{request.get_host()}"
    is_reached = urlsplit(address).hostname not in THIS_MACHINE
    first_visit = settings.FIRST_VISIT_ADDRESS
    context: dict[str, Any] = {
        "address": address,
        "is_reached": is_reached,
        "has_https": address.startswith("https:"),
        "square": code_square(address) if is_reached else "",
        "first_visit": first_visit,
        "first_visit_square": code_square(first_visit) if first_visit else "",
        "fingerprint": fingerprint(_authority()) if first_visit else "",
        "name_address": settings.NAME_ADDRESS,
    }
    return render(request, "maker/phone/on_your_phone.html", context)


@login_required
@require_safe
def certificate(request: HttpRequest) -> HttpResponseBase:
    """Hand out the authority's certificate, which is not secret."""
    if not settings.FIRST_VISIT_ADDRESS or not _authority().exists():
        raise Http404("No certificate was made here.")
    return FileResponse(
        _authority().open("rb"),
        as_attachment=True,
        filename=CERTIFICATE[1:],
        content_type=CERTIFICATE_TYPE,
    )


def _authority() -> Path:
    return authority_file(Path(settings.DATA_DIR))
