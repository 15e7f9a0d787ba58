"""The address that watches the installation: for whoever keeps the machine, and for programs."""

import logging
import time
from threading import Lock

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from maker.health.services import Finding, look

logger = logging.getLogger("maker.health")

# Anybody may ask, and looking reads every table: so often and no oftener.
REMEMBERED_SECONDS = 15.0


class _Remembered:
    """What was found last, for a moment; who asks meanwhile waits for the one who looks."""

    def __init__(self) -> None:
        self.lock = Lock()
        self.forget()

    def forget(self) -> None:
        self.findings: tuple[Finding, ...] = ()
        self.until = 0.0

    def look(self) -> tuple[Finding, ...]:
        with self.lock:
            if time.monotonic() >= self.until:
                self.findings = look()
                self.until = time.monotonic() + REMEMBERED_SECONDS
                for finding in self.findings:
                    if not finding.is_well:
                        logger.error("%s: %s", finding.name, finding.sentence)
            return self.findings


remembered = _Remembered()


@never_cache
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """Answer 200 when all is well, else 503 with a sentence for each thing that is not.

    As JSON when it is asked for (`?format=json` or an Accept header).
    """
    findings = remembered.look()
    is_well = all(finding.is_well for finding in findings)
    status = 200 if is_well else 503
    if request.GET.get("format") == "json" or request.headers.get("Accept") == "application/json":
        return JsonResponse(
            {
                "is_well": is_well,
                "findings": [
                    {"name": each.name, "is_well": each.is_well, "sentence": each.sentence}
                    for each in findings
                ],
            },
            status=status,
        )
    wrong = [finding.sentence for finding in findings if not finding.is_well]
    return HttpResponse("\n".join(wrong or ["ok"]) + "\n", "text/plain", status=status)
