"""Putting rows out of use and bringing them back, for every kind of row that has `retired_on`.

Nothing that money or stock rests on is deleted: it leaves lists and choices and keeps its
history, and the message offers the way back.
"""

from typing import Any, Protocol

from django.contrib import messages
from django.urls import reverse
from django.utils import timezone

from maker.web.access import WorkshopRequest
from maker.web.messages import undo_message


class Retirable(Protocol):
    """A row with a name that can be out of use since a day."""

    pk: Any
    retired_on: Any

    def save(self, *, update_fields: list[str]) -> None:
        """Store the named fields."""


def put_away(request: WorkshopRequest, row: Retirable, *, way_back: str) -> None:
    """Put a row out of use from today and offer to undo it; `way_back` is that view's name."""
    row.retired_on = timezone.localdate()
    row.save(update_fields=["retired_on"])
    address = reverse(way_back, args=[request.workshop.slug, row.pk])
    undo_message(request, f"Put away “{row}”.", address)


def bring_back(request: WorkshopRequest, row: Retirable) -> None:
    """Bring a row back into use."""
    row.retired_on = None
    row.save(update_fields=["retired_on"])
    messages.success(request, f"“{row}” is back in use.")
