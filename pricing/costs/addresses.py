"""Addresses of cost pages that carry their question."""

from collections.abc import Mapping
from urllib.parse import urlencode

from django.urls import reverse

from maker.workshop.models import Workshop
from pricing.costs.forms import OPTION_PREFIX


def cost_address(
    workshop: Workshop,
    *,
    design_pk: int,
    version: int | None = None,
    quantity: int | None = None,
    bought_at_once: int | None = None,
    channel_pk: int | None = None,
    colourway_pk: int | None = None,
    choices: Mapping[str, str] | None = None,
) -> str:
    """Return the address of a design's cost page with what is asked for in it."""
    question = {
        "version": version,
        "quantity": quantity,
        "bought_at_once": bought_at_once,
        "channel": channel_pk,
        "colourway": colourway_pk,
        **{OPTION_PREFIX + key: value for key, value in (choices or {}).items()},
    }
    query = urlencode({key: value for key, value in question.items() if value is not None})
    address = reverse("pricing:cost", args=[workshop.slug, design_pk])
    return f"{address}?{query}" if query else address
