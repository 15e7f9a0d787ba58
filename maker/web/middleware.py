"""One structured log line for each request with its id, and answers that no shared cache keeps."""

import logging
import time
import uuid
from collections.abc import Callable, Mapping, Sequence

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.cache import patch_cache_control

from maker.activity.visitor import kept_address
from maker.web.logs import current_request_id

logger = logging.getLogger("maker.requests")


class RequestLogMiddleware:
    """Logs method, path, status, milliseconds, who and where from, under the answer's id."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request_id = uuid.uuid4().hex[:12]
        before = current_request_id.set(request_id)
        try:
            started = time.monotonic()
            response = self.get_response(request)
            response["X-Request-Id"] = request_id
            # Only a person the page asked for: without a database a log line must not need one.
            user = getattr(request, "_cached_user", None)
            logger.info(
                "request",
                extra={
                    "fields": {
                        "method": request.method,
                        # no query string: it may hold what she searched for, or a link's key
                        "path": request.path,
                        "status": response.status_code,
                        "ms": round((time.monotonic() - started) * 1000, 1),
                        "user": user.pk if user is not None else None,
                        "address": kept_address(request),
                    }
                },
            )
        finally:
            current_request_id.reset(before)
        return response


class PrivateMiddleware:
    """Tells caches on the way to keep no page, paper or file: each is for one person.

    Static files are answered before it. What a browser must not keep either says `no-store` itself.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        patch_cache_control(response, private=True)
        return response


# what a column of the database can count to
MOST_NUMBER = 2**63 - 1


class NumberMiddleware:
    """Finds nothing at an address with a number that no row can have: a database fails over it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self,
        request: HttpRequest,
        view: Callable[..., object],
        unnamed: Sequence[object],
        named: Mapping[str, object],
    ) -> None:
        """Look at the numbers before anything is asked of the database. Errors: Http404."""
        if any(isinstance(part, int) and part > MOST_NUMBER for part in named.values()):
            raise Http404
