"""Says how a number was read that can be read two ways, once what she typed was taken.

Fields note it while they read; after a post that led on, the next page says it.
"""

from collections.abc import Callable
from contextvars import ContextVar

from django.contrib import messages
from django.http import HttpRequest, HttpResponse

from maker.calc.units import read_two_ways

# in order and each once: a field reads its entry more than once
_notes: ContextVar[dict[str, None] | None] = ContextVar("readings", default=None)


def note_reading(text: str, locale: str | None) -> None:
    """Remember to say how an entry was read, where the locale had to decide."""
    notes = _notes.get()
    if notes is not None and locale is not None and (note := read_two_ways(text, locale)):
        notes[note] = None


class ReadingsMiddleware:
    """Turns what the fields noted during a request into messages."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        token = _notes.set({})
        try:
            response = self.get_response(request)
            if request.method == "POST" and 300 <= response.status_code < 400:
                for note in _notes.get() or ():
                    messages.info(request, note)
        finally:
            _notes.reset(token)
        return response
