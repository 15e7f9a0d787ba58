"""Stops whoever sends more in a minute than a person can: a script, or a key held down.

Each process counts for itself and remembers one minute: whoever reaches several gets that often as
much, and what is counted costs no query. Who is not signed in meets the limits of the page asked.
"""

import threading
import time
from collections import Counter
from collections.abc import Callable

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.http import HttpRequest, HttpResponse

from maker.troubles.kinds import TOO_FAST
from maker.troubles.views import trouble_page

MINUTE_S = 60
READS = ("GET", "HEAD", "OPTIONS")


class Pace:
    """How much each person sent within the minute that runs; from any thread."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self.now = now
        self.minute = 0
        self.sent: Counter[str] = Counter()
        self.lock = threading.Lock()

    def allows(self, person: str, most: int) -> bool:
        """Count one more of this person, and say whether it is within the most of a minute."""
        minute = int(self.now() // MINUTE_S)
        with self.lock:
            if minute != self.minute:
                self.minute, self.sent = minute, Counter()
            self.sent[person] += 1
            return self.sent[person] <= most


class PaceMiddleware:
    """Refuses a post of somebody signed in beyond `CHANGES_A_MINUTE`, before anything is done."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.pace = Pace()

    def __call__(self, request: HttpRequest) -> HttpResponse:
        most = settings.CHANGES_A_MINUTE
        if most and request.method not in READS:
            person = request.session.get(SESSION_KEY)
            if person is not None and not self.pace.allows(person, most):
                return trouble_page(TOO_FAST, was_sent=True)
        return self.get_response(request)
