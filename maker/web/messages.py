"""Messages that can take back what was just done."""

from django.contrib import messages
from django.http import HttpRequest


def undo_message(request: HttpRequest, text: str, url: str) -> None:
    """Say what was done and offer one button that posts to `url` to undo it.

    The address travels in the message's `extra_tags`; templates/components/messages.html
    shows a button for every message whose tags are a path.
    """
    if not url.startswith("/") or url.startswith("//"):
        raise ValueError(f"An undo address is a path of this site, not {url!r}.")
    messages.success(request, text, extra_tags=url)
