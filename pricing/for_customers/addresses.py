"""Addresses of the page for the customer that carry their question."""

from collections.abc import Mapping
from urllib.parse import urlencode

from django.urls import reverse

from maker.workshop.models import Workshop
from pricing.costs.forms import OPTION_PREFIX


def defence_address(
    workshop: Workshop,
    *,
    design_pk: int,
    version: int,
    quantity: int,
    price: str,
    channel_pk: int | None = None,
    colourway_pk: int | None = None,
    choices: Mapping[str, str] | None = None,
) -> str:
    """Return the address at which a quoted price is explained."""
    question = {
        "version": version,
        "quantity": quantity,
        "channel": channel_pk,
        "colourway": colourway_pk,
        "asked_price": price,
        **{OPTION_PREFIX + key: value for key, value in (choices or {}).items()},
    }
    query = urlencode({key: value for key, value in question.items() if value is not None})
    return f"{reverse('pricing:for_customer', args=[workshop.slug, design_pk])}?{query}"
