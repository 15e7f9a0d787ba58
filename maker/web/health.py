"""Whether this installation can serve: it can when its database answers."""

import logging

from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

logger = logging.getLogger("maker.health")


@never_cache
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """Answer 200 when the database does, else 503; says nothing else to a stranger."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        logger.exception("the database does not answer")
        return HttpResponse("The database does not answer.\n", "text/plain", status=503)
    return HttpResponse("ok\n", "text/plain")
