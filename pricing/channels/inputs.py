"""Rows of channels -> the values the sums speak of."""

from decimal import Decimal

from pricing.calc.costing.rates import ChannelRates
from pricing.calc.costing.rates import TierRates as TierValues
from pricing.channels.models import Channel

# What holds until a workshop has channels of its own; the page says so.
NO_CHANNEL = ChannelRates(
    name="Direct, no fees",
    tiers=(TierValues(margin=Decimal("0.3"), price_step=Decimal("0.05")),),
)


def channel_rates(channel: Channel | None) -> ChannelRates:
    """Return a channel's fees and margins; no query when loaded `with_tiers()`.

    None stands for a workshop without channels: 30% margin, no fees.
    """
    if channel is None:
        return NO_CHANNEL
    return ChannelRates(
        name=channel.name,
        tiers=tuple(
            TierValues(
                bought_at_once=tier.bought_at_once,
                margin=tier.margin,
                fee_share=tier.fee_share,
                fixed_fee=tier.fixed_fee,
                payments_per_sale=tier.payments_per_sale,
                price_step=tier.price_step,
                deposit_share=tier.deposit_share,
                deposit_step=tier.deposit_step,
            )
            for tier in channel.tiers.all()
        ),
        rush_share=channel.rush_share,
        listing_fee=channel.listing_fee,
        commission_share=channel.commission_share,
        resale_share=channel.resale_share,
        id=channel.pk,
        bought_at_once=channel.bought_at_once,
    )
