"""One structured log line for each request."""

import logging
import time
import uuid
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

logger = logging.getLogger("maker.requests")


class RequestLogMiddleware:
    """Logs method, path, status, milliseconds and who, under an id that the answer carries."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request_id = uuid.uuid4().hex[:12]
        started = time.monotonic()
        response = self.get_response(request)
        response["X-Request-Id"] = request_id
        user = getattr(request, "user", None)
        logger.info(
            "request",
            extra={
                "fields": {
                    "request_id": request_id,
                    "method": request.method,
                    # no query string: it may hold what she searched for
                    "path": request.path,
                    "status": response.status_code,
                    "ms": round((time.monotonic() - started) * 1000, 1),
                    "user": user.pk if user is not None and user.is_authenticated else None,
                }
            },
        )
        return response
