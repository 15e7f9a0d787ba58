"""The page for whatever broke: a sentence of its own where we know what, one for a bug else."""

import sys

from django.http import HttpRequest, HttpResponse, HttpResponseServerError
from django.template.loader import render_to_string
from django.views.defaults import server_error

from maker.troubles.kinds import Trouble, trouble_behind


def broken(request: HttpRequest) -> HttpResponse:
    """Answer a request that ended in an error nobody expected (Django's `handler500`)."""
    trouble = trouble_behind(sys.exc_info()[1])
    if trouble is None:
        return HttpResponseServerError(server_error(request).content)
    return trouble_page(trouble, was_sent=request.method == "POST")


def trouble_page(trouble: Trouble, *, was_sent: bool) -> HttpResponse:
    """Return the page of one trouble; it needs no database and no session."""
    asks_again = bool(trouble.retry_s) and not was_sent
    words = {"trouble": trouble, "asks_again": asks_again, "was_sent": was_sent}
    answer = HttpResponse(render_to_string("trouble.html", words), status=trouble.status)
    answer["Cache-Control"] = "no-store"
    if trouble.retry_s:
        answer["Retry-After"] = str(trouble.retry_s)
    return answer
