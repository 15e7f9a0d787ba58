"""Refusals of a service, shown where they belong: in a form, or as a message."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.contrib import messages
from django.http import HttpRequest

from maker.calc.refusal import Refusal


def show_refusal(form: Any, refusal: Refusal) -> None:
    """Put the refusal beside the field it names, or above the form."""
    form.add_error(refusal.where if refusal.where in form.fields else None, refusal.message)


@contextmanager
def refusal_told(
    request: HttpRequest, level: int = messages.ERROR, only: type[Refusal] = Refusal
) -> Iterator[None]:
    """Tell a refusal as a message; what follows in the `with` is then left out.

    For a button without a form: do it and say so inside, lead on after it. With `only`, every
    other refusal goes on to who shows the form.
    """
    try:
        yield
    except only as refusal:
        messages.add_message(request, level, refusal.message)
