"""Registers the models of this app with Django; import from the features, never from here."""

from pricing.channels.models import Channel, ChannelTier
from pricing.price_tags.models import LabelSheet
from pricing.prices.models import PriceListEntry

__all__ = ["Channel", "ChannelTier", "LabelSheet", "PriceListEntry"]
