"""What is asked for designs, for their cards: the first price of each, and what it brings."""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from django.db import models

from catalogue.designs.asked import AskedFor
from catalogue.designs.models import Design
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.price.ingredients import from_plain
from pricing.prices.models import PriceListEntry


def asked_for(workshop: Workshop, designs: Sequence[Design]) -> Mapping[int, AskedFor]:
    """Return what is asked for each design in its first channel, smallest quantity; one query.

    Lowest price and what an hour earns are those of the day the price was kept.
    """
    entries = (
        PriceListEntry.objects.of(workshop)
        .current()
        .in_use()
        .filter(design__in=[design.pk for design in designs])
        .select_related("channel")
        .order_by(
            "channel__position",
            "channel_id",
            "bought_at_once",
            models.F("colourway_id").asc(nulls_first=True),
            "pk",
        )
    )
    first: dict[int, PriceListEntry] = {}
    for entry in entries:
        first.setdefault(entry.design_id, entry)
    return {key: _in_words(entry, workshop) for key, entry in first.items()}


def _in_words(entry: PriceListEntry, workshop: Workshop) -> AskedFor:
    def money(value: Decimal) -> str:
        return format_money(value, workshop.currency, workshop.locale)

    per_hour = _per_hour(entry)
    return AskedFor(
        price=money(entry.price),
        where=entry.channel.name,
        lowest=money(entry.floor_each),
        per_hour=money(per_hour) if per_hour is not None else "",
        is_below=entry.price < entry.floor_each,
    )


def _per_hour(entry: PriceListEntry) -> Decimal | None:
    """Return what an hour earns at the price; None for prices from before that was kept."""
    if not entry.basis:
        return None
    try:
        return from_plain(entry.basis).left_at(entry.price).per_hour
    except Refusal:  # kept in a form this version cannot read
        return None
