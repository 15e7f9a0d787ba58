"""Registers the models of this app with Django; import from the features, never from here."""

from pricing.channels.models import Channel, ChannelTier
from pricing.customers.models import Customer
from pricing.price_tags.models import LabelSheet
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import DocumentSeries, Quote, QuoteLine
from pricing.reports.models import Budget

__all__ = [
    "Budget",
    "Channel",
    "ChannelTier",
    "Customer",
    "DocumentSeries",
    "LabelSheet",
    "PriceListEntry",
    "Quote",
    "QuoteLine",
]
