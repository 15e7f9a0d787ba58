"""What a finished item would fetch: its list price without tax, less what selling it costs.

Source: IAS 2 Inventories, paragraph 6 (net realisable value) and paragraphs 28 to 33: item by item,
and never more than cost. What local tax law wants may differ.
"""

from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import to_minor, with_working_precision
from pricing.calc.costing.rates import ChannelRates
from pricing.calc.price.fees import fee_of

ZERO = Decimal(0)


@with_working_precision
def fetches_each(
    price: Decimal,
    channel: ChannelRates,
    *,
    tax_rate: Decimal = ZERO,
    includes_tax: bool = True,
    digits: int = 2,
) -> Decimal:
    """Return what one sold alone brings: price without tax, less payment, listing and commission.

    Never below nothing: what brings less is not sold.
    """
    factor = 1 + tax_rate
    net = price / factor if includes_tax else price
    tier = min(channel.tiers, key=lambda each: each.bought_at_once, default=None)
    fees = channel.listing_fee + to_minor(net * channel.commission_share, digits)
    if tier is not None:
        fees += fee_of(to_minor(net * factor, digits), tier.fee_share, tier.fixed_fee, digits)
    return max(to_minor(net, digits) - fees, ZERO)


@dataclass(frozen=True, slots=True)
class MadeValue:
    """Made items at a day: what their materials cost, what they would fetch (None: no price)."""

    materials: Decimal
    would_fetch: Decimal | None

    @property
    def value(self) -> Decimal:
        """The lower of both."""
        if self.would_fetch is None:
            return self.materials
        return min(self.materials, self.would_fetch)

    @property
    def written_down(self) -> Decimal:
        """What the value is below cost."""
        return self.materials - self.value
