"""Registers the models of this app with Django; import from the features, never from here."""

from pricing.channels.models import Channel, ChannelTier
from pricing.customers.models import Customer
from pricing.price_review.models import PriceDecision
from pricing.price_tags.models import LabelSheet, TagPrint
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import DocumentSeries, Quote, QuoteLine
from pricing.spending.models import Budget
from pricing.times.models import TimedRun

__all__ = [
    "Budget",
    "Channel",
    "ChannelTier",
    "Customer",
    "DocumentSeries",
    "LabelSheet",
    "PriceDecision",
    "PriceListEntry",
    "Quote",
    "QuoteLine",
    "TagPrint",
    "TimedRun",
]
