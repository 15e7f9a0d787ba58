"""What a review found, kept by the rows it was found in.

Home and the review look at every price, open quote and printed tag of a workshop each time. What
they find hangs on costs, rates and terms of the day and on these rows. What a price or a sent quote
was worked out from is part of its row and never written again, so it is not read for this.
"""

import datetime
from collections.abc import Hashable, Iterator
from typing import Any

from django.db.models import QuerySet

from catalogue.materials.inputs import unit_cost_content
from catalogue.recipes.models import DesignVersion
from maker.kept import as_stored
from maker.workshop.models import OverheadItem, Workshop
from pricing.channels.models import Channel, ChannelTier
from pricing.price_review.models import PriceDecision
from pricing.price_tags.models import TagPrint
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import Quote, QuoteLine
from pricing.times.models import TimedRun

# what a price is for and what it says
_PRICE = ("price", "choices", "colourway__name", "version_id")


def review_content(workshop: Workshop, on: datetime.date) -> Hashable | None:
    """Return all that a review of a day is made from (twelve queries).

    None where it cannot be told whether a recipe is the same: it bears no stamp.
    """
    versions = as_stored(
        DesignVersion.objects.of(workshop)
        .order_by("pk")
        .values_list("recipe_stamp", "pk", "frozen_at")
    )
    if any(stamp is None for stamp, *_ in versions):
        return None
    return (
        on,
        versions,
        as_stored(Workshop.objects.filter(pk=workshop.pk).values_list()),
        as_stored(OverheadItem.objects.of(workshop).values_list()),
        unit_cost_content(workshop),
        *(as_stored(rows) for rows in _terms(workshop)),
        *(as_stored(rows) for rows in _priced(workshop, on)),
    )


def _terms(workshop: Workshop) -> Iterator[QuerySet[Any, tuple[Any, ...]]]:
    """Yield what is asked where it is sold, and what was timed."""
    yield Channel.objects.of(workshop).order_by("pk").values_list()
    yield ChannelTier.objects.filter(channel__workshop=workshop).order_by("pk").values_list()
    yield (
        TimedRun.objects.of(workshop)
        .finished()
        .oldest_first()
        .values_list(
            *("pk", "design_id", "step_name", "basis", "worked_seconds", "finished_at"),
            *("count", "rejects", "is_left_out"),
        )
    )


def _priced(workshop: Workshop, on: datetime.date) -> Iterator[QuerySet[Any, tuple[Any, ...]]]:
    """Yield prices of the list, printed tags, decisions, open quotes and their lines."""
    listed = PriceListEntry.objects.of(workshop).current().in_use().in_order()
    yield listed.values_list("pk", "set_at", "channel_id", *_PRICE)
    yield (
        TagPrint.objects.of(workshop)
        .newest_first()
        .values_list(
            *("pk", "settled_at", "entry_id", "entry__replaced_at", "entry__channel_id"),
            *("entry__design__retired_on", "entry__channel__retired_on"),
            *(f"entry__{name}" for name in _PRICE),
        )
    )
    decisions = PriceDecision.objects.of(workshop).holding().newest_first()
    yield decisions.values_list("pk", "entry_id", "quote_id", "kind", "until", "cost_each")
    waiting = Quote.objects.of(workshop).waiting(on)
    yield waiting.order_by("valid_until", "pk").values_list(
        "pk", "created_at", "sent_on", "edit_number", "channel_id"
    )
    lines = QuoteLine.objects.filter(quote__in=waiting).order_by("pk")
    yield lines.values_list("pk", "quote_id", "position", "version_id", "is_removed")
