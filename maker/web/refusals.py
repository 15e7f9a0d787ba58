"""Refusals of a service, shown where they belong in a form."""

from typing import Any

from maker.calc.refusal import Refusal


def show_refusal(form: Any, refusal: Refusal) -> None:
    """Put the refusal beside the field it names, or above the form."""
    form.add_error(refusal.where if refusal.where in form.fields else None, refusal.message)
